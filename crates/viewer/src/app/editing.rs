//! Edits that commands make: undo, duplicate, delete.

use super::App;
use crate::state::actions::Edit;
use crate::state::document::Content;
use crate::state::free_places::FreePlaces;
use crate::state::moves;
use base::PlacementId;
use job::PartEntry;
use std::collections::{BTreeMap, BTreeSet};

/// What was selected before an edit.
#[derive(Default)]
pub(super) struct Chosen {
    /// Each with the name of its part.
    placements: Vec<(PlacementId, String)>,
    /// The names of all parts.
    parts: BTreeSet<String>,
}

impl App {
    pub(super) fn undo(&mut self) {
        self.model.let_go();
        let chosen = self.chosen_by_name();
        if let Some(document) = &mut self.model.document {
            document.undo();
        }
        self.choose_by_name(&chosen);
    }

    pub(super) fn redo(&mut self) {
        self.model.let_go();
        let chosen = self.chosen_by_name();
        if let Some(document) = &mut self.model.document {
            document.redo();
        }
        self.choose_by_name(&chosen);
    }

    /// What is selected, with the names of the parts.
    pub(super) fn chosen_by_name(&self) -> Chosen {
        let Some(content) = self.model.content() else { return Chosen::default() };
        let name = |at: &PlacementId| content.job.parts.get(at.part).map(|part| part.name.clone());
        let placements = self.model.selection.iter().filter_map(|at| Some((*at, name(at)?)));
        let parts = content.job.parts.iter().map(|part| part.name.clone());
        Chosen { placements: placements.collect(), parts: parts.collect() }
    }

    /// Lets the selection follow parts that now stand elsewhere in the list.
    pub(super) fn choose_by_name(&mut self, before: &Chosen) {
        let Some(content) = self.model.content() else { return };
        let parts = &content.job.parts;
        let stays = |(at, name): &(PlacementId, String)| {
            parts.get(at.part).is_some_and(|part| part.name == *name)
        };
        if before.placements.iter().all(stays) {
            return;
        }
        let by_name: BTreeMap<&str, usize> =
            parts.iter().enumerate().map(|(part, entry)| (&*entry.name, part)).collect();
        let was_there =
            |part: usize| parts.get(part).is_none_or(|part| before.parts.contains(&part.name));
        let now = before.placements.iter().filter_map(|(at, name)| {
            let known = by_name.get(name.as_str()).copied();
            // a name that is new where the part stood: it was renamed; else the part is gone
            let part = known.or_else(|| (!was_there(at.part)).then_some(at.part))?;
            Some(PlacementId { part, copy: at.copy })
        });
        self.model.selection = now.collect();
    }

    /// One more copy of each selected placement, where there is room; the copies are then selected.
    pub(super) fn duplicate(&mut self) {
        let selected = self.model.selection.clone();
        let Some(content) = self.model.content() else { return };
        let mut counts: Vec<usize> = content.job.parts.iter().map(|p| p.placements.len()).collect();
        let (mut copies, mut placements) = (BTreeSet::new(), Vec::new());
        let mut beside = FreePlaces::new(&self.model);
        for &at in &selected {
            let part = &content.job.parts[at.part];
            let Some(placement) = part.placements.get(at.copy) else { continue };
            let placement = beside.place(at, *placement);
            copies.insert(PlacementId { part: at.part, copy: counts[at.part] });
            counts[at.part] += 1;
            placements.push((at.part, placement, part.changes_of(at.copy).to_vec()));
        }
        let label = moves::label("duplicate", selected.len());
        self.edit(Edit::new(label, move |content: &mut Content| {
            for (part, placement, changes) in placements {
                let part = &mut content.job.parts[part];
                if !changes.is_empty() {
                    part.exposure_changes.insert(part.placements.len(), changes);
                }
                part.placements.push(placement);
            }
        }));
        self.model.selection = copies;
    }

    /// Takes the selected placements out; a part without placements leaves the job, also if it was chosen
    /// without one.
    pub(super) fn delete(&mut self) {
        let selected = std::mem::take(&mut self.model.selection);
        let label = moves::label("delete", selected.len());
        self.edit(Edit::new(label, move |content: &mut Content| {
            let parts = content.job.parts.iter().enumerate();
            let is_bare = |(part, entry): &(usize, &PartEntry)| {
                let first = PlacementId { part: *part, copy: 0 };
                entry.placements.is_empty() && selected.contains(&first)
            };
            let bare: BTreeSet<String> =
                parts.filter(is_bare).map(|(_, entry)| entry.name.clone()).collect();
            content.job.remove_placements(&selected);
            content.job.parts.retain(|part| !bare.contains(&part.name));
        }));
    }
}
