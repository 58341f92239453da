//! What the scheduler runs: tasks of the app, and what they hand to it.

use crate::state::actions::Purpose;
use crate::state::document::{Content, Moved};
use crate::state::results::{
    Built, Failure, MeshKey, MeshState, Nested, NestingStep, Proven, Refused, ShownLayer, Stamp,
    Survey, WrittenFile, mesh_key,
};
use crate::state::shapes::{SeenShape, ShapeQuestion};
use crate::state::unfound::Unfound;
use crate::work::files::Startup;
use crate::work::saved::{SavedJob, SavedRecipe};
use crate::work::scheduler::TaskContext;
use crate::work::watch;
use base::{Cancelled, Finding, PlacementId, Progress, Severity};
use job::{Job, Machine, PartEntry, Recipe};
use nesting::NestError;
use pipeline::{
    Build, BuildError, Inputs, Judged, LayerError, LoadError, Loaded, LoadedMesh, NestRequest,
    SoFar, Stops, not_fit,
};
use slicing::Scratch;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What a task hands to the window.
pub(crate) enum Outcome {
    /// What is kept from session to session was read.
    Started(Box<Startup>),
    /// Reading it failed; a sentence says why.
    NotStarted(String),
    /// A job was read; what files that it names are called where they were found.
    Opened(PathBuf, Box<Content>, Moved),
    /// A job was not read, because a file that it names is not to be had.
    Unfound(Box<Unfound>),
    /// Something was done that shows nowhere else; a sentence says what.
    Said(String),
    /// These mesh files are new parts of the job; of those that were not read, a sentence each.
    MeshFiles(Vec<NewMesh>, Vec<String>),
    /// Meshes that were not found, as the job named them in this folder, and where they were found now.
    FoundBeside(PathBuf, Vec<(String, PathBuf)>),
    /// A mesh was read, or a sentence says why not; and what its file was like.
    Mesh(MeshKey, Result<Arc<LoadedMesh>, String>, Option<Stamp>),
    /// A recipe was read for a part, or for the whole job; and where it lies. What the job is to call it is known
    /// when it is taken: the job may have been saved elsewhere by then.
    Recipe(Option<usize>, PathBuf, Box<Recipe>),
    /// A machine was read; and where it lies.
    Machine(PathBuf, Box<Machine>),
    /// The build of a revision.
    Built(Built),
    /// There is no build or no layer of what was wanted; a sentence says why.
    NotBuilt(String),
    /// The layer that was asked for.
    Layer(Arc<ShownLayer>),
    /// A layer beside it.
    Neighbour(Arc<ShownLayer>),
    /// The survey, as far as it has come.
    Survey(Survey),
    /// There is no survey.
    NoSurvey(Failure),
    /// Clearances and the way out of every part.
    Proven(Box<Proven>),
    /// Clearances were not proven.
    NotProven(Failure),
    /// What was seen of the shape of a mesh.
    Shape(Box<SeenShape>),
    /// Not all shapes were looked at.
    NoShapes(Failure),
    /// A better arrangement, or the last.
    Nested(Box<Nested>),
    /// The job of a revision with parts in a cage.
    Caged(u64, Box<Job>),
    /// The clearances of a build were proven, so that its vector file may be written there.
    ProvenToWrite(Box<Proven>, Request),
    /// A vector file was not written, since the job must stop.
    Refused(Refused),
    /// A vector file of so many bytes was written, of this build; it is to be verified.
    Wrote(Built, PathBuf, u64),
    /// A vector file was written, and its verification has ended.
    Written(WrittenFile),
    /// The job was saved.
    Saved(Box<SavedJob>),
    /// A job that nesting filled beyond the first was saved here.
    SavedBuild(PathBuf),
    /// A recipe was saved under a new path: the old one and the new one, as the job names them.
    SavedRecipe(Box<SavedRecipe>),
    /// Files chosen in a dialog, and what for.
    Chosen(Purpose, Vec<PathBuf>),
    /// Something went wrong: a sentence.
    Failed(String),
}

/// A mesh that was read to become a part.
pub(crate) struct NewMesh {
    pub(crate) path: PathBuf,
    pub(crate) loaded: Arc<LoadedMesh>,
    pub(crate) stamp: Option<Stamp>,
}

/// A task of the app.
pub(crate) type Context = TaskContext<Outcome>;

/// Reads one mesh.
pub(crate) fn mesh(folder: &Path, part: &PartEntry, context: &Context) {
    let stamp = watch::stamp(&folder.join(&part.mesh));
    let mesh = match pipeline::load_part_mesh(folder, part, &context.progress) {
        Ok(mesh) => Ok(Arc::new(mesh)),
        Err(LoadError::Cancelled(_)) => return,
        Err(error) => Err(error.to_string()),
    };
    context.send(Outcome::Mesh(mesh_key(part), mesh, stamp));
}

