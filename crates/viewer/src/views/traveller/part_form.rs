//! One form for all parts that are chosen, whether one or hundreds: names and meshes, what nesting may do, and
//! where their chosen placements stand. Where they differ, a field says "mixed", and only what is typed into it
//! is changed, for all of them, in one step of undo.

use super::exposure_changes;
use super::field_corrections::in_words;
use super::placement_form;
use crate::state::actions::{Action, Edit, Purpose};
use crate::state::content::Content;
use crate::state::model::Model;
use crate::state::results::MeshState;
use crate::widgets::field::{UNITS, heading, text};
use crate::widgets::mixed::{common, optional_count, words};
use crate::widgets::theme::CAPTION;
use base::PlacementId;
use egui::{RichText, Ui};
use job::{AllowedOrientations, PartEntry};
use std::collections::BTreeSet;

/// Says what is edited, under which key, and how: of one part.
pub(super) type EditPart<'a> =
    dyn FnMut(&str, Option<u64>, Box<dyn FnOnce(&mut PartEntry) + Send>) + 'a;

/// The same of all parts that are chosen.
type EditParts<'a> = dyn FnMut(&str, Option<u64>, Box<dyn Fn(&mut PartEntry) + Send>) + 'a;

pub(super) fn show(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let Some(content) = model.content() else { return };
    let indexes: BTreeSet<usize> = model.selection.iter().map(|at| at.part).collect();
    let parts: Vec<&PartEntry> =
        indexes.iter().filter_map(|index| content.job.parts.get(*index)).collect();
    let Some(first) = parts.first() else { return };
    let called =
        if parts.len() == 1 { first.name.clone() } else { format!("{} parts", parts.len()) };
    heading(ui, &title(model, &called), &model.ink);
    // what is typed is for those that are chosen now
    ui.push_id(("form of parts", &model.selection), |ui| {
        let mut edit =
            |what: &str, merge: Option<u64>, change: Box<dyn Fn(&mut PartEntry) + Send>| {
                let indexes = indexes.clone();
                let mut edit = Edit::new(format!("{what} of {called}"), move |content| {
                    for index in indexes {
                        content.job.parts.get_mut(index).map(&change);
                    }
                });
                if let Some(key) = merge {
                    edit = edit.within(key);
                }
                actions.push(edit.into());
            };
        if let [part] = parts[..] {
            name_and_size(ui, model, content, part, &mut edit);
        }
        mesh_and_recipe(ui, content, &parts, &mut edit);
        rules(ui, &parts, &mut edit);
        placement_form::show(ui, model, &called, actions);
        if let ([part], [at]) = (&parts[..], &model.selection.iter().collect::<Vec<_>>()[..]) {
            of_one(ui, model, content, (part, **at), actions);
        }
        let index = indexes.first().copied().filter(|_| indexes.len() == 1);
        if index.is_some() && ui.button("Another recipe for this part…").clicked() {
            actions.push(Action::Ask(Purpose::UseRecipe(index)));
        }
    });
}

/// Of whom the form is.
fn title(model: &Model, called: &str) -> String {
    let chosen = model.selection.len();
    match (model.selection.first(), chosen) {
        (Some(&only), 1) if model.content().is_some_and(|c| c.placement(only).is_none()) => {
            format!("{called}: not placed yet, nesting places it")
        }
        (Some(&only), 1) => model.placement_name(only),
        _ => format!("{called}, {chosen} placements: what is changed here is changed for all"),
    }
}

/// What is said of a single placement alone.
fn of_one(
    ui: &mut Ui,
    model: &Model,
    content: &Content,
    (part, at): (&PartEntry, PlacementId),
    actions: &mut Vec<Action>,
) {
    let Some(placement) = part.placements.get(at.copy) else { return };
    let [x, y, _] = placement.location_mm;
    if let Some(said) = in_words(content.machine.correction_at([x, y]).in_steps()) {
        ui.label(RichText::new(said).size(CAPTION).color(model.ink.soft));
    }
    let mut edit =
        |what: &str, merge: Option<u64>, change: Box<dyn FnOnce(&mut PartEntry) + Send>| {
            let mut edit = Edit::new(format!("{what} of {}", part.name), move |content| {
                content.job.parts.get_mut(at.part).map(change);
            });
            if let Some(key) = merge {
                edit = edit.within(key);
            }
            actions.push(edit.into());
        };
    exposure_changes::show(ui, model, content, part, at.copy, &mut edit);
}

