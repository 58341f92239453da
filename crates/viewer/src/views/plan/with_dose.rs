//! The plan while colour shows the dose: its legend, its picture, and what is said of it.

use super::canvas::Canvas;
use super::paint::{OverDose, STALE};
use super::quantity::Quantity;
use super::state::PlanView;
use super::{dose, overlay, row};
use crate::state::model::Model;
use eframe::egui_wgpu::{Callback, wgpu::DeviceType};
use egui::{Align, Layout, Pos2, Rect, Ui, UiBuilder, vec2};
use render::plan::ColourScale;

/// Height of the legend of the dose, points.
const ROW: f32 = 29.0;

impl PlanView {
    /// Whether the dose of the layer at the cursor is there, and its outline.
    pub(crate) fn shows_dose(&self, model: &Model) -> [bool; 2] {
        let shown = model.shown_layer().filter(|(_, stale)| !stale).map(|(shown, _)| shown);
        let is_shown = self.quantity == Quantity::Dose;
        let dose = shown.is_some_and(|shown| is_shown && self.dose.is_of(shown));
        [dose, dose && self.dose.has_outline_of(shown)]
    }

    /// The legend of the dose and how far the outline lies off the section, below another row;
    /// returns where they end.
    pub(super) fn dose_row(
        &mut self,
        ui: &mut Ui,
        above: Rect,
        scale: &ColourScale,
        model: &Model,
    ) -> f32 {
        let ink = &model.ink;
        let row = above.translate(vec2(0.0, above.height())).with_max_y(above.bottom() + ROW);
        ui.scope_builder(UiBuilder::new().max_rect(row), |ui| {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                row::outline_switch(ui, &mut self.dose.shows_outline, ink);
                if let Some(levels) = self.dose.levels() {
                    dose::legend_row(ui, levels, scale, ink);
                }
            });
        });
        if !self.dose.shows_outline {
            return row.bottom();
        }
        let strip = row.with_min_y(row.bottom()).with_max_y(row.bottom() + dose::STRIP);
        let newest = model.shown_layer().map(|(shown, _)| shown);
        let predicted = self.dose.outline();
        let is_stale = !self.dose.has_outline_of(newest);
        dose::show_strip(ui, strip, predicted, is_stale, &model.ink);
        strip.bottom()
    }

    /// Asks for the dose of the newest layer as it is seen now; in software once that rests.
    pub(super) fn want_dose(&mut self, ui: &Ui, canvas: &Canvas, model: &Model) {
        let is_wanted = self.quantity == Quantity::Dose;
        let rests = !self.is_moving || self.gpu != Some(DeviceType::Cpu);
        if let Some((shown, _)) = model.shown_layer().filter(|_| is_wanted && rests) {
            self.dose.want(ui, shown, canvas);
        }
    }

    /// What the dose is under the pointer, or why nobody knows.
    pub(super) fn say_dose(
        &self,
        ui: &mut Ui,
        inside: Rect,
        canvas: &Canvas,
        pointer: Option<Pos2>,
        model: &Model,
    ) {
        let is_wanted = self.quantity == Quantity::Dose;
        let shown = model.shown_layer().filter(|(_, stale)| is_wanted && !stale);
        overlay::readout(ui, inside, canvas, pointer, model, |place_mm| {
            let [dose, times] = self.dose.at(shown?.0, place_mm)?;
            Some(format!("{dose:.5} J/mm², {times:.2} × what melts"))
        });
        if !is_wanted {
            return;
        }
        match self.dose.failure() {
            Some(sentence) => overlay::say_failure(ui, inside, &sentence, &model.ink),
            None if self.dose.is_averaged() => overlay::say_averaged(ui, inside, &model.ink),
            None => {}
        }
    }

    /// Draws the dose, if colour shows it and it is there; returns what is to be drawn over it.
    pub(super) fn draw_dose(
        &self,
        ui: &Ui,
        canvas: &Canvas,
        scale: &ColourScale,
        model: &Model,
    ) -> Option<OverDose> {
        let newest = model.shown_layer().map(|(shown, _)| shown);
        if self.quantity != Quantity::Dose {
            return None;
        }
        let opacity = if self.is_out_of_date { STALE } else { 1.0 };
        let picture = self.dose.paint(ui, canvas, scale, opacity)?;
        ui.painter().add(Callback::new_paint_callback(canvas.rect, picture));
        let is_stale = !self.dose.has_outline_of(newest);
        let melt = self.dose.outline().map(|predicted| (predicted.curves.clone(), is_stale));
        Some(OverDose { marks: self.dose.shows_marks(canvas), melt })
    }
}
