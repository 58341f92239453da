//! One part in one line: its picture, how many are built, its name, whether its mesh is sound.

use super::order::copies_of;
use crate::state::actions::{Action, Edit};
use crate::state::edit::merge_key;
use crate::state::free_places::FreePlaces;
use crate::state::model::Model;
use crate::state::results::MeshState;
use crate::views::traveller::thumbnails::Thumbnails;
use crate::widgets::entry::say_over;
use crate::widgets::field::{count_entry, whole};
use crate::widgets::theme::CAPTION;
use base::PlacementId;
use egui::{Response, RichText, Sense, Ui};
use job::{PartEntry, Placement};

/// Room for the column of health, points.
const HEALTH_WIDTH: f32 = 70.0;

/// Draws the row into all of `ui`; what comes back is that of the whole row but its fields.
pub(super) fn show(
    ui: &mut Ui,
    model: &Model,
    thumbnails: &Thumbnails,
    index: usize,
    actions: &mut Vec<Action>,
) -> Response {
    let whole = ui.interact(ui.max_rect(), ui.scope_id().with("row"), Sense::click_and_drag());
    let Some(part) = model.content().and_then(|c| c.job.parts.get(index)) else { return whole };
    let is_selected = model.selection.iter().any(|at| at.part == index);
    // The columns from the left. The name takes what the columns after it leave, so theirs is
    // the room that it spares.
    let picture = thumbnails.show(ui, &model.ink, index, &part.name);
    quantity(ui, model, index, part, actions);
    let name = name(ui, part, is_selected, HEALTH_WIDTH);
    health(ui, model, part);
    whole | picture | name
}

/// The name; `spare` points are left to what stands behind it.
fn name(ui: &mut Ui, part: &PartEntry, is_selected: bool, spare: f32) -> Response {
    let width = (ui.available_width() - spare).max(60.0);
    let name = egui::Button::selectable(is_selected, &part.name).truncate();
    let name = name.sense(Sense::click_and_drag());
    let row = egui::Layout::left_to_right(egui::Align::Center);
    let shown = ui.allocate_ui_with_layout(egui::vec2(width, 20.0), row, |ui| {
        ui.set_min_width(width);
        ui.add(name).on_hover_text(&part.mesh)
    });
    shown.inner
}

/// How many of the part are built; more of them get free places, or nesting is told.
fn quantity(ui: &mut Ui, model: &Model, index: usize, part: &PartEntry, actions: &mut Vec<Action>) {
    let before = copies_of(part);
    let entry = count_entry(1..=999, " ×", &[]);
    let (response, quantity) = entry.show(ui, before as f64, |ui, field| {
        let response = ui.add(field.suffix(" ×"));
        response.widget_info(|| {
            let name = format!("Quantity of {}", part.name);
            egui::WidgetInfo::labeled(egui::Role::SpinButton, true, name)
        });
        response.on_hover_text("Quantity: how many of this part are built")
    });
    say_over(ui, &response);
    let quantity = whole(quantity) as usize;
    if quantity == before {
        return;
    }
    let is_nested = part.nest.as_ref().is_some_and(|nest| nest.quantity.is_some());
    let mut beside = FreePlaces::new(model);
    let last = part.placements.len().saturating_sub(1);
    let more = part
        .placements
        .get(last)
        .filter(|_| !is_nested)
        .map_or(0, |_| quantity.saturating_sub(part.placements.len()));
    let at = PlacementId { part: index, copy: last };
    let new: Vec<Placement> = (0..more).map(|_| beside.place(at, part.placements[last])).collect();
    let edit = Edit::new(format!("quantity of {}", part.name), move |content| {
        set_quantity(&mut content.job.parts[index], quantity, new);
    });
    actions.push(edit.within(merge_key(response.id)).into());
}

/// Whether the mesh is sound, in a word.
fn health(ui: &mut Ui, model: &Model, part: &PartEntry) {
    let (mark, colour, says) = health_of(model, part);
    ui.label(RichText::new(mark).size(CAPTION).color(colour)).on_hover_text(says);
}

/// A word and a colour for the state of a part's mesh, and a sentence.
fn health_of(model: &Model, part: &PartEntry) -> (&'static str, egui::Color32, String) {
    let ink = &model.ink;
    match model.results.mesh(part) {
        None | Some(MeshState::Loading) => {
            ("reading", ink.soft, "The mesh is being read.".to_owned())
        }
        Some(MeshState::Failed(sentence)) => ("not read", ink.stop, sentence.clone()),
        Some(MeshState::Ready(mesh)) => {
            let worst = mesh.findings.iter().map(base::Finding::severity).max();
            let sentences: Vec<&str> = mesh.findings.iter().map(base::Finding::sentence).collect();
            match worst {
                Some(base::Severity::Stop) => ("stop", ink.stop, sentences.join("\n")),
                Some(base::Severity::Caution) => ("caution", ink.caution, sentences.join("\n")),
                Some(base::Severity::Note) | None => {
                    ("sound", ink.soft, "The mesh is sound.".to_owned())
                }
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
