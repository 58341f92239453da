//! What the workers made of the document: meshes, the build, layers, the survey of all layers.
//!
//! Everything here is a cache: it can be thrown away and is made again from the document.

use crate::state::nearby::Nearby;
use crate::state::shapes::Shapes;
use base::{Finding, Unit};
use job::{Job, PartEntry};
use motion::Timeline;
use pipeline::{Build, Clearance, Extent, LayerSums, LoadedMesh, Verdict};
use region::Region;
use scan_path::{Header, Layer};
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::Arc;

/// What makes a mesh of its own: path as the job names it, object, unit.
pub(crate) type MeshKey = (String, Option<String>, Option<Unit>);

/// The key of the mesh that a part asks for.
pub(crate) fn mesh_key(part: &PartEntry) -> MeshKey {
    (part.mesh.clone(), part.object.clone(), part.unit)
}

/// Size of a file, bytes, and when it was last written: what tells whether it is another by now.
pub(crate) type Stamp = (u64, std::time::SystemTime);

/// How far a mesh is.
#[derive(Clone, Debug)]
pub(crate) enum MeshState {
    /// Being read.
    Loading,
    /// There.
    Ready(Arc<LoadedMesh>),
    /// Not to be had; the sentence says why and what to do.
    Failed(String),
}

impl MeshState {
    /// The mesh, once it is there.
    pub(crate) fn ready(&self) -> Option<&Arc<LoadedMesh>> {
        if let Self::Ready(mesh) = self { Some(mesh) } else { None }
    }
}

/// The newest build.
#[derive(Clone)]
pub(crate) struct Built {
    /// Revision of the document that it was made from.
    pub(crate) revision: u64,
    /// The build.
    pub(crate) build: Arc<Build>,
}

/// One layer, ready to be drawn.
pub(crate) struct ShownLayer {
    /// Revision of the document that it was made from.
    pub(crate) revision: u64,
    /// Layer number.
    pub(crate) index: u32,
    /// The build that it came from: its header explains the numbers in the blocks.
    pub(crate) build: Arc<Build>,
    /// The vectors.
    pub(crate) layer: Layer,
    /// The vectors in time, as far as the machine says how its head moves; else at commanded speeds.
    pub(crate) timeline: Timeline,
    /// What is to be fused, by row of the placement table; empty where the layer has nothing.
    pub(crate) regions: Vec<Region>,
}

impl ShownLayer {
    /// The tables that the numbers in the blocks refer to.
    pub(crate) fn header(&self) -> &Header {
        &self.build.header
    }

    /// Rough size in memory, bytes, for the bounded cache.
    fn bytes(&self) -> usize {
        let vectors: usize = self.layer.blocks.iter().map(|b| b.paths.points().len()).sum();
        let outline: usize = self.regions.iter().map(|r| r.points().len()).sum();
        vectors * 8 + outline * 8 + self.timeline.moves().len() * 40 + 1024
    }
}

/// All layers in sums, filled in from the bottom while the person goes on working.
#[derive(Clone, Default)]
pub(crate) struct Survey {
    /// Revision of the document that it is of.
    pub(crate) revision: Option<u64>,
    /// One entry a layer, as far as the survey has come.
    pub(crate) layers: Vec<LayerSums>,
    /// By row of the placement table: what the placement covers, in rising order of layers.
    pub(crate) extents: Vec<Vec<Extent>>,
    /// The build that it is of.
    pub(crate) build: Option<Arc<Build>>,
    /// What the layers had to report.
    pub(crate) findings: Vec<Finding>,
    /// Whether every layer has been looked at.
    pub(crate) complete: bool,
}

/// Why there is no result of a revision.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Failure {
    /// Revision of the document.
    pub(crate) revision: u64,
    /// What went wrong, for the person.
    pub(crate) sentence: String,
}

/// What every placement of a build covers in its layers.
pub(crate) struct Outlines {
    /// The build.
    pub(crate) build: Arc<Build>,
    /// By row of its placement table.
    pub(crate) extents: Vec<Vec<Extent>>,
    is_complete: bool,
}

impl Results {
    /// Takes a survey, as far as it has come. Outlines of the last complete one are kept until this
    /// one is: half a silhouette would be wrong, one from before an edit is only faint.
    pub(crate) fn take_survey(&mut self, survey: Survey) {
        let first = self.outlines.as_ref().is_none_or(|outlines| !outlines.is_complete);
        if let Some(build) = survey.build.clone().filter(|_| first || survey.complete) {
            let (extents, is_complete) = (survey.extents.clone(), survey.complete);
            self.outlines = Some(Outlines { build, extents, is_complete });
        }
        self.survey_failure = None;
        self.survey = survey;
    }
}

