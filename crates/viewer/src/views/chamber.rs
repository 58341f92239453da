//! Placeholder until the drawing lands.

use crate::actions::Action;
use crate::model::Model;
use eframe::egui_wgpu::RenderState;
use egui::Ui;

/// See the module.
#[derive(Default)]
pub(crate) struct ChamberView;

impl ChamberView {
    /// A view that draws with this graphics device; without one it says so.
    pub(crate) fn new(_gpu: Option<&RenderState>) -> Self {
        Self
    }

    /// Shows everything at the next frame.
    pub(crate) fn fit(&mut self) {}

    /// Moves to what the model draws attention to.
    pub(crate) fn attend(&mut self, _model: &Model) {}

    /// Draws into the rest of `ui`.
    pub(crate) fn show(&mut self, _ui: &mut Ui, _model: &Model, _actions: &mut Vec<Action>) {}
}
