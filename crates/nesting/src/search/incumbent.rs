//! The best arrangement so far (the incumbent), and which arrangements are reported to the caller: valid
//! ones by exact distances, each better than the last.

use super::exact_build::ExactBuild;
use super::refine::{FEW_PARTS, Refiner, VoxelBuild, placements_of};
use super::state::build::BuildState;
use super::stop::Stopped;
use super::voxels::resolution::Rounding;
use crate::exact::separation::Goal;
use crate::judge::figures::{summary, top_mm};
use crate::model::{Arrangement, CopyId, OnBetter, Placed};
use base::{Cancelled, Progress};
use std::collections::BTreeMap;

/// A build is made exact and reported if it is lower than this fraction of the height of the last one
/// that was. Nearer to 1, most of the time goes into making builds exact, about a second each; smaller,
/// the person waits for what was found.
const REPORT_RATIO: f64 = 0.99;

/// The same while voxels are coarse. Nothing was reported then, and with many parts that was all of the time
/// that people give a search; nearer to 1, the coarse search takes much longer.
const COARSE_REPORT_RATIO: f64 = 0.97;

/// Height that may be given up for an even area along Z, as a factor. Larger, the build takes noticeably
/// longer; 1, hardly any even arrangement is as low as the best. By taste.
const HIGHER_FOR_EVEN_AREA: f64 = 1.005;

/// Heights that differ by less, mm, are equal but for rounding.
const SAME_MM: f64 = 1e-9;

/// How far copies move, mm, by their index in the copies to place; copies that must go elsewhere are
/// missing.
pub(super) type ExactMoves = BTreeMap<usize, [f64; 3]>;

/// Valid builds without the locked placements, and the copies that are in none of them.
type Best = (Vec<Vec<Placed>>, Vec<usize>);

/// What the search has at present, and the best that was reported.
pub(super) struct Incumbent<'a> {
    pub(super) refiner: Refiner<'a>,
    /// Whether voxels are coarse: then less of what the search finds is reported.
    pub(super) is_coarse: bool,
    /// What is wanted in the end.
    pub(super) last_goal: Goal,
    /// Whether the caller said that it is enough.
    stopped: bool,
    progress: &'a Progress,
    /// Ends what comes after the search.
    closing: &'a Progress,
    on_better: OnBetter<'a>,
    /// Per build what the search has at present.
    current: Vec<VoxelBuild>,
    /// Indices of the copies that are in none of these builds.
    pub(super) unplaced: Vec<usize>,
    best: Option<Best>,
}

impl<'a> Incumbent<'a> {
    pub(super) fn new(
        refiner: Refiner<'a>,
        even_area: bool,
        progress: &'a Progress,
        closing: &'a Progress,
        on_better: OnBetter<'a>,
    ) -> Self {
        Self {
            refiner,
            is_coarse: false,
            // What was evened out along Z must not sink again.
            last_goal: if even_area { Goal::LowestTop } else { Goal::Compact },
            stopped: false,
            progress,
            closing,
            on_better,
            current: Vec::new(),
            unplaced: Vec::new(),
            best: None,
        }
    }

    /// Whether the search has found anything yet.
    pub(super) fn has_result(&self) -> bool {
        self.best.is_some() || !self.current.is_empty()
    }

    /// Makes what all builds hold the present state of the search.
    pub(super) fn set_current(&mut self, builds: &[BuildState]) {
        self.current = builds.iter().map(|build| self.voxel_build(build)).collect();
    }

    fn voxel_build(&self, build: &BuildState) -> VoxelBuild {
        let placements = placements_of(&self.refiner.copies, build);
        VoxelBuild { placements, rounding: build.space.rounding }
    }

    /// Sets one build that got better, or is about as good, and reports all if it is lower by enough.
    ///
    /// # Errors
    /// [`Stopped`] if the caller says so or on cancellation, here and below.
    pub(super) fn report_one(&mut self, b: usize, build: &BuildState) -> Result<(), Stopped> {
        let new = self.voxel_build(build);
        let top = self.top_mm(&new.placements);
        let is_higher = top >= self.top_mm(&self.current[b].placements);
        let may_touch = self.refiner.space.clearance_mm <= 0.0;
        if is_higher && may_touch && new.placements.len() > FEW_PARTS {
            return self.go_on(); // to let all of them sink takes longer than it is worth
        }
        let last = self.refiner.last_top_mm(b);
        let ratio = if self.is_coarse { COARSE_REPORT_RATIO } else { REPORT_RATIO };
        let is_lower_by_enough = last.is_none_or(|last| top < ratio * last);
        let rounding = new.rounding;
        self.current[b] = new;
        if rounding == Rounding::Nearest && !is_lower_by_enough {
            self.go_on()
        } else {
            self.report_current()
        }
    }

