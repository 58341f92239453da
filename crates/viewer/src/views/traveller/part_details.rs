//! What can be said of one part: its name and mesh, what nesting may do with it, and where its
//! selected placement stands.

use super::exposure_changes;
use super::field_corrections::in_words;
use crate::state::actions::{Action, Edit, Purpose};
use crate::state::content::Content;
use crate::state::model::Model;
use crate::state::moves;
use crate::state::results::MeshState;
use crate::widgets::field::{Number, UNITS, choice, optional_count, text};
use crate::widgets::theme::CAPTION;
use base::PlacementId;
use egui::{RichText, Ui};
use job::{AllowedOrientations, PartEntry, Placement};

pub(super) fn show(
    ui: &mut Ui,
    model: &Model,
    index: usize,
    part: &PartEntry,
    actions: &mut Vec<Action>,
) {
    let Some(content) = model.content() else { return };
    let mut edit =
        |what: &str, merge: Option<u64>, change: Box<dyn FnOnce(&mut PartEntry) + Send>| {
            let mut edit = Edit::new(format!("{what} of {}", part.name), move |content| {
                content.job.parts.get_mut(index).map(change);
            });
            if let Some(key) = merge {
                edit = edit.within(key);
            }
            actions.push(edit.into());
        };
    name_and_size(ui, model, content, part, &mut edit);
    mesh_and_recipe(ui, content, part, &mut edit);
    rules(ui, part, &mut edit);
    let selected: Vec<PlacementId> =
        model.selection.iter().filter(|at| at.part == index).copied().collect();
    if let [PlacementId { copy, .. }] = selected[..]
        && let Some(placement) = part.placements.get(copy)
    {
        ui.push_id(copy, |ui| {
            lock_field(ui, part, copy, &mut edit);
            pose_fields(ui, model, placement, |what, merge, set| {
                edit(
                    what,
                    merge,
                    Box::new(move |part| {
                        part.placements.get_mut(copy).map(set);
                    }),
                );
            });
            let [x, y, _] = placement.location_mm;
            if let Some(said) = in_words(content.machine.correction_at([x, y]).in_steps()) {
                ui.label(RichText::new(said).size(CAPTION).color(model.ink.soft));
            }
            exposure_changes::show(ui, model, content, part, copy, &mut edit);
        });
    }
    if ui.button("Another recipe for this part…").clicked() {
        actions.push(Action::Ask(Purpose::UseRecipe(Some(index))));
    }
}

/// Says what is edited, under which key, and how.
pub(super) type EditPart<'a> =
    dyn FnMut(&str, Option<u64>, Box<dyn FnOnce(&mut PartEntry) + Send>) + 'a;

/// What the part is called, and how large it is.
fn name_and_size(
    ui: &mut Ui,
    model: &Model,
    content: &Content,
    part: &PartEntry,
    edit: &mut EditPart,
) {
    if let Some(new) =
        text(ui, "Part name", &part.name, "What you call the part; unique in the job.")
    {
        let taken = content.job.parts.iter().any(|other| other.name == new.value);
        if !taken {
            edit("name", new.merge, Box::new(move |part| part.name = new.value));
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

/// In which unit its mesh is read, and with which recipe it is built.
fn mesh_and_recipe(ui: &mut Ui, content: &Content, part: &PartEntry, edit: &mut EditPart) {
    let unit = part.unit.unwrap_or_default();
    let hint = "Unit of the numbers in the mesh file, if it does not say so itself.";
    if let Some(new) = choice(ui, "Unit of the file", &unit, &UNITS, hint) {
        edit("unit", None, Box::new(move |part| part.unit = Some(new)));
    }
    let mut recipes: Vec<(Option<String>, &str)> = vec![(None, "the job's")];
    recipes.extend(content.recipes.iter().map(|(file, r)| (Some(file.clone()), &*r.name)));
    let hint = "The recipe of this part; all recipes of a job share one layer thickness.";
    if let Some(new) = choice(ui, "Recipe of the part", &part.recipe, &recipes, hint) {
        edit("recipe", None, Box::new(move |part| part.recipe = new));
    }
}

/// What nesting may do with the part.
fn rules(ui: &mut Ui, part: &PartEntry, edit: &mut EditPart) {
    const WORDS: [(AllowedOrientations, &str); 4] = [
        (AllowedOrientations::QuarterTurns, "quarter turns"),
        (AllowedOrientations::RotatedAboutZ, "rotated about Z"),
        (AllowedOrientations::AsPlaced, "as placed"),
        (AllowedOrientations::Many, "many"),
    ];
    let now = part.nest.clone().unwrap_or_default();
    let hint = "Orientations that nesting may give the part: its first placement's, rotated by \
                quarter turns about all axes; rotated about Z alone, so that the same side stays \
                up; as placed; or many more, in all directions.";
    if let Some(new) = choice(ui, "Allowed orientations", &now.allowed_orientations, &WORDS, hint) {
        edit(
            "allowed orientations",
            None,
            Box::new(move |part| part.nest.get_or_insert_default().allowed_orientations = new),
        );
    }
    let hint = "Parts with a lower rank go into an earlier build when there are several. Without a \
                rank (–) they go last.";
    if let Some(new) = optional_count(ui, "Due rank", now.due, 1..=999, hint) {
        edit(
            "due rank",
            new.merge,
            Box::new(move |part| part.nest.get_or_insert_default().due = new.value),
        );
    }
}

/// Whether nesting leaves a placement where it is.
fn lock_field(ui: &mut Ui, part: &PartEntry, copy: usize, edit: &mut EditPart) {
    let Ok(number) = u32::try_from(copy) else { return };
    let mut locked = part.is_locked(copy);
    let hint = "Nesting keeps clear of it and does not move it.";
    if ui.checkbox(&mut locked, "Nesting leaves it where it is").on_hover_text(hint).changed() {
        edit(
            "lock",
            None,
            Box::new(move |part| {
                let list = &mut part.nest.get_or_insert_default().locked;
                list.retain(|other| *other != number);
                if locked {
                    list.push(number);
                    list.sort_unstable();
                }
            }),
        );
    }
}

/// A change of a placement.
type Setting = Box<dyn FnOnce(&mut Placement) + Send>;

/// Location and rotation of one placement.
fn pose_fields(
    ui: &mut Ui,
    model: &Model,
    placement: &Placement,
    mut edit: impl FnMut(&str, Option<u64>, Setting),
) {
    for (axis, name) in ["Location X", "Location Y", "Location Z"].into_iter().enumerate() {
        let hint = "Centre of the rotated part's bounding box, from the centre of the platform.";
        let range = moves::LOCATION_MM[axis].clone();
        let field = Number { name, unit: " mm", range, step: 0.1, default: None, hint };
        if let Some(new) = field.show(ui, placement.location_mm[axis], &model.ink) {
            edit("location", new.merge, Box::new(move |p| p.location_mm[axis] = new.value));
        }
    }
    for (axis, name) in
        ["Rotation A about X", "Rotation B about Y", "Rotation C about Z"].into_iter().enumerate()
    {
        let hint = "Rotated by A about X, then by B about Y, then by C about Z, right-handed.";
        let range = moves::ROTATION_DEG;
        let field = Number { name, unit: "°", range, step: 0.5, default: Some(0.0), hint };
        if let Some(new) = field.show(ui, placement.rotation_deg[axis], &model.ink) {
            edit("rotation", new.merge, Box::new(move |p| p.rotation_deg[axis] = new.value));
        }
    }
}
