//! Work that failed: what the person is told, and the offer to try it again.

use crate::state::actions::Action;
use crate::state::commands::Command;
use crate::state::model::Model;
use egui::Ui;

/// Says what failed, and offers to try it again.
pub(super) fn show(ui: &mut Ui, model: &Model, sentence: &str, actions: &mut Vec<Action>) {
    ui.colored_label(model.ink.stop, sentence);
    if ui.button("Try again").clicked() {
        actions.push(Action::Command(Command::Retry));
    }
}
