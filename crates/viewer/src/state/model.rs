//! What the window shows, as a value that the views read.

use crate::state::arrangement::Arrangement;
use crate::state::document::{Content, Document};
use crate::state::drag::DragState;
use crate::state::nearby::{Dimension, Nearby, Target};
use crate::state::paths;
use crate::state::results::{Failure, FindingsKey, MeshState, Results, ShownLayer};
use crate::state::theme::Ink;
use base::{Finding, NamedPlacement, Place, PlacementId, Severity};
use pipeline::{Sorted, sorted_by_acceptance};
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::Arc;

/// The cursor that all views share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Cursor {
    /// Layer shown, from 0.
    pub(crate) layer: u32,
    /// Where the beam is within the layer, s from its start.
    pub(crate) time_s: f64,
    /// Whether time runs by itself.
    pub(crate) playing: bool,
    /// How many seconds of the beam pass in one second of the person.
    pub(crate) pace: f64,
}

impl Default for Cursor {
    fn default() -> Self {
        Self { layer: 0, time_s: 0.0, playing: false, pace: 0.1 }
    }
}

/// What a cage around small parts is like, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct CageShape {
    /// Width of the bars.
    pub(crate) bar_mm: f64,
    /// Widest opening between two bars.
    pub(crate) opening_mm: f64,
}

impl Default for CageShape {
    fn default() -> Self {
        Self { bar_mm: 1.2, opening_mm: 6.0 }
    }
}

/// What tells findings of one moment from those of another: what was found, what is accepted, and whether all was
/// looked at.
pub(crate) type SortedKey = (FindingsKey, u64, bool);

/// Everything the views read.
pub(crate) struct Model {
    /// The job; `None` on an empty sheet.
    pub(crate) document: Option<Document>,
    /// What the workers made of it so far.
    pub(crate) results: Results,
    /// What was found, told apart by what the job accepts.
    pub(crate) findings: Sorted,
    /// Of what they were told apart.
    pub(crate) findings_of: Option<SortedKey>,
    /// The height and the time that are shown.
    pub(crate) cursor: Cursor,
    /// The placements that are selected; a part without any by its first, which is yet to come.
    pub(crate) selection: BTreeSet<PlacementId>,
    /// Where everything stands.
    pub(crate) arrangement: Arrangement,
    /// The drag that is under way.
    pub(crate) drag: DragState,
    /// A point that a finding points to, mm, build space.
    pub(crate) attention_mm: Option<[f64; 3]>,
    /// Whether nesting is to even out the fused area along Z.
    pub(crate) even_area: bool,
    /// What the next cage will be like.
    pub(crate) cage: CageShape,
    /// Colours and line weights of the theme.
    pub(crate) ink: Ink,
}

impl Model {
    /// A window without a job, in this ink.
    pub(crate) fn empty(ink: Ink) -> Self {
        Self {
            document: None,
            results: Results::default(),
            findings: Sorted::default(),
            findings_of: None,
            cursor: Cursor::default(),
            selection: BTreeSet::new(),
            arrangement: Arrangement::default(),
            drag: DragState::default(),
            attention_mm: None,
            even_area: false,
            cage: CageShape::default(),
            ink,
        }
    }

    /// Brings the arrangement up to what the document says.
    pub(crate) fn update_arrangement(&mut self) {
        self.arrangement.update(self.document.as_ref(), &self.results);
    }

    /// Tells what was found apart by what the job accepts, if one or the other has changed.
    pub(crate) fn sort_findings(&mut self, is_all: bool) {
        let Some(document) = &self.document else {
            (self.findings, self.findings_of) = (Sorted::default(), None);
            return;
        };
        let now = Some((self.results.findings_key(), document.accepted_changes(), is_all));
        if self.findings_of != now {
            let found = self.results.findings().cloned().collect();
            self.findings = sorted_by_acceptance(&document.content().job, found, is_all);
            self.findings_of = now;
        }
    }

