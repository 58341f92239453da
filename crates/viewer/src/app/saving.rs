//! Saving the job, its recipes and machine, and builds that nesting filled beyond the first.

use super::App;
use super::prompt::{Closing, Prompt};
use crate::state::actions::{Edit, Purpose};
use crate::work::files::{self, SavedJob, SavedRecipe};
use crate::work::scheduler::TaskKind;
use crate::work::tasks::{Context, Outcome};
use std::path::{Path, PathBuf};

fn folder_of(file: &Path) -> &Path {
    file.parent().unwrap_or(Path::new(""))
}

impl App {
    /// Saves the job to its file, with every recipe and the machine if they were changed.
    pub(super) fn save(&mut self) {
        match self.model.document.as_ref().and_then(|document| document.path.clone()) {
            Some(path) => self.save_to(path),
            None => self.ask(Purpose::SaveJob),
        }
    }

    pub(super) fn save_to(&mut self, path: PathBuf) {
        let Some(document) = &self.model.document else { return };
        let mut content = (**document.content()).clone();
        content.rebase(&document.folder, folder_of(&path));
        // What an earlier save, which is still to be done, leaves in the files is not known yet.
        let is_first = self.scheduler.running_in(TaskKind::Save).is_none();
        let before = document.saved().filter(|_| is_first).cloned();
        let job = SavedJob { document: self.document_number, path, content, before };
        self.start_saving(move |context| files::save(job, context));
    }

    fn start_saving(&mut self, save: impl FnOnce(&Context) + Send + 'static) {
        self.scheduler.start(TaskKind::Save, "Saving", Outcome::Failed, save);
    }

    /// Notes what was saved. The person may have gone on meanwhile.
    pub(super) fn take_saved(&mut self, job: SavedJob) {
        let SavedJob { document: number, path, content, .. } = job;
        self.settings.remember(&path);
        if number != self.document_number {
            return;
        }
        let Some(document) = &self.model.document else { return };
        let mut moved = (**document.content()).clone();
        moved.rebase(&document.folder, folder_of(&path));
        if moved != **document.content() {
            self.edit(Edit::new("save elsewhere", move |content| *content = moved));
        }
        let before = self.model.revision();
        if let Some(document) = &mut self.model.document {
            document.mark_saved(path, content);
            if !document.is_dirty() && self.prompts.contains(&Prompt::Close) {
                self.prompts.clear();
                self.closing = Closing::Now;
            }
        }
        if self.nesting_from == Some(before) {
            self.nesting_from = Some(self.model.revision()); // a save is no change that ends it
        }
    }

    /// Saves a build that nesting filled beyond the first as a job of its own.
    pub(super) fn save_build(&mut self, number: usize, path: PathBuf) {
        let job = self.model.results.nested.as_ref().and_then(|nested| nested.jobs.get(number));
        let (Some(job), Some(document)) = (job, &self.model.document) else { return };
        let (job, folder) = (job.clone(), document.folder.clone());
        self.start_saving(move |context| files::save_build(&job, &folder, path, context));
    }

    /// Saves a recipe as a file of its own, which the job then uses in its place.
    pub(super) fn save_recipe(&mut self, old: String, path: PathBuf) {
        let (Some(new), Some(content)) = (self.in_job(&path), self.model.content()) else { return };
        let Some(recipe) = content.recipes.get(&old).cloned() else { return };
        let copy = SavedRecipe { document: self.document_number, old, new, recipe };
        self.start_saving(move |context| files::save_recipe(copy, &path, context));
    }

    pub(super) fn take_saved_recipe(&mut self, copy: SavedRecipe) {
        let SavedRecipe { document: number, old, new, recipe } = copy;
        if number != self.document_number {
            return;
        }
        self.edit(Edit::new(format!("copy recipe to {new}"), move |content| {
            // The person may have gone on with it meanwhile.
            let now = content.recipes.get(&old).cloned().unwrap_or(recipe);
            content.recipes.insert(new.clone(), now);
            if content.job.recipe == old {
                content.job.recipe.clone_from(&new);
            }
            for part in &mut content.job.parts {
                if part.recipe.as_ref() == Some(&old) {
                    part.recipe = Some(new.clone());
                }
            }
        }));
    }

    /// Copies unsaved changes where a crash cannot take them.
    pub(super) fn autosave(&mut self, ctx: &egui::Context) {
        let (Some(recovery), Some(document)) = (&mut self.recovery, &self.model.document) else {
            return;
        };
        if let Some(wait) = recovery.keep(document) {
            ctx.request_repaint_after(wait);
        }
    }
}
