//! Keeping results in step with the document: what was found, what to start next.

use super::App;
use super::prompt::Prompt;
use crate::state::document::Document;
use crate::state::results::{Built, Failure, MeshState, mesh_key};
use crate::work::scheduler::TaskKind;
use crate::work::tasks::{self, Outcome, Wanted};
use crate::work::watch::WatchedFile;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

/// Meshes read side by side.
const MESHES_AT_ONCE: usize = 2;
/// Stale work that has run this long is not worth waiting for; younger work may finish, so that
/// something shows while a number is being dragged.
const PATIENCE: Duration = Duration::from_millis(250);
/// The survey starts after a pause this long.
const PAUSE: Duration = Duration::from_millis(400);

impl App {
    /// Takes what came of the tasks.
    pub(super) fn collect(&mut self, ctx: &egui::Context) {
        for outcome in self.scheduler.collect() {
            self.take(outcome, ctx);
        }
        self.save_what_waits();
        self.follow_writing();
        for crash in self.threads.take_crashes() {
            self.tell(crash);
        }
        self.drag.take_answers(&mut self.model);
        self.model.results.changed_meshes = self.watch.changed();
    }

    fn take(&mut self, outcome: Outcome, ctx: &egui::Context) {
        let results = &mut self.model.results;
        match outcome {
            Outcome::Started(startup) => self.take_startup(*startup, ctx),
            Outcome::NotStarted(sentence) => {
                self.tell(sentence);
                self.open_first();
            }
            Outcome::Opened(path, content, moved) => self.show_opened(path, *content, moved),
            Outcome::Unfound(unfound) => self.prompts.push(Prompt::Unfound(unfound)),
            Outcome::MeshFiles(meshes, failed) => self.take_new_meshes(meshes, failed),
            Outcome::FoundBeside(folder, found) => self.take_found(&folder, found),
            Outcome::Mesh(key, mesh, stamp) => {
                results.stamps.extend(stamp.map(|stamp| (key.clone(), stamp)));
                let state = mesh.map_or_else(MeshState::Failed, MeshState::Ready);
                results.meshes.insert(key, state);
                results.generation += 1; // the build is made again with this mesh
            }
            Outcome::Recipe(part, path, recipe) => self.take_recipe(part, &path, *recipe),
            Outcome::Machine(path, machine) => self.take_machine(&path, *machine),
            Outcome::Built(built) => self.take_built(built),
            Outcome::NotBuilt(sentence) => results.build_error = Some(sentence),
            Outcome::Layer(layer) => {
                results.build_error = None;
                results.keep(Arc::clone(&layer));
                results.layer = Some(layer);
            }
            Outcome::Neighbour(layer) => results.keep(layer),
            Outcome::Survey(survey) => results.take_survey(survey),
            Outcome::NoSurvey(failure) => results.survey_failure = Some(failure),
            Outcome::Proven(proven) => results.proven = Some(*proven),
            Outcome::NotProven(failure) => results.proof_failure = Some(failure),
            Outcome::Shape(seen) => self.take_shape(*seen),
            Outcome::NoShapes(failure) => results.shape_failure = Some(failure),
            Outcome::Nested(nested) => self.take_nested(*nested),
            Outcome::Caged(revision, job) => self.take_caged(revision, *job),
            Outcome::ProvenToWrite(proven, request) => self.take_proven_to_write(*proven, request),
            Outcome::Refused(refused) => self.take_refused(refused),
            Outcome::Wrote(built, path, bytes) => self.start_verifying(built, path, bytes),
            Outcome::Written(file) => self.take_written(file),
            Outcome::Saved(job) => self.take_saved(*job),
            Outcome::SavedBuild(path) => self.settings.remember(&path),
            Outcome::SavedRecipe(copy) => self.take_saved_recipe(*copy),
            Outcome::Chosen(purpose, paths) => self.chosen(purpose, paths),
            Outcome::Said(sentence) | Outcome::Failed(sentence) => self.tell(sentence),
        }
    }

    fn take_built(&mut self, built: Built) {
        self.model.results.build_error = None;
        if std::mem::take(&mut self.just_opened) {
            // In the middle of the build there is most likely something to see.
            self.model.cursor.layer = built.build.layer_count() / 2;
        }
        self.model.results.shapes.tell(&built.build);
        self.model.results.build = Some(built);
    }

    /// Starts whatever the present state of the model asks for.
    pub(super) fn keep_up(&mut self, ctx: &egui::Context) {
        if self.model.document.is_none() {
            return;
        }
        if self.seen_revision != self.model.revision() {
            self.seen_revision = self.model.revision();
            self.edited = std::time::Instant::now();
            self.scheduler.cancel(TaskKind::Prefetch);
            self.scheduler.cancel(TaskKind::Survey);
            self.scheduler.cancel(TaskKind::Clearance);
            self.drop_dead_selection();
            self.drop_old_messages();
            self.watch_meshes();
        }
        self.watch_nesting();
        self.start_meshes();
        self.clamp_cursor();
        self.start_layer(ctx);
        if self.layer_is_current() {
            self.start_prefetch();
            self.start_sums(ctx);
            if self.sums_are_known() {
                self.start_shapes();
            }
        }
    }

