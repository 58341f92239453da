//! Arranges the parts of a job: copies into the build space, and what does not fit into further
//! jobs; or only some of its placements, around all the others; or sinks what there is.

mod plan;
mod poses;
mod schedule;

use crate::checks;
use crate::clearance::{poses, space};
use crate::input_files::raised;
use crate::load::Loaded;
use base::{Cancelled, Finding, PlacementId, Progress};
use job::{Job, NestRules};
use nesting::{
    Arrangement, Figures, NestError, Options, Placed, Space, boxes_baseline, compaction, figures,
    nest_and_close, time_saved_s,
};
use plan::Plan;
use schedule::Schedule;
use std::collections::BTreeSet;

/// What to arrange, and for how long.
#[derive(Clone, Debug, PartialEq)]
pub struct NestRequest {
    /// The placements that may move; all others stay where they are and are kept clear of, and no
    /// copy is added. `None`: all copies that the job asks for, but for those its rules lock. What
    /// the rules lock never moves.
    pub only: Option<BTreeSet<PlacementId>>,
    /// Do not search: let what may move sink from where it is, by exact distances, without rotating.
    pub compact: bool,
    /// Seconds for the whole, the last moves by exact distances included; `None`: until it converges. A
    /// first arrangement, of bounding boxes, is there in any case.
    pub seconds: Option<f64>,
    /// Equal seeds give equal arrangements if the search converges.
    pub seed: u64,
    /// Also even out the fused area along Z, once the height is settled.
    pub even_area: bool,
    /// Most builds to fill; with `only` or `compact` it is always one.
    pub max_builds: usize,
    /// Rounds of search that bring nothing after which it counts as converged.
    pub patience: u32,
}

impl Default for NestRequest {
    /// All copies, until converged.
    fn default() -> Self {
        let Options { seed, even_area, max_builds, patience, .. } = Options::default();
        Self { only: None, compact: false, seconds: None, seed, even_area, max_builds, patience }
    }
}

/// What came of nesting a job.
#[derive(Clone, Debug)]
pub struct Nested {
    /// The builds in the order in which they should run; paths as in the job that was nested.
    pub jobs: Vec<Job>,
    /// Figures of each build.
    pub figures: Vec<Figures>,
    /// What it is compared with.
    pub before: Before,
    /// How the search ended.
    pub ended: Ended,
    /// What did not fit.
    pub findings: Vec<Finding>,
}

impl Nested {
    /// Seconds of recoating saved against [`Self::before`], negative if there are more layers;
    /// `None` without anything to compare with.
    pub fn time_saved_s(&self, recoat_s: f64) -> Option<f64> {
        let layers = |layers| Figures { layers, ..Figures::default() };
        let now = self.figures.iter().map(|f| f.layers).fold(0, u32::saturating_add);
        match self.before {
            Before::Placements(n) | Before::Boxes(n) => {
                Some(time_saved_s(&layers(n), &layers(now), recoat_s))
            }
            Before::Nothing => None,
        }
    }
}

/// What nesting is compared with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Before {
    /// The placements that the job had, so many layers.
    Placements(u32),
    /// Bottom-left-fill of bounding boxes with the same allowed orientations and clearances, so many layers.
    Boxes(u32),
    /// Some part is too wide.
    Nothing,
}

/// How a search ended. Whichever way, what it returns is valid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// By itself: nothing got better any more.
    Converged,
    /// The time was over.
    TimeUp,
    /// The progress handle was cancelled, or the report said so.
    Stopped,
}

/// A better arrangement, while the search goes on.
#[derive(Clone, Copy)]
pub struct SoFar<'a> {
    /// As the search sees it.
    pub arrangement: &'a Arrangement,
    loaded: &'a Loaded,
    plan: &'a Plan,
}

impl SoFar<'_> {
    /// The same as jobs, one a build; `None` while some copy has no place that had one.
    pub fn jobs(&self) -> Option<Vec<Job>> {
        let complete = !self.plan.keeps_all() || self.arrangement.unplaced.is_empty();
        complete.then(|| jobs_of(self.loaded, self.plan, &self.arrangement.builds))
    }
}