/// How near the parts are to each other and to the walls, and whether they come out.
pub(crate) struct Proven {
    /// Revision of the document that it is of.
    pub(crate) revision: u64,
    /// The build that it is of, to see whether a later one is arranged alike.
    pub(crate) build: Arc<Build>,
    /// What was found.
    pub(crate) clearance: Clearance,
    /// Lines to what is too near.
    pub(crate) too_near: Nearby,
}

impl Proven {
    pub(crate) fn new(built: &Built, clearance: Clearance) -> Self {
        let placements = &clearance.placements;
        let at = |body: usize| placements.get(body).map(|placement| placement.id);
        let too_near = Nearby::too_near(&clearance.proof, at);
        let (revision, build) = (built.revision, Arc::clone(&built.build));
        Self { revision, build, clearance, too_near }
    }
}

/// An arrangement that nesting found.
#[derive(Clone, Debug)]
pub(crate) struct Nested {
    /// What the step of undo is called.
    pub(crate) label: &'static str,
    /// One job a build; the first is the document's.
    pub(crate) jobs: Vec<Job>,
    /// Figures and findings, once the search has ended.
    pub(crate) ended: Option<pipeline::Nested>,
    /// What it is like, while the search goes on.
    pub(crate) step: Option<NestingStep>,
}

/// A better arrangement that a search found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct NestingStep {
    /// When, s from the beginning of the search.
    pub(crate) at_s: f64,
    /// Heights of all its builds, mm.
    pub(crate) height_mm: f64,
    /// What share of platform × height the parts fill.
    pub(crate) density: f64,
    /// How many copies have a place, of how many.
    pub(crate) placed: usize,
    pub(crate) copies: usize,
}

/// A vector file that was written, and what verifying it found.
#[derive(Clone, Debug)]
pub(crate) struct WrittenFile {
    /// Revision of the document that it holds.
    pub(crate) revision: u64,
    /// The file.
    pub(crate) path: PathBuf,
    /// Its size, bytes.
    pub(crate) bytes: u64,
    /// What reading it back found; `None` if verification was cancelled.
    pub(crate) verdict: Option<Verdict>,
}

/// How far a vector file is that is on its way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stage {
    /// The clearances of what it is to hold are being proven.
    Proving,
    /// It is being written.
    Writing,
    /// It is written, so many bytes, and being verified.
    Verifying(u64),
}

/// Why a vector file was not written, though the person asked for it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Refused {
    /// Revision of the document that it was to hold.
    pub(crate) revision: u64,
    /// Where it was to go.
    pub(crate) path: PathBuf,
    /// What stands against it, each in a sentence.
    pub(crate) stops: Vec<String>,
}

/// A vector file on its way.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Writing {
    /// Revision of the document that it holds.
    pub(crate) revision: u64,
    /// The file.
    pub(crate) path: PathBuf,
    /// How far it is.
    pub(crate) stage: Stage,
    /// How much of that is done, 0 to 1.
    pub(crate) fraction: f64,
}

/// What tells the findings of one moment from those of another.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct FindingsKey {
    survey: (Option<u64>, usize, bool),
    proven: Option<u64>,
    built: Option<u64>,
    verdict: (Option<u64>, bool),
    shapes: u64,
}

/// Bytes of layers that are kept.
const CACHE_BYTES: usize = 384 << 20;

/// See the module.
#[derive(Default)]
pub(crate) struct Results {
    pub(crate) meshes: BTreeMap<MeshKey, MeshState>,
    /// What their files were like just before they were read.
    pub(crate) stamps: BTreeMap<MeshKey, Stamp>,
    /// Mesh files, as the job names them, that have changed on disk since they were read.
    pub(crate) changed_meshes: BTreeSet<String>,
    pub(crate) build: Option<Built>,
    /// Why there is no build of the present revision: a sentence.
    pub(crate) build_error: Option<String>,
    pub(crate) layer: Option<Arc<ShownLayer>>,
    pub(crate) survey: Survey,
    /// Why the last survey ended early.
    pub(crate) survey_failure: Option<Failure>,
    /// The newest survey that is complete, or the first while none is.
    pub(crate) outlines: Option<Outlines>,
    pub(crate) proven: Option<Proven>,
    /// Why the last proof of clearances ended early.
    pub(crate) proof_failure: Option<Failure>,
    /// What was seen of the shapes of meshes.
    pub(crate) shapes: Shapes,
    /// Why the last look at shapes ended early.
    pub(crate) shape_failure: Option<Failure>,
    pub(crate) nested: Option<Nested>,
    /// The arrangements of the last search, from its first on.
    pub(crate) nesting_steps: Vec<NestingStep>,
    /// When the search began that is going on.
    pub(crate) nesting_since: Option<std::time::Instant>,
    pub(crate) writing: Option<Writing>,
    pub(crate) written: Option<WrittenFile>,
    pub(crate) refused: Option<Refused>,
    /// Revision whose work the person cancelled; it is not taken up again until an edit or a retry.
    pub(crate) cancelled: Option<u64>,
    /// Added to the document's revision: rises when meshes come or another job is opened.
    pub(crate) generation: u64,
    /// Layers of the newest build; the number says when each was last shown.
    cache: BTreeMap<u32, (u64, Arc<ShownLayer>)>,
    clock: u64,
}