    /// Whether survey and proof of the job as it is are there, or failed.
    fn sums_are_known(&self) -> bool {
        let surveyed = self.survey_is_current() || self.model.survey_failure().is_some();
        surveyed && (self.clearance_is_current() || self.model.proof_failure().is_some())
    }

    /// Whether everything was looked at that the findings are about, so that what is not among them is gone.
    pub(super) fn all_is_looked_at(&self) -> bool {
        self.build_is_current()
            && self.survey_is_current()
            && self.clearance_is_current()
            && self.shapes_are_current()
    }

    /// Whether results are in step with the document.
    pub(super) fn wants_nothing(&self) -> bool {
        let model = &self.model;
        if model.document.is_none() {
            return true;
        }
        let seen = self.shapes_are_current() || model.shape_failure().is_some();
        let settled = self.layer_is_current() && self.sums_are_known() && seen;
        let given_up = model.results.build_error.is_some();
        let nothing = model.content().is_none_or(|c| c.job.parts.is_empty());
        let given_up = given_up || self.model.is_cancelled();
        !model.is_loading() && (settled || given_up || nothing || self.has_no_layer())
    }

    fn has_no_layer(&self) -> bool {
        self.build_is_current() && self.model.layer_count() == 0
    }

    fn build_is_current(&self) -> bool {
        let built = self.model.results.build.as_ref();
        built.is_some_and(|built| built.revision == self.model.revision())
    }

    fn layer_is_current(&self) -> bool {
        self.build_is_current() && self.model.shown_layer().is_some_and(|(_, stale)| !stale)
    }

    fn survey_is_current(&self) -> bool {
        let survey = &self.model.results.survey;
        survey.complete && survey.revision == Some(self.model.revision())
    }

    fn clearance_is_current(&self) -> bool {
        let proven = self.model.results.proven.as_ref();
        proven.is_some_and(|proven| proven.revision == self.model.revision())
    }

    /// Ends what runs of a kind, because the person asked for it.
    pub(super) fn cancel(&mut self, kind: TaskKind) {
        if kind == TaskKind::Nest && self.nesting_from.is_some() {
            // What it has found so far is wanted, made exact.
            return self.scheduler.finish_early(kind, "Taking the best arrangement");
        }
        self.scheduler.cancel(kind);
        if kind == TaskKind::Mesh {
            for mesh in self.model.results.meshes.values_mut() {
                if matches!(mesh, MeshState::Loading) {
                    let sentence =
                        "Reading this mesh was cancelled. Say where the file is to read it.";
                    *mesh = MeshState::Failed(sentence.to_owned());
                }
            }
        }
        if matches!(
            kind,
            TaskKind::Compute | TaskKind::Survey | TaskKind::Clearance | TaskKind::Shapes
        ) {
            self.model.results.cancelled = Some(self.model.revision());
        }
    }

    /// Takes up again what failed, or what the person cancelled.
    pub(super) fn retry(&mut self) {
        let results = &mut self.model.results;
        results.cancelled = None;
        results.build_error = None;
        results.survey_failure = None;
        results.proof_failure = None;
        results.shape_failure = None;
        self.computing = None;
    }

    fn start_meshes(&mut self) {
        let Some(document) = &self.model.document else { return };
        let content = Arc::clone(document.content());
        for part in &content.job.parts {
            let reading =
                self.scheduler.running().iter().filter(|t| t.kind == TaskKind::Mesh).count();
            if reading >= MESHES_AT_ONCE {
                return;
            }
            let key = mesh_key(part);
            let known = self.model.results.meshes.get(&key);
            let waits = known.is_none();
            if waits {
                self.model.results.meshes.insert(key.clone(), MeshState::Loading);
                let (folder, part) = (document.folder.clone(), part.clone());
                let label = format!("Reading {}", part.mesh);
                let failed = move |why| Outcome::Mesh(key, Err(why), None);
                let read = move |context: &_| tasks::mesh(&folder, &part, context);
                self.scheduler.start(TaskKind::Mesh, label, failed, read);
            }
        }
    }

    fn clamp_cursor(&mut self) {
        if self.build_is_current() {
            let top = self.model.layer_count().saturating_sub(1);
            self.model.cursor.layer = self.model.cursor.layer.min(top);
        }
    }