/// What the part is called, and how large it is.
fn name_and_size(
    ui: &mut Ui,
    model: &Model,
    content: &Content,
    part: &PartEntry,
    edit: &mut EditParts,
) {
    if let Some(new) =
        text(ui, "Part name", &part.name, "What you call the part; unique in the job.")
    {
        let taken = content.job.parts.iter().any(|other| other.name == new.value);
        if !taken {
            edit("name", new.merge, Box::new(move |part| part.name.clone_from(&new.value)));
        }
    }
    if let Some(mesh) = model.results.mesh(part).and_then(MeshState::ready)
        && let Some((low, high)) = mesh.mesh.bounds()
    {
        let size = [0, 1, 2].map(|k| format!("{:.1}", high[k] - low[k]));
        let volume = mesh.health.measures.volume_mm3 / 1000.0;
        let triangles = mesh.mesh.triangles.len();
        let says = format!("{} mm, {volume:.2} cm³, {triangles} triangles", size.join(" × "));
        ui.label(RichText::new(says).size(CAPTION).color(model.ink.soft));
    }
}

/// In which unit their meshes are read, and with which recipe they are built.
fn mesh_and_recipe(ui: &mut Ui, content: &Content, parts: &[&PartEntry], edit: &mut EditParts) {
    let unit = common(parts.iter().map(|part| part.unit.unwrap_or_default()));
    let hint = "Unit of the numbers in the mesh file, if it does not say so itself.";
    if let Some(new) = words(ui, "Unit of the file", unit.as_ref(), &UNITS, hint) {
        edit("unit", None, Box::new(move |part| part.unit = Some(new)));
    }
    let mut recipes: Vec<(Option<String>, &str)> = vec![(None, "the job's")];
    recipes.extend(content.recipes.iter().map(|(file, r)| (Some(file.clone()), &*r.name)));
    let recipe = common(parts.iter().map(|part| part.recipe.clone()));
    let hint = "The recipe of this part; all recipes of a job share one layer thickness.";
    if let Some(new) = words(ui, "Recipe of the part", recipe.as_ref(), &recipes, hint) {
        edit("recipe", None, Box::new(move |part| part.recipe.clone_from(&new)));
    }
}

/// What nesting may do with them.
fn rules(ui: &mut Ui, parts: &[&PartEntry], edit: &mut EditParts) {
    const WORDS: [(AllowedOrientations, &str); 4] = [
        (AllowedOrientations::QuarterTurns, "quarter turns"),
        (AllowedOrientations::RotatedAboutZ, "rotated about Z"),
        (AllowedOrientations::AsPlaced, "as placed"),
        (AllowedOrientations::Many, "many"),
    ];
    let now = parts.iter().map(|part| part.nest.clone().unwrap_or_default());
    let hint = "Orientations that nesting may give the part: its first placement's, rotated by \
                quarter turns about all axes; rotated about Z alone, so that the same side stays \
                up; as placed; or many more, in all directions.";
    let orientations = common(now.clone().map(|nest| nest.allowed_orientations));
    if let Some(new) = words(ui, "Allowed orientations", orientations.as_ref(), &WORDS, hint) {
        edit(
            "allowed orientations",
            None,
            Box::new(move |part| part.nest.get_or_insert_default().allowed_orientations = new),
        );
    }
    let hint = "Parts with a lower rank go into an earlier build when there are several. Without a \
                rank (–) they go last.";
    let due = common(now.map(|nest| nest.due.unwrap_or(0)));
    if let Some(new) = optional_count(ui, "Due rank", due, 1..=999, hint) {
        edit(
            "due rank",
            new.merge,
            Box::new(move |part| part.nest.get_or_insert_default().due = new.value),
        );
    }
}