    /// Sets what all builds hold, and reports it if, made exact, it is valid and better than the last.
    pub(super) fn report(&mut self, builds: &[BuildState]) -> Result<(), Stopped> {
        self.set_current(builds);
        self.report_current()
    }

    /// Reports boxes in rows and layers: they keep their clearances by sums of sizes, and as the first
    /// arrangement they are not looked at any closer.
    pub(super) fn report_first(
        &mut self,
        builds: Vec<Vec<Placed>>,
        unplaced: Vec<usize>,
    ) -> Result<(), Stopped> {
        let searched = std::mem::replace(&mut self.unplaced, unplaced);
        let reported = self.set_best(builds);
        self.unplaced = searched;
        reported?;
        self.go_on()
    }

    /// Reports an arrangement that is exact already if it is better than the last.
    pub(super) fn report_exact(
        &mut self,
        builds: Vec<Vec<Placed>>,
        unplaced: Vec<usize>,
    ) -> Result<(), Stopped> {
        let rounding = Rounding::Conservative;
        let builds =
            builds.into_iter().map(|placements| VoxelBuild { placements, rounding }).collect();
        let current = std::mem::replace(&mut self.current, builds);
        let current_unplaced = std::mem::replace(&mut self.unplaced, unplaced);
        let reported = self.report_current();
        (self.current, self.unplaced) = (current, current_unplaced);
        reported
    }

    /// Reports what there is now if it is about as low as the best: it is more even along Z.
    pub(super) fn report_even(&mut self, builds: &[BuildState]) -> Result<(), Stopped> {
        self.set_current(builds);
        let exact = self.exact_builds(self.last_goal, self.progress)?;
        let is_about_as_low = |exact: &Vec<Vec<Placed>>| {
            self.best.as_ref().is_some_and(|(best, unplaced)| {
                (unplaced, best.len()) == (&self.unplaced, exact.len())
                    && self.total_mm(exact) <= HIGHER_FOR_EVEN_AREA * self.total_mm(best)
            })
        };
        match exact.filter(is_about_as_low) {
            Some(exact) => {
                self.current = exact.iter().cloned().map(as_nearest_build).collect();
                self.set_best(exact)
            }
            None => self.go_on(),
        }
    }

    /// Reports the present state if, made exact, it is valid and better than the last.
    fn report_current(&mut self) -> Result<(), Stopped> {
        match self.exact_builds(Goal::Separated, self.progress) {
            Ok(Some(exact)) if self.is_better(&exact) => self.set_best(exact),
            _ => self.go_on(),
        }
    }

    fn go_on(&self) -> Result<(), Stopped> {
        Ok(self.progress.check()?)
    }

    /// Makes these builds the best, and reports them to the caller.
    fn set_best(&mut self, builds: Vec<Vec<Placed>>) -> Result<(), Stopped> {
        let arrangement = self.arrangement(&builds, &self.unplaced);
        self.best = Some((builds, self.unplaced.clone()));
        self.stopped |= !(self.on_better)(&arrangement);
        if self.stopped { Err(Stopped) } else { Ok(()) }
    }

    /// Fewer unplaced, then fewer builds, then less height.
    fn is_better(&self, builds: &[Vec<Placed>]) -> bool {
        self.best.as_ref().is_none_or(|(best, unplaced)| {
            let new = (self.unplaced.len(), builds.len());
            let old = (unplaced.len(), best.len());
            new < old || new == old && self.total_mm(builds) < self.total_mm(best) - SAME_MM
        })
    }

    /// Whether every copy is in a build or known to be unplaced: while builds are filled anew, some are in
    /// neither for a while.
    fn is_whole(&self) -> bool {
        let placed: usize = self.current.iter().map(|build| build.placements.len()).sum();
        placed + self.unplaced.len() == self.refiner.copies.len()
    }