    /// The layer at the cursor: from the cache, or computed. The newest request wins, but work that
    /// is nearly done may finish.
    fn start_layer(&mut self, ctx: &egui::Context) {
        let revision = self.model.revision();
        let layer = self.model.cursor.layer;
        let Some(content) = self.model.content().cloned() else { return };
        if self.layer_is_current() || content.job.parts.is_empty() || self.has_no_layer() {
            return;
        }
        if self.build_is_current()
            && let Some(shown) = self.model.results.cached(revision, layer)
        {
            self.model.results.layer = Some(shown);
            self.scheduler.cancel(TaskKind::Compute);
            return;
        }
        if self.model.is_loading() {
            return; // the job is built when all its meshes are there
        }
        let request = (revision, layer);
        if self.model.is_cancelled() && self.computing == Some(request) {
            return; // another height or an edit takes it up again
        }
        if let Some(running) = self.scheduler.running_in(TaskKind::Compute) {
            let age = running.started.elapsed();
            if self.computing == Some(request) {
                return;
            }
            if age < PATIENCE {
                ctx.request_repaint_after(PATIENCE.saturating_sub(age));
                return;
            }
        } else if self.computing == Some(request) && self.model.results.build_error.is_some() {
            return; // it cannot be computed, and says so
        }
        self.computing = Some(request);
        let wanted = Wanted {
            revision,
            layer,
            content,
            meshes: self.model.results.meshes.clone(),
            earlier: self.model.results.build.clone(),
        };
        self.scheduler.cancel(TaskKind::Prefetch);
        let compute = move |context: &_| tasks::compute(wanted, context);
        let label = "Computing the layer";
        self.scheduler.start(TaskKind::Compute, label, Outcome::NotBuilt, compute);
    }

    fn start_prefetch(&mut self) {
        let Some(built) = self.model.results.build.clone() else { return };
        if self.scheduler.running_in(TaskKind::Prefetch).is_some() {
            return;
        }
        let (layer, count) = (self.model.cursor.layer, built.build.layer_count());
        let near = [1, -1, 2, -2, 3].map(|step| i64::from(layer) + step);
        let near = near.into_iter().filter_map(|k| u32::try_from(k).ok());
        let missing: Vec<u32> =
            near.filter(|k| *k < count && !self.model.results.has(built.revision, *k)).collect();
        if !missing.is_empty() {
            let prefetch = move |context: &_| tasks::prefetch(&built, &missing, context);
            let label = "Looking ahead";
            self.scheduler.start(TaskKind::Prefetch, label, Outcome::Failed, prefetch);
        }
    }

    /// What concerns the whole build waits for a pause in editing.
    fn start_sums(&mut self, ctx: &egui::Context) {
        if let (Some(proven), Some(built)) =
            (&mut self.model.results.proven, &self.model.results.build)
            && proven.revision != built.revision
            && pipeline::is_arranged_alike(&proven.build.loaded, &built.build.loaded)
        {
            proven.revision = built.revision; // another hatch moves no part
        }
        let idle = |kind| self.scheduler.running_in(kind).is_none();
        let survey = !self.survey_is_current()
            && self.model.survey_failure().is_none()
            && idle(TaskKind::Survey);
        let clearance = !self.clearance_is_current()
            && self.model.proof_failure().is_none()
            && idle(TaskKind::Clearance);
        if self.model.is_cancelled() || !(survey || clearance) {
            return;
        }
        let pause = self.edited.elapsed();
        if pause < PAUSE {
            ctx.request_repaint_after(PAUSE.saturating_sub(pause));
            return;
        }
        let Some(built) = self.model.results.build.clone() else { return };
        let revision = built.revision;
        if clearance {
            let (built, label) = (built.clone(), "Proving clearances");
            let failed = move |sentence| Outcome::NotProven(Failure { revision, sentence });
            let prove = move |context: &_| tasks::clearance(&built, context);
            self.scheduler.start(TaskKind::Clearance, label, failed, prove);
        }
        if survey {
            let label = "Looking through all layers";
            let failed = move |sentence| Outcome::NoSurvey(Failure { revision, sentence });
            let survey = move |context: &_| tasks::survey(&built, context);
            self.scheduler.start(TaskKind::Survey, label, failed, survey);
        }
    }

    /// Watches the files of the meshes that were read.
    fn watch_meshes(&self) {
        let Some(document) = &self.model.document else { return };
        let results = &self.model.results;
        let mut watched: BTreeMap<String, WatchedFile> = BTreeMap::new();
        for part in &document.content().job.parts {
            if let Some(stamp) = results.stamps.get(&mesh_key(part)) {
                let path = || document.folder.join(&part.mesh);
                let file = watched.entry(part.mesh.clone());
                file.or_insert_with(|| WatchedFile::new(path())).stamps.insert(*stamp);
            }
        }
        self.watch.keep(watched);
    }

    fn drop_dead_selection(&mut self) {
        let Some(content) = self.model.document.as_ref().map(Document::content) else { return };
        let count =
            |part: usize| content.job.parts.get(part).map(|part| part.placements.len().max(1));
        self.model.selection.retain(|at| count(at.part).is_some_and(|count| at.copy < count));
    }

    /// Runs the beam on while it plays.
    pub(super) fn run_beam(&mut self, ctx: &egui::Context) {
        let end_s = self.model.layer_time_s();
        let cursor = &mut self.model.cursor;
        if !cursor.playing {
            return;
        }
        let passed = f64::from(ctx.input(|input| input.stable_dt).min(0.5));
        cursor.time_s += passed * cursor.pace;
        if cursor.time_s >= end_s {
            cursor.time_s = end_s;
            cursor.playing = false;
        }
        ctx.request_repaint();
    }
}
