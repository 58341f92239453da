//! What one placement has otherwise than its recipe: power and speed of named exposures, as for a row of
//! coupons.

use super::part_form::EditPart;
use super::strategy::exposures::words;
use crate::state::content::Content;
use crate::state::model::Model;
use crate::widgets::field::{Number, choice};
use egui::Ui;
use job::recipe::Exposure;
use job::{ExposureChange, PartEntry, Recipe};
use std::ops::RangeInclusive;

/// The list of changes of one placement.
pub(super) fn show(
    ui: &mut Ui,
    model: &Model,
    content: &Content,
    part: &PartEntry,
    copy: usize,
    edit: &mut EditPart,
) {
    let file = part.recipe.as_ref().unwrap_or(&content.job.recipe);
    let Some(recipe) = content.recipes.get(file) else { return };
    let changes = part.changes_of(copy);
    for (index, change) in changes.iter().enumerate() {
        ui.push_id(("exposure change", index), |ui| {
            let taken = |name: &str| name != change.name && changes.iter().any(|c| c.name == name);
            let mut names = words(recipe);
            names.retain(|(name, _)| !taken(name));
            let place = Place { recipe, copy, index, names };
            one(ui, model, content, &place, change, edit);
        });
    }
    let is_free = |e: &&Exposure| changes.iter().all(|change| change.name != e.name);
    if let Some(free) = recipe.exposures.iter().find(is_free) {
        let hint = "Gives an exposure of the recipe another power or speed for this placement alone, \
                    as for a row of coupons.";
        if ui.button("Change an exposure here").on_hover_text(hint).clicked() {
            let (name, power_w) = (free.name.clone(), Some(free.power_w));
            let new = ExposureChange { name, power_w, speed_mm_s: None };
            let add = move |part: &mut PartEntry| {
                part.exposure_changes.entry(copy).or_default().push(new);
            };
            edit("change an exposure", None, Box::new(add));
        }
    }
}

/// Where a change stands.
struct Place<'a> {
    recipe: &'a Recipe,
    /// Number of the placement within its part.
    copy: usize,
    /// Number of the change within the placement.
    index: usize,
    /// Exposures that it may be about.
    names: Vec<(String, &'a str)>,
}

/// One change: which exposure, its power, its speed.
fn one(
    ui: &mut Ui,
    model: &Model,
    content: &Content,
    place: &Place<'_>,
    change: &ExposureChange,
    edit: &mut EditPart,
) {
    let &Place { recipe, copy, index, ref names } = place;
    let mut set = |what: &str, merge, set: Box<dyn FnOnce(&mut ExposureChange) + Send>| {
        let change = move |part: &mut PartEntry| {
            let list = part.exposure_changes.get_mut(&copy);
            list.and_then(|list| list.get_mut(index)).map(set);
        };
        edit(what, merge, Box::new(change));
    };
    let hint = "The exposure of the recipe that this placement has otherwise.";
    if let Some(name) = choice(ui, "Exposure", &change.name, names, hint) {
        set("changed exposure", None, Box::new(move |change| change.name = name));
    }
    let own = recipe.exposure(&change.name);
    let number =
        |ui: &mut Ui, name, unit, range: RangeInclusive<f64>, step, own, value: Option<f64>| {
            let hint = "For this placement; the recipe's number until it is changed.";
            let field = Number { name, unit, range, step, default: own, hint };
            field.show(ui, value.or(own)?, &model.ink)
        };
    let power = 0.01..=content.machine.laser.max_power_w;
    let own_power = own.map(|own| own.power_w);
    if let Some(new) = number(ui, "Power here", " W", power, 0.1, own_power, change.power_w) {
        set("power", new.merge, Box::new(move |change| change.power_w = Some(new.value)));
    }
    let speed = 1.0..=content.machine.scan_head.max_mark_speed_mm_s;
    let own_speed = own.map(|own| own.speed_mm_s);
    if let Some(new) = number(ui, "Speed here", " mm/s", speed, 5.0, own_speed, change.speed_mm_s) {
        set("speed", new.merge, Box::new(move |change| change.speed_mm_s = Some(new.value)));
    }
    if ui.button("As in the recipe").on_hover_text("Takes this change out.").clicked() {
        let remove = move |part: &mut PartEntry| {
            if let Some(list) = part.exposure_changes.get_mut(&copy) {
                if index < list.len() {
                    list.remove(index);
                }
                if list.is_empty() {
                    part.exposure_changes.remove(&copy);
                }
            }
        };
        edit("take back a changed exposure", None, Box::new(remove));
    }
}
