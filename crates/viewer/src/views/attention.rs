//! The mark at the place that a finding points to, the same in plan and elevation.

use crate::widgets::theme::Ink;
use egui::{Painter, Pos2, Stroke, vec2};

/// A ring with four short lines, so that what lies at the place itself stays in sight.
pub(super) fn draw(painter: &Painter, at: Pos2, ink: &Ink) {
    let line = Stroke::new(1.5, ink.accent);
    painter.circle_stroke(at, 12.0, line);
    for way in [vec2(1.0, 0.0), vec2(-1.0, 0.0), vec2(0.0, 1.0), vec2(0.0, -1.0)] {
        painter.line_segment([at + way * 8.0, at + way * 18.0], line);
    }
}
