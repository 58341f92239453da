//! Saving the job, its recipes and machine, and builds that nesting filled beyond the first.

use super::App;
use super::prompt::{Closing, Prompt};
use crate::state::actions::{Edit, Purpose};
use crate::state::paths::absolute;
use crate::work::files::{self, SavedJob};
use crate::work::scheduler::TaskKind;
use crate::work::tasks::{Context, Outcome};
use job::Recipe;
use std::path::{Path, PathBuf};
use std::sync::Arc;

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
        let (old, new) = (&document.folder, path.parent().unwrap_or(Path::new("")));
        let moved_from = (absolute(old) != absolute(new)).then(|| old.clone());
        let mut content = (**document.content()).clone();
        if moved_from.is_some() {
            content.rebase(old, new);
        }
        let (number, before) = (self.document_number, document.saved().cloned());
        let job = SavedJob { document: number, path, content, before, moved_from };
        self.start_saving(move |context| files::save(job, context));
    }

    fn start_saving(&mut self, save: impl FnOnce(&Context) + Send + 'static) {
        self.scheduler.start(TaskKind::Save, "Saving", Outcome::Failed, save);
    }

    /// Notes what was saved. The person may have gone on meanwhile.
    pub(super) fn take_saved(&mut self, job: SavedJob) {
        let SavedJob { document: number, path, content, moved_from, .. } = job;
        self.settings.remember(&path);
        if number != self.document_number {
            return;
        }
        if let Some(from) = moved_from {
            let to = path.parent().map(Path::to_owned).unwrap_or_default();
            let moved = move |content: &mut crate::state::document::Content| {
                content.rebase(&from, &to);
            };
            self.edit(Edit::new("save elsewhere", moved));
        }
        if let Some(document) = &mut self.model.document {
            document.mark_saved(path, Arc::new(content));
            if !document.is_dirty() && self.prompts.contains(&Prompt::Close) {
                self.prompts.clear();
                self.closing = Closing::Now;
            }
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
        self.start_saving(move |context| files::save_recipe((old, new), recipe, &path, context));
    }

    pub(super) fn take_saved_recipe(&mut self, old: String, new: String, recipe: Recipe) {
        self.edit(Edit::new(format!("copy recipe to {new}"), move |content| {
            content.recipes.insert(new.clone(), recipe);
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
