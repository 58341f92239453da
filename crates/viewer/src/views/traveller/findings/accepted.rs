//! What was accepted, at the end of the list, with the reasons.

use super::said::{place, severity};
use crate::state::actions::{Action, Edit};
use crate::state::model::Model;
use crate::widgets::field::heading;
use egui::Ui;
use pipeline::AcceptedGroup;

pub(super) fn show(
    ui: &mut Ui,
    model: &Model,
    accepted: &[AcceptedGroup],
    actions: &mut Vec<Action>,
) {
    if accepted.is_empty() {
        return;
    }
    heading(ui, "Accepted", &model.ink);
    for (index, of) in accepted.iter().enumerate() {
        ui.push_id(("accepted", index), |ui| one(ui, model, of, actions));
    }
}

fn one(ui: &mut Ui, model: &Model, of: &AcceptedGroup, actions: &mut Vec<Action>) {
    ui.horizontal(|ui| {
        severity(ui, model, of.group.first.severity());
        place(ui, &of.group, actions);
    });
    let finding = &of.group.first;
    ui.weak(finding.sentence()).on_hover_text(format!("Limit: {}", finding.limit()));
    ui.label(format!("Accepted: {}", of.reason));
    let hint = "It counts again, with all of its kind that were accepted for this reason.";
    if ui.small_button("Take back").on_hover_text(hint).clicked() {
        let (part, kind, reason) = (of.part.clone(), finding.kind(), of.reason.clone());
        let label = format!("take back: accept {}", kind.words());
        let edit = Edit::new(label, move |content| {
            content.job.withdraw(part.as_deref(), kind, &reason);
        });
        actions.push(edit.into());
    }
    ui.add_space(2.0);
}
