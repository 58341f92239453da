//! What runs on the threads of the workshop.

use crate::state::document::Content;
use crate::state::model::CageShape;
use crate::state::results::{
    Built, Extent, LayerSums, MeshKey, MeshState, Nested, Proven, ShownLayer, Survey, WrittenFile,
    mesh_key,
};
use crate::work::scheduler::Desk;
use base::{Cancelled, PlacementId, Progress};
use job::{Job, PartEntry};
use nesting::NestError;
use pipeline::{
    Build, BuildError, LayerError, LayerReport, LoadError, Loaded, LoadedMesh, NestRequest, SoFar,
};
use region::Region;
use scan_path::Timeline;
use slicing::Scratch;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What a task hands to the window.
pub(crate) enum Found {
    /// A job was read.
    Opened(PathBuf, Box<Content>),
    /// A mesh was read, or a sentence says why not.
    Mesh(MeshKey, Result<Arc<LoadedMesh>, String>),
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
    /// Clearances and the way out of every part.
    Proven(Box<Proven>),
    /// A better arrangement, or the last.
    Nested(Box<Nested>),
    /// The job of a revision with parts in a cage.
    Caged(u64, Box<Job>),
    /// A vector file was written, of this build; it is to be proven.
    Wrote(Built, PathBuf),
    /// A vector file was written, and its proof has ended.
    Written(WrittenFile),
    /// Files chosen in a dialog, and what for.
    Chosen(Purpose, Vec<PathBuf>),
    /// Something went wrong: a sentence.
    Failed(String),
}

/// What a file dialog is for.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Purpose {
    OpenJob,
    SaveJob,
    /// A build that nesting filled beyond the first, by its number.
    SaveBuild(usize),
    AddMeshes,
    Relink(String),
    UseRecipe(Option<usize>),
    UseMachine,
    SaveRecipe(String),
    WriteVectors,
}

/// Reads a job with its machine and recipes; meshes follow one by one.
pub(crate) fn open(path: &Path) -> Result<Content, LoadError> {
    let folder = path.parent().unwrap_or(Path::new(""));
    let job = pipeline::load_job_file(path)?;
    let machine = pipeline::load_machine_file(&folder.join(&job.machine))?;
    let mut recipes = BTreeMap::new();
    let own = job.parts.iter().filter_map(|part| part.recipe.as_ref());
    for file in std::iter::once(&job.recipe).chain(own) {
        if !recipes.contains_key(file) {
            recipes.insert(file.clone(), pipeline::load_recipe_file(&folder.join(file))?);
        }
    }
    Ok(Content { job, machine, recipes })
}

/// Reads one mesh.
pub(crate) fn mesh(folder: &Path, part: &PartEntry, desk: &Desk<Found>) {
    let found = match pipeline::load_part_mesh(folder, part, &desk.progress) {
        Ok(mesh) => Ok(Arc::new(mesh)),
        Err(LoadError::Cancelled(_)) => return,
        Err(error) => Err(error.to_string()),
    };
    desk.send(Found::Mesh(mesh_key(part), found));
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
pub(crate) fn compute(wanted: Wanted, desk: &Desk<Found>) {
    let revision = wanted.revision;
    let built = match wanted.earlier {
        Some(built) if built.revision == revision => built,
        ref earlier => match build(&wanted, earlier.as_ref(), &desk.progress) {
            Ok(build) => {
                let built = Built { revision, build: Arc::new(build) };
                desk.send(Found::Built(built.clone()));
                built
            }
            Err(Some(sentence)) => return desk.send(Found::NotBuilt(sentence)),
            Err(None) => return,
        },
    };
    let Some(top) = built.build.layer_count().checked_sub(1) else { return };
    match layer(&built, wanted.layer.min(top), &desk.progress) {
        Ok(layer) => desk.send(Found::Layer(Arc::new(layer))),
        Err(LayerError::Cancelled(_)) => {}
        Err(error) => desk.send(Found::NotBuilt(error.to_string())),
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
            error @ BuildError::Slicing { .. } => Some(format!("Not computed: {error}")),
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
        timeline: Timeline::new(&computed.layer, &built.build.header),
        layer: computed.layer,
        regions,
    })
}

/// Computes layers that the person will likely ask for next.
pub(crate) fn prefetch(built: &Built, layers: &[u32], desk: &Desk<Found>) {
    for &index in layers {
        if desk.give_way().is_err() {
            return;
        }
        match layer(built, index, &desk.progress) {
            Ok(layer) => desk.send(Found::Neighbour(Arc::new(layer))),
            Err(_) => return, // said when it is asked for
        }
    }
}

/// Layers of the survey computed in one go.
const RUN: u32 = 16;