/// Arranges placements of a job, as far apart as the job says. `report` is told of every better
/// arrangement; false stops the search, as cancelling `progress` does: what there is then is
/// returned. Reads the job and changes nothing.
///
/// Time limit and cancelling hold within a second or so, however many parts there are and however large.
///
/// # Errors
/// [`NestError`] for parts or a space that cannot be, for more copies than the limit, or if stopped before
/// the first arrangement.
pub fn nest_job(
    loaded: &Loaded,
    request: &NestRequest,
    progress: &Progress,
    report: &mut dyn FnMut(&SoFar) -> bool,
) -> Result<Nested, NestError> {
    let space = space(loaded);
    let schedule = Schedule::start(request.seconds, progress);
    let plan = Plan::new(loaded, request);
    let thickness = loaded.recipes[0].recipe.layer_thickness_mm;
    // Nothing to compare with where there is no time to find it.
    let before = before(loaded, &plan, &space, thickness, &schedule.comparing);
    let mut arrangement = if request.compact {
        compacted(&plan, &space, &schedule)
    } else {
        searched(&plan, &space, request, &schedule, &mut |arrangement| {
            report(&SoFar { arrangement, loaded, plan: &plan })
        })?
    };
    let ended = match (arrangement.converged, schedule.search.check(), progress.check()) {
        (true, ..) => Ended::Converged,
        (false, Err(Cancelled), Ok(())) => Ended::TimeUp,
        (false, ..) => Ended::Stopped,
    };
    let quiet = Progress::default(); // wanted of a search that was stopped, too
    let mut findings = checks::unplaced(&loaded.job, &arrangement);
    if plan.keeps_all() && !arrangement.unplaced.is_empty() {
        // What does not fit stays where it was, and so does everything else.
        arrangement.builds = vec![plan.present.clone()];
        findings = vec![checks::selection_does_not_fit()];
    }
    let each = |build: &Vec<Placed>| figures(&plan.items, build, &space, thickness, &quiet);
    let figures = arrangement.builds.iter().map(each).collect::<Result<Vec<_>, Cancelled>>()?;
    Ok(Nested {
        jobs: jobs_of(loaded, &plan, &arrangement.builds),
        figures,
        before: before.unwrap_or(Before::Nothing),
        ended,
        findings,
    })
}

fn searched(
    plan: &Plan,
    space: &Space,
    request: &NestRequest,
    schedule: &Schedule,
    report: &mut dyn FnMut(&Arrangement) -> bool,
) -> Result<Arrangement, NestError> {
    let copies: u64 = plan.items.iter().map(|item| u64::from(item.quantity)).sum();
    let limit = raised(MOST_COPIES);
    if copies > limit {
        return Err(NestError::TooManyCopies { copies, limit });
    }
    let options = Options {
        seed: request.seed,
        even_area: request.even_area,
        max_builds: if plan.keeps_all() { 1 } else { request.max_builds.max(1) },
        patience: request.patience,
        ..Options::default()
    };
    let Schedule { search, closing, .. } = schedule;
    nest_and_close(&plan.items, &plan.locked, space, &options, search, closing, report)
}

/// Most copies that are arranged at once: some hundred chambers full of small parts.
const MOST_COPIES: u64 = 20_000;

fn compacted(plan: &Plan, space: &Space, schedule: &Schedule) -> Arrangement {
    /// More hardly ever bring anything.
    const ROUNDS: u32 = 60;
    let mut build = plan.present.clone();
    let Schedule { search, closing, .. } = schedule;
    // Without the time to see that it may stay, everything stays where it was.
    compaction(&plan.items, &mut build, space, ROUNDS, search, closing).unwrap_or(false);
    let converged = search.check().is_ok();
    Arrangement { builds: vec![build], converged, ..Arrangement::default() }
}

fn jobs_of(loaded: &Loaded, plan: &Plan, builds: &[Vec<Placed>]) -> Vec<Job> {
    let of = builds.len();
    builds.iter().enumerate().map(|(n, build)| job_of(loaded, plan, build, (n, of))).collect()
}

/// The job of one build: the parts that have copies in it, locked ones first; all parts if the copies
/// are those that the job has placed.
fn job_of(loaded: &Loaded, plan: &Plan, build: &[Placed], (number, of): (usize, usize)) -> Job {
    let mut job = loaded.job.clone();
    if of > 1 {
        job.name = format!("{}, build {}", job.name, number + 1);
    }
    let placements = plan.placements(loaded, build);
    for (part, (entry, placements)) in job.parts.iter_mut().zip(placements).enumerate() {
        entry.placements = placements;
        if plan.keeps_all() {
            continue; // the same copies in the same order: rules and numbers stand
        }
        entry.accepted.retain(|accepted| accepted.placement.is_none()); // none stands where it was
        entry.exposure_changes = plan.exposure_changes(&loaded.job.parts[part], part, build);
        let rules = entry.nest.take().unwrap_or_default();
        let count = build.iter().filter(|p| p.item == part && p.locked).count();
        let locked = (0..u32::try_from(count).unwrap_or(0)).collect();
        entry.nest = Some(NestRules { quantity: None, locked, ..rules });
    }
    // Copies that are yet to be placed are no less yet to be placed.
    job.parts.retain(|part| plan.keeps_all() || !part.placements.is_empty());
    job
}

fn before(
    loaded: &Loaded,
    plan: &Plan,
    space: &Space,
    thickness: f64,
    progress: &Progress,
) -> Result<Before, Cancelled> {
    let layers = |height: f64| base::layers::layer_count(height, thickness);
    let complete = loaded
        .job
        .parts
        .iter()
        .zip(&plan.items)
        .all(|(part, item)| u32::try_from(part.placements.len()) == Ok(item.quantity));
    if complete {
        let meshes =
            poses(loaded).map(|(id, pose)| (&*loaded.meshes[loaded.parts[id.part].0].mesh, pose));
        let top = nesting::bounds_of(meshes).map_or(0.0, |(_, hi)| hi[2]);
        return Ok(Before::Placements(layers(top)));
    }
    let boxes = boxes_baseline(&plan.items, space, progress);
    let Ok(boxes) = boxes else { return Ok(Before::Nothing) };
    let f = figures(&plan.items, &boxes, space, thickness, progress)?;
    Ok(Before::Boxes(f.layers))
}