/// What the window wants computed.
pub(crate) struct Wanted {
    pub(crate) revision: u64,
    pub(crate) layer: u32,
    pub(crate) content: Arc<Content>,
    pub(crate) meshes: BTreeMap<MeshKey, MeshState>,
    pub(crate) earlier: Option<Built>,
}

/// Makes the build of a revision, unless it is there already, and one layer of it.
pub(crate) fn compute(wanted: Wanted, context: &Context) {
    let revision = wanted.revision;
    let built = match wanted.earlier {
        Some(built) if built.revision == revision => built,
        ref earlier => match build(&wanted, earlier.as_ref(), &context.progress) {
            Ok(build) => {
                let built = Built { revision, build: Arc::new(build) };
                context.send(Outcome::Built(built.clone()));
                built
            }
            Err(Some(sentence)) => return context.send(Outcome::NotBuilt(sentence)),
            Err(None) => return,
        },
    };
    let Some(top) = built.build.layer_count().checked_sub(1) else { return };
    match layer(&built, wanted.layer.min(top), &context.progress) {
        Ok(layer) => context.send(Outcome::Layer(Arc::new(layer))),
        Err(LayerError::Cancelled(_)) => {}
        Err(error) => context.send(Outcome::NotBuilt(error.to_string())),
    }
}

/// `Err(None)` when cancelled.
fn build(
    wanted: &Wanted,
    earlier: Option<&Built>,
    progress: &Progress,
) -> Result<Build, Option<String>> {
    let content = &wanted.content;
    let valid = content.job.validate().and_then(|()| content.machine.validate());
    let recipes = content.recipes.values();
    let valid = recipes.fold(valid, |valid, recipe| valid.and_then(|()| recipe.validate()));
    valid.map_err(|problems| {
        let sentences: Vec<String> = problems.iter().map(ToString::to_string).collect();
        Some(format!("Not computed: {}.", sentences.join(". ")))
    })?;
    let recipe_of = |file: &str| {
        content.recipes.get(file).cloned().ok_or_else(|| LoadError::Unreadable {
            what: "recipe",
            path: file.into(),
            source: std::io::ErrorKind::NotFound.into(),
        })
    };
    let mesh_of = |part: &PartEntry| {
        let mesh = wanted.meshes.get(&mesh_key(part)).and_then(MeshState::ready).cloned();
        Ok(mesh.unwrap_or_else(|| Arc::new(LoadedMesh::absent(part))))
    };
    let loaded = Loaded::assemble(content.job.clone(), content.machine.clone(), recipe_of, mesh_of)
        .map_err(|error| Some(format!("Not computed: {error}")))?;
    Build::after(earlier.map(|built| &*built.build), loaded, progress).map_err(
        |error| match error {
            BuildError::Cancelled(_) => None,
            error @ (BuildError::Slicing { .. } | BuildError::Exposures(_)) => {
                Some(format!("Not computed: {error}"))
            }
        },
    )
}

fn layer(built: &Built, index: u32, progress: &Progress) -> Result<ShownLayer, LayerError> {
    let range = index..index + 1;
    let mut run = built.build.layers_with_regions(range, &mut Scratch::default(), progress)?;
    let (computed, regions) = run.swap_remove(0);
    Ok(ShownLayer {
        revision: built.revision,
        index,
        build: Arc::clone(&built.build),
        timeline: built.build.timeline(&computed.layer),
        layer: computed.layer,
        regions,
    })
}

/// Computes layers that the person will likely ask for next.
pub(crate) fn prefetch(built: &Built, layers: &[u32], context: &Context) {
    for &index in layers {
        if context.give_way().is_err() {
            return;
        }
        match layer(built, index, &context.progress) {
            Ok(layer) => context.send(Outcome::Neighbour(Arc::new(layer))),
            Err(_) => return, // said when it is asked for
        }
    }
}

/// Sums over all layers, from the bottom up.
pub(crate) fn survey(built: &Built, context: &Context) {
    match surveyed(built, context) {
        Ok(survey) => context.send(Outcome::Survey(survey)),
        Err(LayerError::Cancelled(_)) => {}
        Err(error) => {
            let failure = Failure { revision: built.revision, sentence: error.to_string() };
            context.send(Outcome::NoSurvey(failure));
        }
    }
}