    fn top_mm(&self, placements: &[Placed]) -> f64 {
        top_mm(self.refiner.items, placements)
    }

    fn total_mm(&self, builds: &[Vec<Placed>]) -> f64 {
        builds.iter().map(|build| self.top_mm(build)).sum()
    }

    /// Heights of the builds of the best, together, mm.
    pub(super) fn height_mm(&self) -> f64 {
        self.best.as_ref().map_or(f64::INFINITY, |(best, _)| self.total_mm(best))
    }

    /// How far every copy of each build moves when it is made exact.
    pub(super) fn exact_moves(&mut self, goal: Goal) -> Result<Vec<ExactMoves>, Stopped> {
        let mut all = Vec::new();
        for b in 0..self.current.len() {
            let current = self.current[b].clone();
            let ExactBuild { placements, offenders } =
                self.refiner.refine(b, current, goal, self.progress)?;
            let locked = self.refiner.locked_in(b).len();
            let moves = placements.iter().enumerate().filter_map(|(n, p)| {
                let from = self.current[b].placements.iter().find(|q| q.id() == p.id())?.pose;
                let rotated = |k: usize| p.pose.rows[k][..3] != from.rows[k][..3];
                if offenders.contains(&(locked + n)) || (0..3).any(rotated) {
                    return None;
                }
                let by = [0, 1, 2].map(|k| p.pose.rows[k][3] - from.rows[k][3]);
                Some((self.refiner.index_of(p.id())?, by))
            });
            all.push(moves.collect());
        }
        Ok(all)
    }

    /// All builds made exact; `None` if one cannot be, or while a copy is in none.
    fn exact_builds(
        &mut self,
        goal: Goal,
        progress: &Progress,
    ) -> Result<Option<Vec<Vec<Placed>>>, Cancelled> {
        if !self.is_whole() {
            return Ok(None);
        }
        let mut builds = Vec::new();
        for (b, current) in self.current.iter().enumerate() {
            let exact = self.refiner.refine(b, current.clone(), goal, progress)?;
            if !exact.offenders.is_empty() {
                return Ok(None);
            }
            builds.push(exact.placements);
        }
        Ok(Some(builds))
    }

    /// The best arrangement, as low as exact distances get it. It is reported a last time if that made
    /// it better, unless the caller has stopped the search.
    pub(super) fn finish(mut self, converged: bool) -> Arrangement {
        let mut last = self.lowest();
        if last.is_none()
            && let Some((best, unplaced)) = self.best.clone()
        {
            self.unplaced = unplaced;
            self.current = best.into_iter().map(as_nearest_build).collect();
            last = self.lowest();
        }
        if let Some(builds) = last {
            if self.stopped {
                self.best = Some((builds, self.unplaced.clone()));
            } else {
                self.set_best(builds).ok(); // whether to go on does not matter any more
            }
        }
        let (builds, unplaced) = self.best.take().unwrap_or_default();
        Arrangement { converged, ..self.arrangement(&builds, &unplaced) }
    }

    /// What was found, as low as exact distances get it, if that is better than the best, and if there is
    /// time for it. It is wanted of a search that was cancelled, too.
    fn lowest(&mut self) -> Option<Vec<Vec<Placed>>> {
        let exact = self.exact_builds(self.last_goal, self.closing).ok().flatten();
        exact.filter(|builds| self.is_better(builds))
    }

    fn arrangement(&self, builds: &[Vec<Placed>], unplaced: &[usize]) -> Arrangement {
        let mut builds = builds.to_vec();
        if builds.is_empty() {
            builds.push(Vec::new());
        }
        let Refiner { items, space, locked, copies, .. } = &self.refiner;
        builds[0].splice(0..0, locked.iter().copied());
        let summary = summary(items, &builds, space);
        let id = |c: &usize| CopyId { item: copies[*c].item, copy: copies[*c].copy };
        let unplaced = unplaced.iter().map(id).collect();
        Arrangement { builds, unplaced, summary, converged: false }
    }
}

/// A build that was made exact, as if voxels rounded to nearest had found it.
fn as_nearest_build(placements: Vec<Placed>) -> VoxelBuild {
    VoxelBuild { placements, rounding: Rounding::Nearest }
}
