//! Opening jobs, and starting new ones.

use super::App;
use crate::state::actions::Edit;
use crate::state::document::{Content, Document, Moved};
use crate::state::first;
use crate::state::model::Cursor;
use crate::work::files::{self, Startup};
use crate::work::recovery::Recovery;
use crate::work::scheduler::TaskKind;
use crate::work::tasks::{Context, Outcome};
use std::collections::BTreeMap;
use std::path::PathBuf;

impl App {
    /// Takes what is kept from session to session, and opens what the window was started with.
    pub(super) fn take_startup(&mut self, startup: Startup, ctx: &egui::Context) {
        let Startup { settings, place, orphans } = startup;
        self.settings = settings;
        self.settings_known = true;
        self.orphans = orphans;
        self.recovery = place.map(|place| Recovery::new(place, &self.threads));
        self.model.drag.contact = self.settings.on_contact;
        self.show_theme(ctx);
        ctx.set_zoom_factor(self.settings.zoom.factor());
        self.open_first();
    }

    /// Opens what the window was started with.
    pub(super) fn open_first(&mut self) {
        match self.to_open.take() {
            Some(path) => self.open(path), // with the meshes, once it is there
            None => self.add_first(),
        }
    }

    /// Adds the meshes that the window was started with.
    fn add_first(&mut self) {
        let meshes = std::mem::take(&mut self.to_add);
        if !meshes.is_empty() {
            self.add_meshes(meshes);
        }
    }

    /// Opens a job in the background; the present one stays until the new one is read.
    pub(super) fn open(&mut self, path: PathBuf) {
        self.open_with(path, BTreeMap::new());
    }

    /// The same, where files that the job names were found elsewhere.
    pub(super) fn open_with(&mut self, path: PathBuf, found: BTreeMap<String, PathBuf>) {
        if self.is_in_the_way() {
            return;
        }
        let label = format!("Opening {}", path.display());
        let open = move |context: &_| files::open(path, found, context);
        self.scheduler.start(TaskKind::Open, label, Outcome::Failed, open);
    }

    pub(super) fn open_demo(&mut self) {
        if !self.is_in_the_way() {
            let label = "Opening the demo job";
            self.scheduler.start(TaskKind::Open, label, Outcome::Failed, files::open_demo);
        }
    }

    /// Whether unsaved changes forbid to replace the job; says so.
    fn is_in_the_way(&mut self) -> bool {
        let dirty = self.model.document.as_ref().is_some_and(Document::is_dirty);
        if dirty {
            let sentence = "The job has changes that are not saved. Save it first, or undo them.";
            self.say(sentence);
        }
        dirty
    }

    pub(super) fn show_opened(&mut self, path: PathBuf, content: Content, moved: Moved) {
        if self.is_in_the_way() {
            return; // what was done while the file was read
        }
        self.settings.remember(&path);
        self.show_document(Document::opened(path, content));
        if !moved.is_nothing() {
            self.edit(Edit::new("find what the job names", move |content| moved.apply_to(content)));
        }
        self.add_first();
    }

    fn show_document(&mut self, document: Document) {
        let last = self.model.revision();
        for kind in [
            TaskKind::Read,
            TaskKind::Mesh,
            TaskKind::Compute,
            TaskKind::Prefetch,
            TaskKind::Survey,
            TaskKind::Clearance,
            TaskKind::Nest,
        ] {
            self.scheduler.cancel(kind);
        }
        self.model.results.renew(last);
        self.model.let_go();
        self.model.document = Some(document);
        self.document_number += 1;
        self.model.selection.clear();
        self.model.attention_mm = None;
        self.model.cursor = Cursor::default();
        self.computing = None;
        self.just_opened = true;
        self.views.fit();
    }

    /// A job without parts, on the first machine and recipe.
    pub(super) fn new_job(&mut self) {
        if self.is_in_the_way() {
            return;
        }
        match first::content() {
            Ok(content) => {
                let folder = std::env::current_dir().unwrap_or_default();
                self.show_document(Document::unsaved(folder, content));
            }
            Err(sentence) => self.tell(sentence),
        }
    }

    pub(super) fn settle_orphan(&mut self, wanted: bool) {
        if self.orphans.is_empty() || (wanted && self.is_in_the_way()) {
            return;
        }
        let orphan = self.orphans.remove(0);
        if wanted {
            self.show_document(orphan.recover());
        }
        let forget = move |_: &Context| orphan.forget();
        self.scheduler.start(TaskKind::Tidy, "Tidying up", Outcome::Failed, forget);
    }
}