fn surveyed(built: &Built, context: &Context) -> Result<Survey, LayerError> {
    let build = &built.build;
    let shown = |so_far: &pipeline::Survey, complete| Survey {
        revision: Some(built.revision),
        layers: so_far.layers.clone(),
        extents: so_far.extents.clone(),
        build: Some(Arc::clone(build)),
        findings: build.layer_findings(&so_far.report),
        complete,
    };
    context.give_way()?;
    let survey = build.survey(&context.progress, &mut |so_far| {
        context.send(Outcome::Survey(shown(so_far, false)));
        context.give_way() // more urgent work goes first
    })?;
    Ok(shown(&survey, true))
}

/// Proves the arrangement.
pub(crate) fn clearance(built: &Built, context: &Context) {
    let proven = context
        .give_way()
        .and_then(|()| pipeline::prove_clearance(&built.build.loaded, &context.progress));
    if let Ok(clearance) = proven {
        context.send(Outcome::Proven(Box::new(Proven::new(built, clearance))));
    }
}

/// Looks at shapes, one mesh after the other.
pub(crate) fn shapes(questions: Vec<ShapeQuestion>, context: &Context) {
    for (mesh, limits) in questions {
        let look = context.give_way();
        let look = look.and_then(|()| mesh.look_at_shape(&limits, &context.progress));
        let Ok(look) = look else { return };
        let question = (mesh, limits);
        context.send(Outcome::Shape(Box::new(SeenShape { question, look })));
    }
}

/// A vector file that the person asks for.
#[derive(Clone, Debug)]
pub(crate) struct Request {
    /// Where it goes.
    pub(crate) path: PathBuf,
    /// What it does not replace.
    pub(crate) inputs: Inputs,
    /// Whether it is written in spite of stop findings.
    pub(crate) stops: Stops,
}

impl Request {
    /// Whether it may go there at all; tells why not.
    fn may_be(&self, context: &Context) -> bool {
        let paths = [self.path.clone(), not_fit(&self.path)];
        let refused = paths.iter().try_for_each(|path| self.inputs.check(path)).err();
        if let Some(error) = &refused {
            context.send(Outcome::Failed(format!("Not written: {error}")));
        }
        refused.is_none()
    }
}

/// Proves the clearances of what is to be written.
pub(crate) fn prove_to_write(built: &Built, request: Request, context: &Context) {
    if !request.may_be(context) {
        return;
    }
    if let Ok(clearance) = pipeline::prove_clearance(&built.build.loaded, &context.progress) {
        let proven = Box::new(Proven::new(built, clearance));
        context.send(Outcome::ProvenToWrite(proven, request));
    }
}

/// Writes the vector file; where the proof of its clearances (`proven`) or its layers stop the job, only if the
/// request says so.
pub(crate) fn write(built: &Built, proven: &[Finding], request: &Request, context: &Context) {
    if !request.may_be(context) {
        return;
    }
    let Request { path, stops, .. } = request;
    let (build, progress) = (&built.build, &context.progress);
    match pipeline::write_proven(build, proven, path, *stops, progress) {
        Ok(Judged { file: Some(file), .. }) => {
            let bytes = std::fs::metadata(&file).map_or(0, |data| data.len());
            context.send(Outcome::Wrote(built.clone(), file, bytes));
        }
        Ok(Judged { file: None, findings, .. }) => {
            let stops = findings.iter().filter(|finding| finding.severity() == Severity::Stop);
            let stops = stops.map(|stop| stop.sentence().to_owned()).collect();
            let (revision, path) = (built.revision, path.clone());
            context.send(Outcome::Refused(Refused { revision, path, stops }));
        }
        Err(pipeline::OutputError::Cancelled(Cancelled)) => {}
        Err(error) => context.send(Outcome::Failed(error.to_string())),
    }
}

/// Verifies a vector file by reading it back.
pub(crate) fn verify(built: &Built, path: PathBuf, bytes: u64, context: &Context) {
    let verdict = match pipeline::verify_against(&path, &built.build, &context.progress) {
        Ok(verdict) => Some(verdict),
        Err(pipeline::VerifyError::Cancelled(_)) => None,
        Err(error) => return context.send(Outcome::Failed(error.to_string())),
    };
    context.send(Outcome::Written(WrittenFile { revision: built.revision, path, bytes, verdict }));
}

/// What is to be arranged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Nesting {
    /// Everything but what is locked.
    All,
    /// These placements; all others stay.
    Only(BTreeSet<PlacementId>),
    /// Everything stays in its order and moves closer together.
    Closer,
}

impl Nesting {
    /// What the work is called while it runs.
    pub(crate) fn label(&self) -> &'static str {
        match self {
            Self::All => "Nesting all parts",
            Self::Only(_) => "Nesting the selected parts",
            Self::Closer => "Moving parts closer together",
        }
    }
}

