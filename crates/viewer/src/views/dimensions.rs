//! Dimension lines of what is moved by hand, drawn alike in every view.

use crate::state::model::Model;
use crate::state::nearby::Nearby;
use crate::widgets::words::Words;
use egui::{Align2, Painter, Pos2, Stroke, Vec2, vec2};

/// Lines shorter than this on the screen, points, are seen end on: a ring stands for them.
const SHORT: f32 = 6.0;
/// So many lines have words, the first and worst: a cloud of them says nothing.
const MOST_WORDS: usize = 8;

/// Draws them; more weakly while they are out of date, as what is held has moved on. Where something is too
/// near, the line is heavy, ends in crosses instead of strokes, and says so.
pub(crate) fn draw(
    painter: &Painter,
    model: &Model,
    around: &Nearby,
    words: &mut Words,
    on_screen: impl Fn([f64; 3]) -> Option<Pos2>,
) {
    let strength = if model.is_measured_here(around) { 1.0 } else { 0.45 };
    for (number, line) in around.lines.iter().enumerate() {
        let (Some(a), Some(b)) = (on_screen(line.ends_mm[0]), on_screen(line.ends_mm[1])) else {
            continue;
        };
        let ink = if line.is_too_near { model.ink.stop } else { model.ink.accent };
        let ink = ink.gamma_multiply(strength);
        let stroke = Stroke::new(if line.is_too_near { 2.4 } else { 1.3 }, ink);
        span(painter, [a, b], line.is_too_near, stroke);
        if number >= MOST_WORDS {
            words.leave_out(1);
            continue;
        }
        let along = b - a;
        // Beside a line that runs up, above any other.
        let (off, align) = if along.x.abs() < along.y.abs() {
            (vec2(8.0, 0.0), Align2::LEFT_CENTER)
        } else {
            (vec2(0.0, -7.0), Align2::CENTER_BOTTOM)
        };
        let wanted = |size| align.anchor_size(a + along * 0.5 + off, size);
        words.write(painter, &model.ink, wanted, line.words(), ink);
    }
    words.leave_out(around.left_out);
}

/// The line itself: between oblique strokes, or crosses where something is too near.
pub(crate) fn span(painter: &Painter, [a, b]: [Pos2; 2], is_too_near: bool, stroke: Stroke) {
    if a.distance(b) < SHORT {
        painter.circle_stroke(a, 5.0, stroke);
        if is_too_near {
            cross(painter, a, stroke);
        }
        return;
    }
    painter.line_segment([a, b], stroke);
    for end in [a, b] {
        if is_too_near {
            cross(painter, end, stroke);
        } else {
            slash(painter, end, vec2(4.0, -4.0), stroke);
        }
    }
}

fn cross(painter: &Painter, at: Pos2, stroke: Stroke) {
    slash(painter, at, vec2(4.0, -4.0), stroke);
    slash(painter, at, vec2(4.0, 4.0), stroke);
}

fn slash(painter: &Painter, at: Pos2, by: Vec2, stroke: Stroke) {
    painter.line_segment([at - by, at + by], stroke);
}
