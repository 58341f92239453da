//! Saving the job, its recipes and machine, and builds that nesting filled beyond the first.

use super::App;
use super::prompt::{Closing, Prompt};
use crate::state::actions::{Edit, Purpose};
use crate::state::document::Moved;
use crate::work::own_files::folder_of;
use crate::work::saved::{SavedJob, SavedRecipe};
use crate::work::saving;
use crate::work::scheduler::TaskKind;
use crate::work::tasks::{Context, Outcome};
use std::path::PathBuf;

impl App {
    /// Saves the job to its file. What was changed of machine and recipes goes beside it.
    pub(super) fn save(&mut self) {
        if self.scheduler.running_in(TaskKind::Save).is_some() {
            // Where the job belongs then is not known yet; what waits already saves it, too.
            let waits = self.save_next.as_ref().is_some_and(|(of, _)| *of == self.document_number);
            if !waits {
                self.save_next = Some((self.document_number, None));
            }
            return;
        }
        match self.model.document.as_ref().and_then(|document| document.path.clone()) {
            Some(path) => self.save_to(path),
            None => self.ask(Purpose::SaveJob),
        }
    }

    pub(super) fn save_to(&mut self, path: PathBuf) {
        let Some(document) = &self.model.document else { return };
        if self.scheduler.running_in(TaskKind::Save).is_some() {
            // What the earlier save calls its files is not known yet.
            self.save_next = Some((self.document_number, Some(path)));
            return;
        }
        let folders = [document.folder.clone(), folder_of(&path).to_owned()];
        let mut content = (**document.content()).clone();
        if let Some([a, b]) = content.clash(&folders[0], &folders[1]) {
            let sentence = format!(
                "Not saved: the job has different recipes under {a:?} and {b:?}, which are one file. Save a \
                 copy of one of them under another name first."
            );
            return self.say(sentence);
        }
        content.rebase(&folders[0], &folders[1]);
        let mut before = document.saved().map(|saved| (**saved).clone());
        if let Some(before) = &mut before {
            before.rebase(&folders[0], &folders[1]);
        }
        let job = SavedJob {
            document: self.document_number,
            path,
            earlier: document.path.clone(),
            content,
            before,
            moved: Moved { folders, ..Moved::default() },
            written: Vec::new(),
            kept: Vec::new(),
        };
        self.start_saving(move |context| saving::save(job, context));
    }

    fn start_saving(&mut self, save: impl FnOnce(&Context) + Send + 'static) {
        self.scheduler.start(TaskKind::Save, "Saving", Outcome::Failed, save);
    }

    /// Starts the save that waited for an earlier one.
    pub(super) fn save_what_waits(&mut self) {
        if self.scheduler.running_in(TaskKind::Save).is_none()
            && let Some((document, path)) = self.save_next.take()
            && document == self.document_number
        {
            match path {
                Some(path) => self.save_to(path),
                None => self.save(),
            }
        }
    }

    /// Notes what was saved. The person may have gone on meanwhile.
    pub(super) fn take_saved(&mut self, job: SavedJob) {
        self.settings.remember(&job.path);
        if job.document != self.document_number {
            return;
        }
        let told = told(&job);
        let SavedJob { path, content, moved, written, .. } = job;
        if moved.folders[0] != moved.folders[1] {
            // Meshes are known by their names as seen from the folder.
            self.scheduler.cancel(TaskKind::Mesh);
            self.model.results.forget_meshes();
        }
        let before = self.model.revision();
        if let Some(document) = &mut self.model.document {
            document.mark_saved(path, content, &moved);
            document.written = written;
            if !document.is_dirty() && self.prompts.contains(&Prompt::Close) {
                self.prompts.clear();
                self.closing = Closing::Now;
            }
        }
        if let Some(nested) = &mut self.model.results.nested {
            nested.jobs.iter_mut().for_each(|job| moved.rename_in(job));
        }
        if self.nesting_from == Some(before) {
            self.nesting_from = Some(self.model.revision()); // a save is no change that ends it
            self.moved_while_nesting.push(moved);
        }
        if let Some(sentence) = told {
            self.tell(sentence);
        }
    }

    /// Saves a build that nesting filled beyond the first as a job of its own.
    pub(super) fn save_build(&mut self, number: usize, path: PathBuf) {
        let job = self.model.results.nested.as_ref().and_then(|nested| nested.jobs.get(number));
        let (Some(job), Some(document)) = (job, &self.model.document) else { return };
        let content = document.content();
        let is_saved = document.saved().is_some_and(|saved| {
            saved.machine == content.machine && saved.recipes == content.recipes
        });
        if !is_saved {
            let sentence = "Not saved: machine or recipe have changes that this build is to have, too. Save \
                            the job first.";
            return self.say(sentence);
        }
        let (job, folder, inputs) = (job.clone(), document.folder.clone(), document.inputs());
        self.start_saving(move |context| {
            saving::save_build(&job, &folder, path, &inputs, context);
        });
    }

    /// Saves a recipe as a file of its own, which the job then uses in its place; over its present file if the
    /// person names that.
    pub(super) fn save_recipe(&mut self, old: String, path: PathBuf) {
        let Some(document) = &self.model.document else { return };
        let Some(recipe) = document.content().recipes.get(&old).cloned() else { return };
        let original = document.folder.join(&old);
        let inputs = document.inputs();
        let folder = document.folder.clone();
        let copy = SavedRecipe { document: self.document_number, old, folder, path, recipe };
        self.start_saving(move |context| {
            let inputs = inputs.but(&original); // looks at the disk
            saving::save_recipe(copy, &original, &inputs, context);
        });
    }

    pub(super) fn take_saved_recipe(&mut self, copy: SavedRecipe) {
        let SavedRecipe { document: number, old, folder, path, recipe } = copy;
        let (Some(new), Some(document)) = (self.in_job(&path), &self.model.document) else {
            return;
        };
        if number != self.document_number {
            return;
        }
        // The job may have been saved elsewhere meanwhile.
        let old = pipeline::rebased(&old, &folder, &document.folder);
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

/// What a save did beside writing the job, in words; nothing if that was all.
fn told(job: &SavedJob) -> Option<String> {
    let SavedJob { moved, written, kept, .. } = job;
    let shown = |file: &PathBuf| file.display().to_string();
    let mut sentences = Vec::new();
    let named = moved.machine.iter().chain(&moved.recipes);
    let left: Vec<&str> =
        named.map(|[old, _]| old.as_str()).filter(|old| !is_of_new_job(old)).collect();
    if moved.machine.is_some() || !moved.recipes.is_empty() {
        let written: Vec<String> = written.iter().map(shown).collect();
        sentences.push(format!("Saved: {}.", written.join(", ")));
    }
    if !left.is_empty() {
        sentences.push(format!(
            "What you changed is in a file of this job's own; what other jobs may share is as it was: {}.",
            left.join(", ")
        ));
    }
    if !kept.is_empty() {
        let kept: Vec<String> = kept.iter().map(shown).collect();
        sentences.push(format!("What was there before is kept as {}.", kept.join(", ")));
    }
    (!sentences.is_empty()).then(|| sentences.join(" "))
}

fn is_of_new_job(file: &str) -> bool {
    use crate::state::first::{MACHINE_NAME, RECIPE_NAME};
    file.ends_with(MACHINE_NAME) || file.ends_with(RECIPE_NAME)
}
