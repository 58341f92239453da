//! The parts: how many, how they stand, whether their meshes are sound.

use super::thumbnails::Thumbnails;
use crate::state::actions::{Action, Edit, Purpose, Selecting};
use crate::state::edit::merge_key;
use crate::state::free_places::FreePlaces;
use crate::state::model::Model;
use crate::state::results::MeshState;
use crate::widgets::field::{Number, UNITS, choice, count, salt, text};
use crate::widgets::theme::CAPTION;
use base::PlacementId;
use egui::{DragValue, RichText, Ui};
use job::{AllowedTurns, PartEntry, Placement};

pub(super) fn summary(model: &Model) -> String {
    let Some(content) = model.content() else { return String::new() };
    let placements: usize = content.job.parts.iter().map(|p| p.placements.len()).sum();
    match (content.job.parts.len(), placements) {
        (0, _) => "none yet".to_owned(),
        (parts, placements) => {
            let several = |n: usize, one: &str| {
                if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
            };
            format!("{}, {}", several(parts, "part"), several(placements, "placement"))
        }
    }
}

pub(super) fn show(ui: &mut Ui, model: &Model, thumbnails: &Thumbnails, actions: &mut Vec<Action>) {
    let Some(content) = model.content() else { return };
    if content.job.parts.is_empty() {
        ui.weak("Drop STL, 3MF or OBJ files on the window, or add them here.");
    }
    for index in 0..content.job.parts.len() {
        ui.push_id(("part", index), |ui| row(ui, model, thumbnails, index, actions));
    }
    if ui.button("Add meshes…").clicked() {
        actions.push(Action::Ask(Purpose::AddMeshes));
    }
}

/// One part: name, quantity, health; unfolded while one of its placements is chosen.
fn row(
    ui: &mut Ui,
    model: &Model,
    thumbnails: &Thumbnails,
    index: usize,
    actions: &mut Vec<Action>,
) {
    let Some(part) = model.content().and_then(|c| c.job.parts.get(index)) else { return };
    let chosen = model.selection.iter().any(|at| at.part == index);
    let copies = || (0..part.placements.len()).map(|copy| PlacementId { part: index, copy });
    ui.horizontal(|ui| {
        let picture = thumbnails.show(ui, &model.ink, index, &part.name);
        let asked = part.nest.as_ref().and_then(|nest| nest.quantity).map(|n| n as usize);
        let before = asked.unwrap_or(part.placements.len());
        let mut quantity = before;
        let field = DragValue::new(&mut quantity).range(1..=999).speed(0.05).suffix(" ×");
        let response = ui.add(field).on_hover_text("Quantity: how many of this part are built");
        response.widget_info(|| {
            let name = format!("Quantity of {}", part.name);
            egui::WidgetInfo::labeled(egui::Role::SpinButton, true, name)
        });
        if quantity != before {
            let mut beside = FreePlaces::new(model);
            let last = part.placements.len().saturating_sub(1);
            let more = part
                .placements
                .get(last)
                .filter(|_| asked.is_none())
                .map_or(0, |_| quantity.saturating_sub(part.placements.len()));
            let at = PlacementId { part: index, copy: last };
            let new: Vec<Placement> =
                (0..more).map(|_| beside.place(at, part.placements[last])).collect();
            let edit = Edit::new(format!("quantity of {}", part.name), move |content| {
                set_quantity(&mut content.job.parts[index], quantity, new);
            });
            actions.push(edit.within(merge_key(response.id)).into());
        }
        let (mark, colour, says) = health(model, part);
        let health = RichText::new(mark).size(CAPTION).color(colour);
        let width = ui.available_width() - 70.0;
        let name = egui::Button::selectable(chosen, &part.name).truncate();
        let row = egui::Layout::left_to_right(egui::Align::Center);
        let name = ui.allocate_ui_with_layout(egui::vec2(width.max(60.0), 20.0), row, |ui| {
            ui.set_min_width(width.max(60.0));
            ui.add(name).on_hover_text(&part.mesh)
        });
        if name.inner.clicked() || picture.clicked() {
            let how = if ui.input(|i| i.modifiers.command || i.modifiers.shift) {
                Selecting::Toggle
            } else {
                Selecting::Only
            };
            actions.push(Action::Select(how, copies().collect()));
        }
        ui.label(health).on_hover_text(says);
    });
    if let Some(MeshState::Failed(sentence)) = model.results.mesh(part) {
        ui.colored_label(model.ink.stop, sentence);
        if ui.button("Find the file…").clicked() {
            actions.push(Action::Ask(Purpose::Relink(part.mesh.clone())));
        }
    }
    if chosen {
        ui.indent(salt(("chosen part", index)), |ui| details(ui, model, index, part, actions));
    }
}