    /// Another value whenever there may be other findings, or others are accepted.
    pub(crate) fn findings_key(&self) -> Option<&SortedKey> {
        self.findings_of.as_ref()
    }

    /// Whether the person takes a finding as it is.
    pub(crate) fn is_accepted(&self, finding: &Finding) -> bool {
        self.content().is_some_and(|content| content.job.acceptance_of(finding).is_some())
    }

    /// Ends a gesture where things are: something else happens to the document.
    pub(crate) fn let_go(&mut self) {
        self.drag.let_go(self.document.as_mut());
    }

    /// The job, machine and recipes, if there is a job.
    pub(crate) fn content(&self) -> Option<&Arc<Content>> {
        self.document.as_ref().map(Document::content)
    }

    /// Whether some mesh of the job is still to be read.
    pub(crate) fn is_loading(&self) -> bool {
        self.content().is_some_and(|content| self.results.lacks_meshes_of(&content.job.parts))
    }

    /// Revision of the document and its meshes; results of an earlier one are stale.
    pub(crate) fn revision(&self) -> u64 {
        self.results.generation + self.document.as_ref().map_or(0, Document::revision)
    }

    /// The newest layer there is to show, with whether it is stale: of an earlier revision, or of
    /// another height than the cursor's. Stale results are drawn faint.
    pub(crate) fn shown_layer(&self) -> Option<(&Arc<ShownLayer>, bool)> {
        let shown = self.results.layer.as_ref()?;
        let stale = shown.revision != self.revision() || shown.index != self.cursor.layer;
        Some((shown, stale))
    }

    /// Number of layers of the newest build; 0 before there is one.
    pub(crate) fn layer_count(&self) -> u32 {
        self.results.build.as_ref().map_or(0, |built| built.build.layer_count())
    }

    /// Layer thickness of the job, mm.
    pub(crate) fn layer_thickness_mm(&self) -> f64 {
        let recipe = self.content().and_then(|content| content.recipe());
        recipe.map_or(0.1, |recipe| recipe.layer_thickness_mm)
    }

    /// Height of the plane that the shown layer is cut at, mm: its middle.
    pub(crate) fn cursor_height_mm(&self) -> f64 {
        base::layers::middle_mm(self.cursor.layer, self.layer_thickness_mm())
    }

    /// Time that the shown layer takes, s, without spreading.
    pub(crate) fn layer_time_s(&self) -> f64 {
        self.results.layer.as_ref().map_or(0.0, |shown| shown.timeline.total_s())
    }

    /// What is known of the mesh of a part of the job.
    pub(crate) fn mesh(&self, part: usize) -> Option<&MeshState> {
        let part = self.content()?.job.parts.get(part)?;
        self.results.mesh(part)
    }

    /// Where the vector file of the job goes unless the person says otherwise: into the folder `out`
    /// beside the job, as with the command line.
    pub(crate) fn output_path(&self) -> Option<PathBuf> {
        let document = self.document.as_ref()?;
        let unsaved = || document.folder.join(paths::file_name(&document.content().job.name));
        let job = document.path.clone().unwrap_or_else(unsaved);
        Some(paths::absolute(&pipeline::default_output(&job, ".hwv")))
    }

    /// Whether the person cancelled the work on the job as it is.
    pub(crate) fn is_cancelled(&self) -> bool {
        self.results.cancelled == Some(self.revision())
    }

    /// Why there is no survey of the job as it is.
    pub(crate) fn survey_failure(&self) -> Option<&str> {
        self.of_now(self.results.survey_failure.as_ref())
    }

    /// Why clearances of the job as it is are not proven.
    pub(crate) fn proof_failure(&self) -> Option<&str> {
        self.of_now(self.results.proof_failure.as_ref())
    }

    /// Why not all shapes of the job as it is were looked at.
    pub(crate) fn shape_failure(&self) -> Option<&str> {
        self.of_now(self.results.shape_failure.as_ref())
    }

