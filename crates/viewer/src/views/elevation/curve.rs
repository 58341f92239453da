//! The curve along Z: one number for each layer, and the line at the layer shown.

#![expect(clippy::cast_possible_truncation, reason = "f64 mm become f32 points of the screen")]

use super::scale::Scale;
use crate::state::model::Model;
use crate::widgets::theme::CAPTION;
use egui::{Align2, Color32, FontId, Galley, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};
use job::Machine;
use pipeline::{BuildTime, LayerSums};
use std::sync::Arc;

/// What the curve shows.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) enum Curve {
    #[default]
    Area,
    Length,
    Beam,
    Layer,
}

impl Curve {
    pub(super) const ALL: [Self; 4] = [Self::Area, Self::Length, Self::Beam, Self::Layer];

    /// What it is called in the list.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Area => "fused area, mm²",
            Self::Length => "mark length, m",
            Self::Beam => "beam time, s",
            Self::Layer => "layer time, s",
        }
    }

    fn unit(self) -> &'static str {
        match self {
            Self::Area => "mm²",
            Self::Length => "m",
            Self::Beam | Self::Layer => "s",
        }
    }

    fn of(self, sums: &LayerSums, machine: Option<&Machine>) -> f64 {
        match self {
            Self::Area => sums.area_mm2,
            Self::Length => sums.mark_mm / 1000.0,
            Self::Beam => sums.time.total_s(),
            Self::Layer => {
                machine.map_or(0.0, |machine| BuildTime::of_layer(machine, sums.time).total_s())
            }
        }
    }
}

/// Draws the curve of all layers.
pub(super) fn draw(curve: Curve, painter: &Painter, scale: &Scale, model: &Model) {
    let layers = &model.results.survey.layers;
    let ink = &model.ink;
    let rect = scale.curve;
    painter.line_segment([rect.left_bottom(), rect.left_top()], Stroke::new(1.0, ink.soft));
    let machine = model.content().map(|content| &content.machine);
    let most = layers.iter().map(|sums| curve.of(sums, machine)).fold(0.0, f64::max);
    if most <= 0.0 {
        return;
    }
    let stale = model.results.survey.revision != Some(model.revision());
    let colour = if stale { ink.faint } else { ink.ink };
    let thickness = model.layer_thickness_mm();
    let x = |value: f64| rect.left() + (value / most) as f32 * (rect.width() - 6.0);
    // One point for each row of the screen: the greatest of its layers, so that peaks stay.
    let mut points: Vec<Pos2> = Vec::new();
    for (index, sums) in layers.iter().enumerate() {
        let y = scale.y((index as f64 + 0.5) * thickness);
        let x = x(curve.of(sums, machine));
        match points.last_mut() {
            Some(last) if (last.y - y).abs() < 0.75 => last.x = last.x.max(x),
            _ => points.push(pos2(x, y)),
        }
    }
    painter.add(Shape::line(points, Stroke::new(1.25, colour)));
    let font = FontId::proportional(CAPTION);
    let text = format!("{most:.0}");
    painter.text(rect.right_top(), Align2::RIGHT_BOTTOM, text, font.clone(), ink.soft);
    painter.text(rect.left_top(), Align2::CENTER_BOTTOM, "0", font, ink.soft);
}

/// The line at the layer shown, with what the curve says there.
pub(super) fn layer_line(
    curve: Curve,
    painter: &Painter,
    scale: &Scale,
    rest: Rect,
    model: &Model,
) {
    let (layer, ink) = (model.cursor.layer, &model.ink);
    let thickness = model.layer_thickness_mm();
    let height_mm = base::layers::middle_mm(layer, thickness);
    let y = scale.y(height_mm);
    let line = Stroke::new(1.25, ink.accent);
    let from = pos2(scale.area.left() - 6.0, y);
    painter.line_segment([from, pos2(rest.right() - 4.0, y)], line);
    let sums = model.results.survey.layers.get(layer as usize);
    let machine = model.content().map(|content| &content.machine);
    let value = sums.map(|sums| format!("{:.1} {}", curve.of(sums, machine), curve.unit()));
    let words = [format!("layer {layer}"), format!("{height_mm:.2} mm")].into_iter().chain(value);
    let right = rest.right() - 8.0;
    let lines = lines_within(right - scale.curve.left() - 4.0, words, painter, ink.accent);
    let height: f32 = lines.iter().map(|line| line.size().y).sum();
    let above = y - 3.0 - height;
    let mut top = if above - 2.0 < rest.top() { y + 3.0 } else { above };
    for line in lines {
        let size = line.size();
        let place = Rect::from_min_size(pos2(right - size.x, top), size);
        painter.rect_filled(place.expand2(vec2(2.0, 1.0)), 2.0, ink.sheet);
        painter.galley(place.min, line, ink.accent);
        top += size.y;
    }
}

/// Words in one line, or in as few as keep within a width: beside the drawing, not over it.
fn lines_within(
    width: f32,
    words: impl Iterator<Item = String>,
    painter: &Painter,
    colour: Color32,
) -> Vec<Arc<Galley>> {
    let font = FontId::proportional(CAPTION + 1.0);
    let laid_out = |text: &str| painter.layout_no_wrap(text.to_owned(), font.clone(), colour);
    let mut lines: Vec<String> = Vec::new();
    for word in words {
        let longer = lines.last().map(|line| format!("{line} · {word}"));
        match (lines.last_mut(), longer.filter(|longer| laid_out(longer).size().x <= width)) {
            (Some(line), Some(longer)) => *line = longer,
            _ => lines.push(word),
        }
    }
    lines.iter().map(|line| laid_out(line)).collect()
}