/// Arranges parts; every better arrangement is handed on at once.
pub(crate) fn nest(built: &Built, what: &Nesting, even_area: bool, context: &Context) {
    let send = |jobs: Vec<Job>, ended: Option<pipeline::Nested>, step: Option<NestingStep>| {
        let nested = Nested { label: what.label(), jobs, ended, step };
        context.send(Outcome::Nested(Box::new(nested)));
    };
    let only = match what {
        Nesting::Only(selected) => Some(selected.clone()),
        Nesting::All | Nesting::Closer => None,
    };
    let compact = *what == Nesting::Closer;
    let request = NestRequest { only, compact, even_area, ..NestRequest::default() };
    let began = std::time::Instant::now();
    let mut report = |so_far: &SoFar| {
        if let Some(jobs) = so_far.jobs() {
            send(jobs, None, Some(step_of(so_far.arrangement, began)));
        }
        true
    };
    match pipeline::nest_job(&built.build.loaded, &request, &context.progress, &mut report) {
        Ok(nested) => send(nested.jobs.clone(), Some(nested), None),
        Err(NestError::Cancelled(_)) => {}
        Err(error) => context.send(Outcome::Failed(format!("Not nested: {error}."))),
    }
}

fn step_of(found: &nesting::Arrangement, began: std::time::Instant) -> NestingStep {
    let placed: usize = found.builds.iter().map(Vec::len).sum();
    NestingStep {
        at_s: began.elapsed().as_secs_f64(),
        height_mm: found.summary.total_height_mm,
        density: found.summary.density,
        placed,
        copies: placed + found.unplaced.len(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::work::scheduler::{Scheduler, TaskKind};
    use crate::work::threads::Threads;

    fn outcomes(task: impl FnOnce(&Context) + Send + 'static) -> Vec<Outcome> {
        let mut scheduler = Scheduler::new(Threads::new(|| {}));
        scheduler.start(TaskKind::Write, "Writing", Outcome::Failed, task);
        let mut outcomes = Vec::new();
        while !scheduler.running().is_empty() {
            outcomes.extend(scheduler.collect());
            std::thread::yield_now();
        }
        outcomes
    }

    /// Two copies half a millimetre apart: no layer shows anything, the proof before writing does.
    #[test]
    fn clearances_are_proven_before_a_file_is_written() {
        let job = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-jobs/coupon.ron");
        let progress = Progress::default();
        let mut loaded = pipeline::load(&job, &progress).unwrap();
        let first = loaded.job.parts[0].placements[0];
        let [x, y, z] = first.location_mm;
        let near = job::Placement { location_mm: [x, y, z + 40.5], ..first };
        loaded.job.parts[0].placements.push(near);
        let build = Arc::new(Build::new(loaded, &progress).unwrap());
        let built = Built { revision: 3, build };
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.hwv");
        let request =
            Request { path: path.clone(), inputs: Inputs::default(), stops: Stops::Refuse };
        let (of, asked) = (built.clone(), request.clone());
        let told = outcomes(move |context| prove_to_write(&of, asked, context));
        let [Outcome::ProvenToWrite(proven, asked)] = &told[..] else {
            panic!("{} outcomes", told.len())
        };
        assert_eq!((proven.revision, &asked.path), (3, &path));
        let found = proven.clearance.findings.clone();
        let (of, stops, asked) = (built.clone(), found.clone(), request.clone());
        let told = outcomes(move |context| write(&of, &stops, &asked, context));
        let [Outcome::Refused(refused)] = &told[..] else { panic!("{} outcomes", told.len()) };
        assert!(refused.stops[0].contains("3 mm are wanted"), "{:?}", refused.stops);
        assert!(!path.exists());
        let insists = Request { stops: Stops::NameNotFit, ..request };
        let told = outcomes(move |context| write(&built, &found, &insists, context));
        let [Outcome::Wrote(_, written, _)] = &told[..] else { panic!("{} outcomes", told.len()) };
        assert_eq!(*written, not_fit(&path), "the name says that it is not fit");
    }

    #[test]
    fn a_survey_that_crashes_says_so() {
        let mut scheduler = Scheduler::new(Threads::new(|| {}));
        let failed = |sentence| Outcome::NoSurvey(Failure { revision: 7, sentence });
        let label = "Looking through all layers";
        scheduler.start(TaskKind::Survey, label, failed, |_: &Context| panic!("a bug"));
        let mut outcomes = Vec::new();
        while !scheduler.running().is_empty() {
            outcomes.extend(scheduler.collect());
            std::thread::yield_now();
        }
        let [Outcome::NoSurvey(Failure { revision: 7, sentence })] = &outcomes[..] else {
            panic!("{} outcomes", outcomes.len());
        };
        assert!(sentence.contains("Looking through all layers") && sentence.contains("a bug"));
    }
}