impl Results {
    /// What is known of the mesh that a part asks for.
    pub(crate) fn mesh(&self, part: &PartEntry) -> Option<&MeshState> {
        self.meshes.get(&mesh_key(part))
    }

    /// Empties everything for another job; its revisions will differ from all before.
    pub(crate) fn renew(&mut self, last_revision: u64) {
        *self = Self { generation: last_revision + 1, ..Self::default() };
    }

    /// Lets go of all meshes: they are read again, under the names that they have now.
    pub(crate) fn forget_meshes(&mut self) {
        self.meshes.clear();
        self.stamps.clear();
        self.changed_meshes.clear();
    }

    /// Whether the mesh of one of these parts is being read, or not even begun: only a few are read side by side.
    pub(crate) fn lacks_meshes_of(&self, parts: &[PartEntry]) -> bool {
        let is_open = |part| matches!(self.mesh(part), None | Some(MeshState::Loading));
        parts.iter().any(is_open)
    }

    /// A layer of the newest build, if it is at hand.
    pub(crate) fn cached(&mut self, revision: u64, index: u32) -> Option<Arc<ShownLayer>> {
        let (used, layer) = self.cache.get_mut(&index)?;
        if layer.revision != revision {
            return None;
        }
        self.clock += 1;
        *used = self.clock;
        Some(Arc::clone(layer))
    }

    /// Whether a layer is at hand, without counting as a use of it.
    pub(crate) fn has(&self, revision: u64, index: u32) -> bool {
        self.cache.get(&index).is_some_and(|(_, layer)| layer.revision == revision)
    }

    /// A neighbour of the shown layer for its ghost, of whatever revision.
    pub(crate) fn neighbour(&self, index: u32) -> Option<&Arc<ShownLayer>> {
        self.cache.get(&index).map(|(_, layer)| layer)
    }

    /// Keeps a layer, and lets go of those used longest ago beyond the bound.
    pub(crate) fn keep(&mut self, layer: Arc<ShownLayer>) {
        self.clock += 1;
        self.cache.insert(layer.index, (self.clock, layer));
        while self.cache.len() > 1 {
            let bytes: usize = self.cache.values().map(|(_, layer)| layer.bytes()).sum();
            let oldest = self.cache.iter().min_by_key(|(_, (used, _))| *used).map(|(k, _)| *k);
            match oldest {
                Some(oldest) if bytes > CACHE_BYTES => self.cache.remove(&oldest),
                _ => break,
            };
        }
    }

    /// All there is to say about the job and its file at present.
    pub(crate) fn findings(&self) -> impl Iterator<Item = &Finding> {
        let written = self.written.iter().filter_map(|w| w.verdict.as_ref());
        let proof = written.flat_map(|verdict| &verdict.findings);
        self.of_the_job(|_| true).chain(proof)
    }

    /// Another value whenever there may be other findings.
    pub(crate) fn findings_key(&self) -> FindingsKey {
        let verdict = self.written.as_ref().map(|written| written.revision);
        FindingsKey {
            survey: (self.survey.revision, self.survey.findings.len(), self.survey.complete),
            proven: self.proven.as_ref().map(|proven| proven.revision),
            built: self.build.as_ref().map(|built| built.revision),
            shapes: self.shapes.changes(),
            verdict: (verdict, self.written.as_ref().is_some_and(|w| w.verdict.is_some())),
        }
    }

    /// What there is to say about the job of this revision.
    pub(crate) fn of_revision(&self, revision: u64) -> impl Iterator<Item = &Finding> {
        self.of_the_job(move |of| of == revision)
    }

    fn of_the_job(&self, is_wanted: impl Fn(u64) -> bool) -> impl Iterator<Item = &Finding> {
        let built = self.build.as_ref().filter(|built| is_wanted(built.revision));
        let proven = self.proven.as_ref().filter(|proven| is_wanted(proven.revision));
        let survey = self.survey.revision.filter(|of| is_wanted(*of)).map(|_| &self.survey);
        let shapes = built.map_or(&[][..], |_| self.shapes.findings());
        let is_new = |finding: &&Finding| !pipeline::is_told_by_shapes(finding, shapes);
        let built = built.into_iter().flat_map(|built| &built.build.findings).filter(is_new);
        let survey = survey.into_iter().flat_map(|survey| &survey.findings);
        // What the proof says exactly need not be said once more.
        let new = move |f: &&Finding| !proven.is_some_and(|proven| proven.clearance.says(f));
        let clearance = proven.into_iter().flat_map(|proven| &proven.clearance.findings);
        built.filter(new).chain(shapes).chain(clearance).chain(survey.filter(new))
    }
}
