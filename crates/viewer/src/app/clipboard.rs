//! Parts in the clipboard: the text of a job that holds them alone, with whole paths, so that they can be pasted into
//! any job, and into a file.

use super::App;
use crate::state::actions::Edit;
use crate::state::content::Content;
use crate::state::paths::absolute;
use base::PlacementId;
use egui::Context;
use job::{Job, PartEntry};
use std::collections::BTreeSet;
use std::path::Path;

impl App {
    /// Copies what is selected.
    pub(super) fn copy_parts(&self, ctx: &Context) {
        let Some(document) = &self.model.document else { return };
        let copied = copied(document.content(), &document.folder, &self.model.selection);
        ctx.copy_text(copied.to_ron());
    }

    /// Adds the parts of a copied text where they stood in their own job; they are then selected.
    pub(super) fn paste_parts(&mut self, text: &str) {
        let pasted = match Job::from_ron(text) {
            Ok(job) => job.parts,
            Err(_) => return self.say("Nothing is pasted: the clipboard holds no parts."),
        };
        if self.model.document.is_none() {
            self.new_job();
        }
        let Some(document) = &self.model.document else { return };
        let content = document.content();
        let mut parts = Vec::new();
        let mut names: BTreeSet<String> =
            content.job.parts.iter().map(|part| part.name.clone()).collect();
        let mut strangers = Vec::new();
        for mut part in pasted {
            part.name = job::free_name(&part.name, |name| names.contains(name));
            names.insert(part.name.clone());
            part.mesh = pipeline::seen_from(Path::new(&part.mesh), &document.folder);
            let own = part.recipe.take();
            let own = own.map(|file| pipeline::seen_from(Path::new(&file), &document.folder));
            match own {
                Some(file) if content.recipes.contains_key(&file) => part.recipe = Some(file),
                Some(_) => strangers.push(part.name.clone()),
                None => {}
            }
            parts.push(part);
        }
        let first = content.job.parts.len();
        let chosen = parts.iter().enumerate().flat_map(|(number, part)| {
            let copies = 0..part.placements.len().max(1);
            copies.map(move |copy| PlacementId { part: first + number, copy })
        });
        let chosen = chosen.collect();
        let label = match &parts[..] {
            [only] => format!("paste {}", only.name),
            many => format!("paste {} parts", many.len()),
        };
        self.edit(Edit::new(label, move |content| content.job.parts.extend(parts)));
        self.model.selection = chosen;
        if !strangers.is_empty() {
            let names = strangers.join(", ");
            self.tell(format!(
                "Built with the recipe of this job, which does not have the recipe of their own: {names}."
            ));
        }
    }
}

/// A job with the selected placements alone, and whole paths.
fn copied(content: &Content, folder: &Path, selection: &BTreeSet<PlacementId>) -> Job {
    let whole = |file: &str| absolute(&folder.join(file)).to_string_lossy().replace('\\', "/");
    let mut job = content.job.clone();
    let only_selected = |(number, mut part): (usize, PartEntry)| {
        let is_selected = |copy: usize| selection.contains(&PlacementId { part: number, copy });
        if !(0..part.placements.len().max(1)).any(is_selected) {
            return None;
        }
        for copy in (0..part.placements.len()).rev().filter(|copy| !is_selected(*copy)) {
            part.remove_placement(copy);
        }
        part.mesh = whole(&part.mesh);
        part.recipe = part.recipe.as_deref().map(whole);
        Some(part)
    };
    job.parts =
        std::mem::take(&mut job.parts).into_iter().enumerate().filter_map(only_selected).collect();
    job.machine = whole(&job.machine);
    job.recipe = whole(&job.recipe);
    job
}
