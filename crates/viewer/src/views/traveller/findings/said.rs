//! One finding in words, with a button that goes to its place.

use crate::state::actions::Action;
use crate::state::model::Model;
use crate::widgets::icons;
use crate::widgets::theme::CAPTION;
use base::Severity;
use egui::{RichText, Ui};
use pipeline::Group;

/// One finding, with all places at which it was found.
pub(crate) fn row(ui: &mut Ui, model: &Model, group: &Group, actions: &mut Vec<Action>) {
    ui.horizontal(|ui| {
        severity(ui, model, group.first.severity());
        place(ui, group, actions);
    });
    sentence(ui, group);
    advice(ui, group);
    ui.add_space(2.0);
}

pub(super) fn severity(ui: &mut Ui, model: &Model, severity: Severity) {
    icons::severity_mark(ui, severity, &model.ink);
    let colour = icons::severity_colour(severity, &model.ink);
    ui.label(RichText::new(severity.to_string()).size(CAPTION).color(colour));
}

pub(super) fn advice(ui: &mut Ui, group: &Group) {
    if !group.first.advice().is_empty() {
        ui.weak(group.first.advice());
    }
}

pub(super) fn sentence(ui: &mut Ui, group: &Group) {
    let finding = &group.first;
    ui.label(finding.sentence()).on_hover_text(format!("Limit: {}", finding.limit()));
}

/// Where it lies, as a button that goes there.
pub(super) fn place(ui: &mut Ui, group: &Group, actions: &mut Vec<Action>) {
    let place = group.place();
    let place = place.rsplit('/').next().unwrap_or_default(); // of a file, its name alone
    if place.is_empty() {
        return;
    }
    let name = RichText::new(place).size(CAPTION);
    let response = ui.add(egui::Button::new(name).small().truncate());
    if response.on_hover_text("Show this place in every view").clicked() {
        actions.push(Action::GoTo(group.first.place.clone()));
    }
}
