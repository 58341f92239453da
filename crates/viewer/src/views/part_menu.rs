//! What the right button offers on a part, in the chamber and in the list of parts alike.

use crate::state::actions::{Action, Selecting};
use crate::state::commands::Command;
use crate::state::model::Model;
use crate::state::moves::{self, DragRequest, DragStart};
use base::PlacementId;
use egui::{RichText, Ui};

/// The whole menu, where nothing else is offered.
pub(crate) fn show(ui: &mut Ui, model: &Model, on: PlacementId, actions: &mut Vec<Action>) {
    let name = match model.selection.len() {
        0 | 1 => model.placement_name(on),
        many => format!("{many} placements"),
    };
    ui.label(RichText::new(name).color(model.ink.soft));
    commands(ui, model, on, actions);
}

/// What can be done with all that is chosen; `on` is what the menu was opened on.
pub(crate) fn commands(ui: &mut Ui, model: &Model, on: PlacementId, actions: &mut Vec<Action>) {
    let arrangement = &model.arrangement;
    if item(ui, "Rotate 90° about Z") {
        let selected: Vec<_> = arrangement.selected(&model.selection).collect();
        if let Some(before) = DragStart::of(&selected) {
            let label = moves::label("rotate", selected.len());
            actions.push(moves::edit(label, before.after(DragRequest::Rotate(2, 90.0))).into());
        }
    }
    if item(ui, "Set on the platform") {
        let down = arrangement.selected(&model.selection).map(|placed| {
            let mut placement = placed.placement;
            placement.location_mm[2] -= placed.low[2];
            (placed.at, moves::allowed(placement))
        });
        let down: Vec<_> = down.collect();
        actions.push(moves::edit(moves::label("set down", down.len()), down).into());
    }
    for command in [Command::Lower, Command::Duplicate, Command::Delete] {
        if item(ui, command.info().name) {
            actions.push(Action::Command(command));
        }
    }
    if item(ui, "Select all copies") {
        let copies = model.placements().map(|(at, _)| at).filter(|at| at.part == on.part);
        actions.push(Action::Select(Selecting::Only, copies.collect()));
    }
    ui.separator();
    if item(ui, Command::ReplaceMesh.info().name) {
        actions.push(Action::Command(Command::ReplaceMesh));
    }
}

/// A line of a menu; closes the menu when it is clicked.
pub(crate) fn item(ui: &mut Ui, word: &str) -> bool {
    let is_clicked = ui.add(egui::Button::new(word).frame(false)).clicked();
    if is_clicked {
        ui.close();
    }
    is_clicked
}