    fn of_now<'a>(&self, failure: Option<&'a Failure>) -> Option<&'a str> {
        let failure = failure.filter(|failure| failure.revision == self.revision())?;
        Some(&failure.sentence)
    }

    /// Whether work on the job as it is failed or was cancelled, and may be tried again.
    pub(crate) fn can_retry(&self) -> bool {
        self.is_cancelled()
            || self.results.build_error.is_some()
            || self.survey_failure().is_some()
            || self.proof_failure().is_some()
            || self.shape_failure().is_some()
    }

    /// Stop findings of the job as it is, as far as they are known and nobody has accepted them.
    pub(crate) fn stop_findings(&self) -> Vec<&Finding> {
        let of_now = self.results.of_revision(self.revision());
        let counts = |f: &&Finding| f.severity() == Severity::Stop && !self.is_accepted(f);
        of_now.filter(counts).collect()
    }

    /// How many.
    pub(crate) fn stops(&self) -> usize {
        self.stop_findings().len()
    }

    /// Dimension lines worth drawing: around what is held, or else to all that is too near.
    pub(crate) fn nearby(&self) -> Option<&Nearby> {
        let rest = || {
            let proven = self.results.proven.as_ref()?;
            let is_new = proven.revision == self.revision() && !proven.too_near.lines.is_empty();
            is_new.then_some(&proven.too_near)
        };
        self.drag.nearby().or_else(rest)
    }

    /// Whether what is held still stands where distances were measured.
    pub(crate) fn is_measured_here(&self, around: &Nearby) -> bool {
        let stands = |(at, placement)| {
            self.content().and_then(|content| content.placement(at)) == Some(placement)
        };
        around.of.iter().all(|(at, placement)| stands((*at, placement)))
    }

    /// All that is near, in words, for the names of the drawings.
    pub(crate) fn words_of(&self, around: &Nearby) -> String {
        let line = |line: &Dimension| {
            let to = match line.to {
                Target::Placement(at) => self.placement_name(at),
                Target::Wall(wall) => format!("the {}", wall.name()),
            };
            format!(", {} to {to}", line.words())
        };
        around.lines.iter().map(line).collect()
    }

    /// Every placement of the job, in order.
    pub(crate) fn placements(&self) -> impl Iterator<Item = (PlacementId, job::Placement)> + '_ {
        let all = self.content().into_iter().flat_map(|content| content.job.placements());
        all.map(|(at, placement)| (at, *placement))
    }

    /// The placement of a row of a shown layer's placement table.
    pub(crate) fn placement_of_row(shown: &ShownLayer, row: u32) -> Option<PlacementId> {
        shown.build.placements().nth(row as usize)
    }

    /// The placements that a finding is about, by now: the one that it names, wherever in the list that is
    /// after others were added or taken out; all of the part where that is not to be told.
    pub(crate) fn targets_of(&self, place: &Place) -> Vec<PlacementId> {
        if let Some(at) = self.target_of(place) {
            return vec![at];
        }
        let (Some(name), Some(content)) = (place.part(), self.content()) else { return Vec::new() };
        let parts = &content.job.parts;
        let is_of = |at: &PlacementId| parts[at.part].name == name || parts[at.part].mesh == name;
        content.job.placements().map(|(at, _)| at).filter(is_of).collect()
    }

    fn target_of(&self, place: &Place) -> Option<PlacementId> {
        let NamedPlacement { id, name } = place.placement.as_ref()?;
        let found_in = &self.results.build.as_ref()?.build.loaded.job;
        if found_in.placement_name(*id)? != *name {
            return None; // found in another build
        }
        let was = &found_in.parts[id.part].placements[id.copy];
        let parts = &self.content()?.job.parts;
        let part = parts.iter().position(|part| part.name == name.part)?;
        let copy = parts[part].placements.iter().position(|now| now == was)?;
        Some(PlacementId { part, copy })
    }

    /// What a placement is called: "hinge", or "hinge 2 of 3".
    pub(crate) fn placement_name(&self, at: PlacementId) -> String {
        let name = self.content().and_then(|content| content.job.placement_name(at));
        name.map_or_else(String::new, |name| name.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::results::{Built, MeshState, Survey};
    use crate::state::theme::Theme;
    use base::Progress;
    use pipeline::Build;
    use std::path::Path;

    /// A finding keeps to its copy when others leave the list, and to the part when the copy has moved.
    #[test]
    fn an_old_finding_never_leads_to_another_copy() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        let progress = Progress::default();
        let mut loaded = pipeline::load(&root.join("demo-jobs/coupon.ron"), &progress).unwrap();
        let first = loaded.job.parts[0].placements[0];
        let beside = |x| job::Placement { location_mm: [x, 0.0, 20.0], ..first };
        loaded.job.parts[0].placements.extend([beside(40.0), beside(-40.0)]);
        let (job, machine) = (loaded.job.clone(), loaded.machine.clone());
        let mut model = Model::empty(Ink::of(Theme::Paper));
        let content = Content { job, machine, recipes: std::collections::BTreeMap::new() };
        model.document = Some(Document::unsaved(PathBuf::new(), content));
        let place =
            Place { placement: Some(loaded.named(PlacementId::new(0, 1))), ..Place::default() };
        let build = Arc::new(Build::new(loaded, &progress).unwrap());
        model.results.build = Some(Built { revision: 0, build });

        let edit = |change: fn(&mut Content)| crate::state::edit::Edit::new("edit", change);
        assert_eq!(model.targets_of(&place), [PlacementId::new(0, 1)]);
        let document = model.document.as_mut().unwrap();
        document.edit(edit(|content| content.job.parts[0].remove_placement(0)));
        assert_eq!(model.targets_of(&place), [PlacementId::new(0, 0)], "the same copy, moved up");
        let document = model.document.as_mut().unwrap();
        document.edit(edit(|content| content.job.parts[0].placements[0].location_mm[1] = 5.0));
        let all = [PlacementId::new(0, 0), PlacementId::new(0, 1)];
        assert_eq!(model.targets_of(&place), all, "nobody knows which");
    }

    /// A build of the meshes that happen to be there would show the middle of another build.
    #[test]
    fn a_job_is_being_read_until_every_mesh_is_there() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        let path = root.join("demo-jobs/tide_gauge_kit.ron");
        let loaded = pipeline::load(&path, &Progress::default()).unwrap();
        let parts = loaded.job.parts.clone();
        let mut model = Model::empty(Ink::of(Theme::Paper));
        assert!(!model.is_loading(), "there is no job");
        let (job, machine) = (loaded.job, loaded.machine);
        let content = Content { job, machine, recipes: std::collections::BTreeMap::new() };
        model.document = Some(Document::unsaved(PathBuf::new(), content));
        for part in &parts {
            assert!(model.is_loading(), "{} is not read", part.mesh);
            let key = crate::state::results::mesh_key(part);
            let failed = MeshState::Failed("Not read.".to_owned()); // known is enough
            model.results.meshes.insert(key, failed);
        }
        assert!(!model.is_loading());
    }

    #[test]
    fn a_failed_survey_is_said_until_the_job_changes_or_it_is_tried_again() {
        let mut model = Model::empty(Ink::of(Theme::Paper));
        assert!(!model.can_retry());
        let failure = || Some(Failure { revision: 0, sentence: "It crashed.".to_owned() });
        model.results.survey_failure = failure();
        assert_eq!((model.survey_failure(), model.can_retry()), (Some("It crashed."), true));
        model.results.generation = 1; // another mesh, say
        assert_eq!((model.survey_failure(), model.can_retry()), (None, false));
        model.results.generation = 0;
        model.results.take_survey(Survey::default());
        assert_eq!(model.survey_failure(), None);
        model.results.proof_failure = failure();
        assert_eq!((model.proof_failure(), model.can_retry()), (Some("It crashed."), true));
    }
}
