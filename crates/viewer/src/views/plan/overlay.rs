//! What is written and marked over the drawing: its state in words, where a finding points to,
//! where the pointer is, and where placements are by now.

use super::canvas::Canvas;
use super::preparing::Ready;
use super::state::PlanView;
use crate::state::model::Model;
use crate::state::results::ShownLayer;
use crate::views::attention;
use crate::widgets::placeholder::placeholder;
use crate::widgets::theme::{CAPTION, Ink};
use base::NM_PER_MM;
use egui::{
    Align2, FontId, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2,
};

impl PlanView {
    /// Says in words why the drawing is empty or out of date.
    pub(super) fn say_state(
        &self,
        ui: &Ui,
        inside: Rect,
        model: &Model,
        ready: Option<&Ready>,
        is_behind: bool,
    ) {
        let ink = &model.ink;
        let crashed = model.shown_layer().is_some_and(|(s, _)| self.preparing.has_failed(s));
        let Some(ready) = ready else {
            return placeholder(ui, inside, why_empty(model, crashed), ink);
        };
        let shown = &ready.drawing.shown;
        let note = if let Some(sentence) = model.results.build_error.as_ref().filter(|_| is_behind)
        {
            format!("Out of date: as it was. {sentence}")
        } else if crashed {
            "Out of date: as it was. Drawing the present layer failed; show another one.".to_owned()
        } else if is_behind {
            let layer = model.cursor.layer;
            if shown.index == layer {
                "Out of date: being computed anew …".to_owned()
            } else {
                let drawn = shown.index;
                format!("Out of date: this is layer {drawn}; layer {layer} is being computed …")
            }
        } else if shown.layer.blocks.is_empty() {
            return placeholder(ui, inside, "Nothing is exposed in this layer.", ink);
        } else {
            return;
        };
        write_note(ui, inside, note, ink);
    }
}

/// Writes a sentence over the drawing, at its top; returns where.
fn write_note(ui: &Ui, inside: Rect, note: String, ink: &Ink) -> Rect {
    let font = FontId::proportional(CAPTION + 1.0);
    let galley = ui.painter().layout(note, font, ink.ink, inside.width() - 24.0);
    let place =
        Align2::CENTER_TOP.anchor_size(pos2(inside.center().x, inside.top() + 8.0), galley.size());
    let around = place.expand2(vec2(6.0, 3.0));
    ui.painter().rect_filled(around, 2.0, ink.desk);
    ui.painter().galley(place.min, galley, ink.ink);
    around
}

/// Says in words why there is no dose to be seen.
pub(super) fn say_failure(ui: &Ui, inside: Rect, sentence: &str, ink: &Ink) {
    let below = inside.with_min_y(inside.top() + 24.0); // of what say_state says
    let place = write_note(ui, below, sentence.to_owned(), ink);
    name(ui, place, "failure", sentence);
}

/// Says in a corner of the drawing what a pixel stands for.
pub(super) fn say_averaged(ui: &Ui, inside: Rect, ink: &Ink) {
    let says = "Averages of the dose: zoom in for single lines";
    let galley =
        ui.painter().layout_no_wrap(says.to_owned(), FontId::proportional(CAPTION), ink.soft);
    let corner = inside.left_bottom() + vec2(8.0, -6.0);
    let place = Align2::LEFT_BOTTOM.anchor_size(corner, galley.size());
    ui.painter().rect_filled(place.expand2(vec2(4.0, 2.0)), 2.0, ink.sheet);
    ui.painter().galley(place.min, galley, ink.soft);
    name(ui, place, "averaged", says);
}

/// Gives what is painted at a place a name that tests and screen readers find.
fn name(ui: &Ui, place: Rect, salt: &str, words: &str) {
    let response = ui.interact(place, ui.scope_id().with(salt), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, words));
}

/// Why there is no layer to draw.
fn why_empty(model: &Model, crashed: bool) -> &str {
    let no_parts = model.content().is_none_or(|content| content.job.parts.is_empty());
    match &model.results.build_error {
        Some(sentence) => sentence.as_str(),
        None if crashed => "Drawing this layer failed; show another one.",
        None if no_parts => "No part yet: drop mesh files on the window.",
        None if model.is_loading() => "Reading meshes …",
        None if model.results.build.is_some() && model.layer_count() == 0 => {
            "No layer yet: no part with a mesh stands above the build platform."
        }
        None => "Computing the layer …",
    }
}

/// The place that a finding points to.
pub(super) fn attention(painter: &Painter, canvas: &Canvas, model: &Model) {
    let Some([x, y, _]) = model.attention_mm else { return };
    let at = canvas.at([x, y].map(|mm| mm * NM_PER_MM));
    attention::draw(painter, at, &model.ink);
}

/// Where the pointer is, in the lower right corner, and what `value` says of that place (mm).
pub(super) fn readout(
    ui: &Ui,
    inside: Rect,
    canvas: &Canvas,
    at: Option<Pos2>,
    model: &Model,
    value: impl FnOnce([f64; 2]) -> Option<String>,
) {
    let Some(at) = at.filter(|at| inside.contains(*at)) else { return };
    let [x, y] = canvas.nm(at).map(|nm| nm / NM_PER_MM);
    let value = value([x, y]).map_or(String::new(), |value| format!("   {value}"));
    let text = format!("x {x:.3}   y {y:.3} mm{value}").replace('-', "−");
    let font = FontId::proportional(CAPTION);
    let galley = ui.painter().layout_no_wrap(text.clone(), font, model.ink.soft);
    let corner = inside.right_bottom() - vec2(8.0, 6.0);
    let place = Align2::RIGHT_BOTTOM.anchor_size(corner, galley.size());
    ui.painter().rect_filled(place.expand2(vec2(4.0, 2.0)), 2.0, model.ink.sheet);
    ui.painter().galley(place.min, galley, model.ink.soft);
    name(ui, place, "readout", &text);
}

/// Boundaries of placements that were moved since the layer was computed, where they are by now.
pub(super) fn moved_boundaries(
    painter: &Painter,
    canvas: &Canvas,
    model: &Model,
    shown: &ShownLayer,
) {
    let rows = shown.header().placements.iter().zip(&shown.regions).enumerate();
    for (row, (was, region)) in rows {
        let place = u32::try_from(row).ok().and_then(|row| Model::placement_of_row(shown, row));
        let now = place.zip(model.content()).and_then(|(place, content)| content.placement(place));
        let Some(now) = now
            .filter(|now| now.rotation_deg.map(f64::to_bits) == was.rotation_deg.map(f64::to_bits))
        else {
            continue;
        };
        let by = [0, 1].map(|i| (now.location_mm[i] - was.location_mm[i]) * NM_PER_MM);
        if by[0].abs() < 1.0 && by[1].abs() < 1.0 {
            continue;
        }
        let line = Stroke::new(1.5, model.ink.accent);
        for ring in region.rings() {
            let mut points: Vec<Pos2> = Vec::new();
            for p in ring {
                let at = canvas.at([f64::from(p.x) + by[0], f64::from(p.y) + by[1]]);
                if points.last().is_none_or(|last| last.distance(at) > 1.0) {
                    points.push(at);
                }
            }
            painter.add(Shape::closed_line(points, line));
        }
    }
}
