//! The beam's spot at the cursor's time, with a short tail of where it has just been.

use super::canvas::Canvas;
use crate::widgets::theme::Ink;
use egui::{Painter, Stroke};
use motion::Timeline;

/// Moves of the tail.
const TAIL: usize = 24;

/// Draws it: a full spot while the laser is on, a ring while it is off; the part of the present
/// mark that is done in full ink.
pub(super) fn draw(
    painter: &Painter,
    canvas: &Canvas,
    timeline: &Timeline,
    time_s: f64,
    ink: &Ink,
) {
    let (Some(index), Some(beam)) = (timeline.index_at(time_s), timeline.at(time_s)) else {
        return;
    };
    let spot = canvas.at(beam.position_mm.map(|mm| mm * base::NM_PER_MM));
    let first = index.saturating_sub(TAIL);
    for step in first..=index {
        let from = timeline.moves()[step].from;
        let to = timeline.to(step);
        let nm = |p: base::Point| [f64::from(p.x), f64::from(p.y)];
        let end = if step == index { spot } else { canvas.at(nm(to)) };
        let age = (index - step) as f32 / TAIL as f32;
        let is_mark = timeline.moves()[step].kind.is_lit();
        let width = if is_mark { 2.0 } else { 1.0 };
        let colour = ink.accent.gamma_multiply((1.0 - age) * if is_mark { 1.0 } else { 0.5 });
        painter.line_segment([canvas.at(nm(from)), end], Stroke::new(width, colour));
    }
    if beam.kind.is_lit() {
        painter.circle(spot, 4.0, ink.accent, Stroke::new(1.0, ink.sheet));
    } else {
        painter.circle(spot, 4.0, ink.sheet, Stroke::new(1.5, ink.accent));
    }
}