/// A word and a colour for the state of a part's mesh, and a sentence.
fn health(model: &Model, part: &PartEntry) -> (&'static str, egui::Color32, String) {
    let ink = &model.ink;
    match model.results.mesh(part) {
        None | Some(MeshState::Waiting | MeshState::Loading) => {
            ("reading", ink.soft, "The mesh is being read.".to_owned())
        }
        Some(MeshState::Failed(sentence)) => ("not read", ink.stop, sentence.clone()),
        Some(MeshState::Ready(mesh)) => {
            let worst = mesh.findings.iter().map(|finding| finding.severity).max();
            let sentences: Vec<&str> = mesh.findings.iter().map(|f| f.sentence.as_str()).collect();
            match worst {
                Some(base::Severity::Stop) => ("stop", ink.stop, sentences.join("\n")),
                Some(base::Severity::Caution) => ("caution", ink.caution, sentences.join("\n")),
                _ => ("sound", ink.soft, "The mesh is sound.".to_owned()),
            }
        }
    }
}

/// Takes copies off the end, or adds the new ones; where nesting is to place them, says so to nesting
/// instead.
fn set_quantity(part: &mut PartEntry, quantity: usize, new: Vec<Placement>) {
    if let Some(nest) = &mut part.nest
        && let Some(asked) = &mut nest.quantity
    {
        *asked = u32::try_from(quantity.max(nest.locked.len())).unwrap_or(u32::MAX);
        return;
    }
    while part.placements.len() > quantity.max(1) {
        part.remove_placement(part.placements.len() - 1);
    }
    part.placements.extend(new);
}

fn details(ui: &mut Ui, model: &Model, index: usize, part: &PartEntry, actions: &mut Vec<Action>) {
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
    rules(ui, part, &mut edit);
    let chosen: Vec<PlacementId> =
        model.selection.iter().filter(|at| at.part == index).copied().collect();
    if let [PlacementId { copy, .. }] = chosen[..]
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
        });
    }
    if ui.button("Another recipe for this part…").clicked() {
        actions.push(Action::Ask(Purpose::UseRecipe(Some(index))));
    }
}

/// Says what is edited, under which key, and how.
type EditPart<'a> = dyn FnMut(&str, Option<u64>, Box<dyn FnOnce(&mut PartEntry) + Send>) + 'a;

/// What nesting may do with the part.
fn rules(ui: &mut Ui, part: &PartEntry, edit: &mut EditPart) {
    const TURNS: [(AllowedTurns, &str); 4] = [
        (AllowedTurns::Axes, "by quarters"),
        (AllowedTurns::KeepUp, "this face up"),
        (AllowedTurns::Fixed, "none"),
        (AllowedTurns::Any, "any"),
    ];
    let now = part.nest.clone().unwrap_or_default();
    let hint = "Which ways up nesting may build the part: turned by quarters about all axes; about \
                Z alone, the way up of its first placement; not at all; or any way.";
    if let Some(turns) = choice(ui, "Turns when nested", &now.turns, &TURNS, hint) {
        edit(
            "turns when nested",
            None,
            Box::new(move |part| part.nest.get_or_insert_default().turns = turns),
        );
    }
    let hint =
        "Parts with a lower rank go into an earlier build, when there are several; 0 is last.";
    let due = now.due.unwrap_or(0);
    if let Some(new) = count(ui, "Due rank", due, 0..=999, hint) {
        let due = (new.value > 0).then_some(new.value);
        edit(
            "due rank",
            new.merge,
            Box::new(move |part| part.nest.get_or_insert_default().due = due),
        );
    }
}

/// Whether nesting leaves a placement where it is.
fn lock_field(ui: &mut Ui, part: &PartEntry, copy: usize, edit: &mut EditPart) {
    let Ok(number) = u32::try_from(copy) else { return };
    let mut locked = part.nest.as_ref().is_some_and(|nest| nest.locked.contains(&number));
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

/// Location and turns of one placement.
fn pose_fields(
    ui: &mut Ui,
    model: &Model,
    placement: &Placement,
    mut edit: impl FnMut(&str, Option<u64>, Setting),
) {
    for (axis, name) in ["Location X", "Location Y", "Location Z"].into_iter().enumerate() {
        let hint = "Centre of the turned part's bounding box, from the centre of the platform.";
        let range = if axis == 2 { 0.0..=2000.0 } else { -1000.0..=1000.0 };
        let field = Number { name, unit: " mm", range, step: 0.1, default: None, hint };
        if let Some(new) = field.show(ui, placement.location_mm[axis], &model.ink) {
            edit("location", new.merge, Box::new(move |p| p.location_mm[axis] = new.value));
        }
    }
    for (axis, name) in
        ["Turn A about X", "Turn B about Y", "Turn C about Z"].into_iter().enumerate()
    {
        let hint = "Turns A about X, then B about Y, then C about Z, right-handed.";
        let range = -360.0..=360.0;
        let field = Number { name, unit: "°", range, step: 0.5, default: Some(0.0), hint };
        if let Some(new) = field.show(ui, placement.turns_deg[axis], &model.ink) {
            edit("turn", new.merge, Box::new(move |p| p.turns_deg[axis] = new.value));
        }
    }
}
