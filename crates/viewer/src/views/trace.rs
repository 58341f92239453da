//! Placeholder until the drawing lands.

use crate::actions::Action;
use crate::model::Model;
use egui::Ui;

/// See the module.
#[derive(Default)]
pub(crate) struct TraceView;

impl TraceView {
    /// Draws into the rest of `ui`.
    pub(crate) fn show(&mut self, _ui: &mut Ui, _model: &Model, _actions: &mut Vec<Action>) {}
}
