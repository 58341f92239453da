//! Where the chosen placements stand, and whether nesting leaves them there.

use crate::state::actions::{Action, Edit};
use crate::state::model::Model;
use crate::state::moves;
use crate::widgets::field::Number;
use crate::widgets::mixed::{check, common};
use base::PlacementId;
use egui::Ui;
use job::{PartEntry, Placement};
use std::collections::BTreeSet;

/// A change of the part that a placement belongs to; the number is that of the copy.
type Change = Box<dyn Fn(&mut PartEntry, usize) + Send>;

/// The fields of all placements that are chosen; `parts` is what the step of undo calls their parts.
pub(super) fn show(ui: &mut Ui, model: &Model, parts: &str, actions: &mut Vec<Action>) {
    let Some(content) = model.content() else { return };
    let chosen: Vec<(PlacementId, Placement)> =
        model.selection.iter().filter_map(|at| Some((*at, *content.placement(*at)?))).collect();
    if chosen.is_empty() {
        return;
    }
    let called =
        if chosen.len() == 1 { parts.to_owned() } else { format!("{} placements", chosen.len()) };
    let mut edit = |what: &str, merge: Option<u64>, change: Change| {
        let selected = model.selection.clone();
        let mut edit = Edit::new(format!("{what} of {called}"), move |content| {
            for PlacementId { part, copy } in selected {
                if let Some(part) = content.job.parts.get_mut(part) {
                    change(part, copy);
                }
            }
        });
        if let Some(key) = merge {
            edit = edit.within(key);
        }
        actions.push(edit.into());
    };
    let locked = chosen.iter().map(|(at, _)| content.job.parts[at.part].is_locked(at.copy));
    let hint = "Nesting keeps clear of it and does not move it.";
    if let Some(locked) = check(ui, "Nesting leaves it where it is", common(locked), hint) {
        edit("lock", None, Box::new(move |part, copy| set_locked(part, copy, locked)));
    }
    pose_fields(ui, model, &chosen, &mut edit);
}

/// Location and rotation.
fn pose_fields(
    ui: &mut Ui,
    model: &Model,
    chosen: &[(PlacementId, Placement)],
    edit: &mut dyn FnMut(&str, Option<u64>, Change),
) {
    for (axis, name) in ["Location X", "Location Y", "Location Z"].into_iter().enumerate() {
        let hint = "Centre of the rotated part's bounding box, from the centre of the platform.";
        let range = moves::LOCATION_MM[axis].clone();
        let field = Number { name, unit: " mm", range, step: 0.1, default: None, hint };
        let now = common(chosen.iter().map(|(_, placement)| placement.location_mm[axis]));
        if let Some(new) = field.show_common(ui, now, &model.ink) {
            let set = move |p: &mut Placement| p.location_mm[axis] = new.value;
            edit("location", new.merge, of_placement(set));
        }
    }
    for (axis, name) in
        ["Rotation A about X", "Rotation B about Y", "Rotation C about Z"].into_iter().enumerate()
    {
        let hint = "Rotated by A about X, then by B about Y, then by C about Z, right-handed.";
        let range = moves::ROTATION_DEG;
        let field = Number { name, unit: "°", range, step: 0.5, default: Some(0.0), hint };
        let now = common(chosen.iter().map(|(_, placement)| placement.rotation_deg[axis]));
        if let Some(new) = field.show_common(ui, now, &model.ink) {
            let set = move |p: &mut Placement| p.rotation_deg[axis] = new.value;
            edit("rotation", new.merge, of_placement(set));
        }
    }
}

fn of_placement(set: impl Fn(&mut Placement) + Send + 'static) -> Change {
    Box::new(move |part, copy| {
        part.placements.get_mut(copy).map(&set);
    })
}

/// Puts a copy on the list of those that nesting leaves alone, or takes it off.
fn set_locked(part: &mut PartEntry, copy: usize, locked: bool) {
    let Ok(number) = u32::try_from(copy) else { return };
    let mut list: BTreeSet<u32> = part.nest.iter().flat_map(|nest| nest.locked.clone()).collect();
    if locked {
        list.insert(number);
    } else {
        list.remove(&number);
    }
    if !list.is_empty() || part.nest.is_some() {
        part.nest.get_or_insert_default().locked = list.into_iter().collect();
    }
}