/// Sums over all layers, from the bottom up.
pub(crate) fn survey(built: &Built, desk: &Desk<Found>) {
    let count = built.build.layer_count();
    desk.progress.add_total(u64::from(count));
    let mut survey = Survey { revision: Some(built.revision), ..Survey::default() };
    survey.build = Some(Arc::clone(&built.build));
    survey.extents = vec![Vec::new(); built.build.placements().len()];
    let mut report = LayerReport::default();
    let mut scratch = Scratch::default();
    for start in (0..count).step_by(RUN as usize) {
        let range = start..(start + RUN).min(count);
        let run = desk.give_way().map_err(LayerError::from);
        let run =
            run.and_then(|()| built.build.layers_with_regions(range, &mut scratch, &desk.progress));
        let Ok(run) = run else { return }; // the shown layer says what is wrong
        for (computed, regions) in run {
            let index = computed.layer.index;
            let mut area_mm2 = 0.0;
            for (extents, region) in survey.extents.iter_mut().zip(&regions) {
                area_mm2 += region.area_mm2();
                extents.extend(extent(index, region));
            }
            let paths = &computed.report.paths;
            survey.layers.push(LayerSums {
                area_mm2,
                mark_mm: paths.mark_length_mm(),
                jump_mm: paths.jump_length_mm(),
                marks: paths.marks,
                time_s: scan_path::layer_time_s(&computed.layer, &built.build.header),
            });
            report.add(computed.report);
        }
        survey.findings = built.build.layer_findings(&report);
        desk.send(Found::Survey(survey.clone()));
    }
    survey.complete = true;
    desk.send(Found::Survey(survey));
}

fn extent(layer: u32, region: &Region) -> Option<Extent> {
    let (low, high) = region.bounds()?;
    let ([x0, y0], [x1, y1]) = (low.to_mm(), high.to_mm());
    #[expect(clippy::cast_possible_truncation, reason = "for the screen")]
    let pair = |a: f64, b: f64| [a as f32, b as f32];
    Some(Extent { layer, x_mm: pair(x0, x1), y_mm: pair(y0, y1) })
}

/// Proves the arrangement.
pub(crate) fn clearance(built: &Built, desk: &Desk<Found>) {
    let proven = desk
        .give_way()
        .and_then(|()| pipeline::prove_clearance(&built.build.loaded, &desk.progress));
    if let Ok(clearance) = proven {
        desk.send(Found::Proven(Box::new(Proven::new(built, clearance))));
    }
}

/// Writes the vector file.
pub(crate) fn write(built: &Built, path: PathBuf, desk: &Desk<Found>) {
    match pipeline::write_vector_file(&built.build, &path, &desk.progress) {
        Ok(_) => desk.send(Found::Wrote(built.clone(), path)),
        Err(pipeline::OutputError::Cancelled(Cancelled)) => {}
        Err(error) => desk.send(Found::Failed(error.to_string())),
    }
}

/// Proves a vector file by reading it back.
pub(crate) fn prove(built: &Built, path: PathBuf, desk: &Desk<Found>) {
    let verdict = match pipeline::verify_against(&path, &built.build, &desk.progress) {
        Ok(verdict) => Some(verdict),
        Err(pipeline::VerifyError::Cancelled(_)) => None,
        Err(error) => return desk.send(Found::Failed(error.to_string())),
    };
    let bytes = std::fs::metadata(&path).map_or(0, |data| data.len());
    desk.send(Found::Written(WrittenFile { revision: built.revision, path, bytes, verdict }));
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
pub(crate) fn nest(built: &Built, what: &Nesting, even_area: bool, desk: &Desk<Found>) {
    let send = |jobs: Vec<Job>, ended: Option<pipeline::Nested>| {
        let nested = Nested { label: what.label(), jobs, ended };
        desk.send(Found::Nested(Box::new(nested)));
    };
    let only = match what {
        Nesting::Only(chosen) => Some(chosen.iter().map(|at| (at.part, at.copy)).collect()),
        Nesting::All | Nesting::Closer => None,
    };
    let compact = *what == Nesting::Closer;
    let request = NestRequest { only, compact, even_area, ..NestRequest::default() };
    let mut report = |so_far: &SoFar| {
        if let Some(jobs) = so_far.jobs() {
            send(jobs, None);
        }
        true
    };
    match pipeline::nest_job(&built.build.loaded, &request, &desk.progress, &mut report) {
        Ok(nested) => send(nested.jobs.clone(), Some(nested)),
        Err(NestError::Cancelled(_)) => {}
        Err(error) => desk.send(Found::Failed(format!("Not nested: {error}."))),
    }
}

/// Puts placements into a cage; its mesh is written into the job's folder under a free name.
pub(crate) fn cage(
    built: &Built,
    folder: &Path,
    chosen: &BTreeSet<PlacementId>,
    CageShape { bar_mm, opening_mm }: CageShape,
    desk: &Desk<Found>,
) {
    let chosen = chosen.iter().map(|at| (at.part, at.copy)).collect();
    let names =
        std::iter::once("cage.obj".to_owned()).chain((2..).map(|n| format!("cage-{n}.obj")));
    let Some(file) = names.into_iter().find(|name| !folder.join(name).exists()) else { return };
    let (loaded, shape) = (&built.build.loaded, [bar_mm, opening_mm]);
    let caged = pipeline::cage_placements(loaded, &chosen, shape, "cage", &file, &desk.progress);
    let written = caged.map_err(|error| error.to_string()).and_then(|caged| {
        let path = folder.join(&file);
        pipeline::write_mesh(&caged.mesh, &path).map_err(|error| error.to_string())?;
        Ok(caged.job)
    });
    desk.send(match written {
        Ok(job) => Found::Caged(built.revision, Box::new(job)),
        Err(sentence) => Found::Failed(format!("No cage: {sentence}.")),
    });
}
