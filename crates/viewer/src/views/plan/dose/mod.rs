//! The dose in the plan: how much laser energy every spot of the layer gets, where it melts, and how
//! far that lies from the section.
//!
//! ```text
//! ShownLayer ─► Exposed ─┬─► DoseTiles of what is seen ─► render
//!                        ├─► DoseField: the value under the pointer
//!                        └─► Predicted: outline of the melt, deviations
//! ```
//! Everything left of the renderer is made in the background.

mod colours;
mod curves;
mod exposed;
mod legend;
mod melt;
mod paint;
mod panel;
mod preparing;

pub(super) use curves::Curves;
pub(super) use legend::row as legend_row;
pub(super) use paint::DosePaint;
pub(super) use panel::{HEIGHT as STRIP, show as show_strip};

use super::canvas::Canvas;
use crate::state::results::ShownLayer;
use crate::work::threads::Threads;
use eframe::egui_wgpu::RenderState;
use egui::Ui;
use exposed::Levels;
use melt::{Predicted, Predicting};
use paint::Device;
use preparing::{Dose, Dosing};
use render::plan::ColourScale;
use std::sync::Arc;
use std::time::Duration;

/// From so many pixels in a beam's radius on, single marks can be told apart over the dose.
const MARKS_FROM_PX: f64 = 10.0;
/// Until outdated work is old enough to be given up, the window looks again after this.
const LOOK_AGAIN: Duration = Duration::from_millis(100);

/// What the plan keeps of the dose.
pub(super) struct DoseView {
    dosing: Dosing,
    predicting: Predicting,
    device: Device,
    /// Whether the predicted outline is drawn.
    pub(super) shows_outline: bool,
}

impl DoseView {
    pub(super) fn new(gpu: Option<&RenderState>, threads: &Threads) -> Self {
        Self {
            dosing: Dosing::new(threads),
            predicting: Predicting::new(threads),
            device: gpu.map(Device::install).unwrap_or_default(),
            shows_outline: true,
        }
    }

    /// Whether the outline that is shown is that of a layer.
    pub(super) fn has_outline_of(&self, shown: Option<&Arc<ShownLayer>>) -> bool {
        self.outline().zip(shown).is_some_and(|(outline, shown)| outline.is_of(shown))
    }

    /// Whether nothing is being made.
    pub(super) fn is_idle(&self) -> bool {
        self.dosing.is_idle() && self.predicting.is_idle()
    }

    /// Takes what has come; says whether the dose is behind what is shown.
    pub(super) fn collect(&mut self, shown: Option<&Arc<ShownLayer>>) -> bool {
        self.dosing.collect();
        let is_there = |shown| self.of(shown).is_some();
        self.failure().is_none() && !shown.is_some_and(is_there)
    }

    /// Asks for what is still missing of a layer, seen like this.
    pub(super) fn want(&mut self, ui: &Ui, shown: &Arc<ShownLayer>, canvas: &Canvas) {
        self.dosing.want(shown, canvas.view, canvas.whole_px());
        let Some(exposed) = self.of(shown).map(|dose| Arc::clone(&dose.exposed)) else { return };
        if self.shows_outline {
            self.predicting.want(&exposed, ui.input(|input| input.time));
            if self.predicting.holds_back(&exposed) {
                ui.ctx().request_repaint_after(LOOK_AGAIN);
            }
        }
    }

    /// The newest dose that can be shown.
    pub(super) fn newest(&self) -> Option<&Dose> {
        self.dosing.newest()
    }

    /// Whether there is a dose of a layer.
    pub(super) fn is_of(&self, shown: &Arc<ShownLayer>) -> bool {
        self.of(shown).is_some()
    }

    /// Whether the picture holds averages, since its pixels are too large for the beam.
    pub(super) fn is_averaged(&self) -> bool {
        self.newest().is_some_and(|dose| dose.tiles.frame().is_averaged())
    }

    /// The dose of a layer.
    fn of(&self, shown: &Arc<ShownLayer>) -> Option<&Dose> {
        self.newest().filter(|dose| Arc::ptr_eq(&dose.exposed.shown, shown))
    }

    /// The doses that matter, of the newest dose.
    pub(super) fn levels(&self) -> Option<&Levels> {
        self.newest().map(|dose| &dose.exposed.levels)
    }

    /// The newest outline, if it is to be drawn.
    pub(super) fn outline(&self) -> Option<&Predicted> {
        self.predicting.newest().filter(|_| self.shows_outline)
    }

    /// Why there is no picture, or no outline: a sentence.
    pub(super) fn failure(&self) -> Option<String> {
        let picture = |why: &str| format!("The dose cannot be drawn: {why}.");
        let dose = self.dosing.failure().map(picture);
        let dose = dose.or_else(|| self.device.failure().as_deref().map(picture));
        let outline = self.predicting.failure().filter(|_| self.shows_outline);
        dose.or_else(|| outline.map(|why| format!("There is no predicted outline: {why}.")))
    }

    /// The dose at a place (mm) of a layer, J/mm², and how many times that is what melts it.
    pub(super) fn at(&self, shown: &Arc<ShownLayer>, place_mm: [f64; 2]) -> Option<[f64; 2]> {
        let exposed = &self.of(shown)?.exposed;
        let dose = exposed.field.at(place_mm);
        Some([dose, dose / exposed.levels.nominal])
    }

    /// Whether single marks are drawn over the dose.
    pub(super) fn shows_marks(&self, canvas: &Canvas) -> bool {
        let radius_mm = self.newest().map_or(0.0, |dose| dose.exposed.field.beam().radius_mm());
        radius_mm * canvas.view.px_per_mm >= MARKS_FROM_PX
    }

    /// What draws the newest dose; `None` where there is none, or nothing to draw it with.
    pub(super) fn paint(
        &self,
        ui: &Ui,
        canvas: &Canvas,
        scale: &ColourScale,
        opacity: f32,
    ) -> Option<DosePaint> {
        let dose = self.newest().filter(|_| self.device.failure().is_none())?;
        let colours = colours::of_dose(scale, dose.exposed.levels.most).ok()?;
        let seen = (canvas.view, canvas.whole_px());
        Some(DosePaint::new(dose, seen, (colours, opacity), &self.device, ui.ctx()))
    }
}
