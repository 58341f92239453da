//! The measuring tool: a dimension line between two points, which snap to corners of the drawing.

use super::canvas::Canvas;
use super::preparing::Ready;
use crate::widgets::theme::{BODY, Ink};
use base::{NM_PER_MM, Point};
use egui::{Align2, FontId, Painter, Pos2, Shape, Stroke, Vec2, vec2};

/// How near the pointer must be to a corner to snap to it, points.
const SNAP: f64 = 8.0;

/// See the module.
#[derive(Default)]
pub(super) struct Measure {
    /// Whether a drag measures.
    pub(super) on: bool,
    /// From, to, nm.
    pub(super) ends: Option<[[f64; 2]; 2]>,
    /// Whether a drag began while the key was held: letting go of the key then closes it.
    pub(super) used: bool,
    /// Whether a click set one end and the next one sets the other.
    pub(super) waits: bool,
}

impl Measure {
    /// Starts the tool, or closes it and removes its line.
    pub(super) fn toggle(&mut self) {
        *self = Self { on: !self.on, ..Self::default() };
    }

    /// Closes the tool and removes its line; whether there was either.
    pub(super) fn leave(&mut self) -> bool {
        let before = std::mem::take(self);
        before.on || before.ends.is_some()
    }

    /// Takes a click: the first sets both ends, the next one the other.
    pub(super) fn click(&mut self, at: [f64; 2]) {
        match &mut self.ends {
            Some(ends) if self.waits => ends[1] = at,
            ends => *ends = Some([at, at]),
        }
        self.waits = !self.waits;
    }

    /// Where a measure from or to a place of the screen is taken: at a corner, if one is near.
    pub(super) fn snapped(canvas: &Canvas, at: Pos2, ready: Option<&Ready>) -> ([f64; 2], bool) {
        let free = canvas.nm(at);
        let Some(ready) = ready else { return (free, false) };
        let drawing = &ready.drawing;
        let reach = canvas.reach_nm(SNAP);
        let timeline = &drawing.shown.timeline;
        let ends = drawing.mark_grid.around(free, reach);
        let ends = ends.flat_map(|index| [timeline.moves()[index].from, timeline.to(index)]);
        let corners = drawing.shown.regions.iter().flat_map(region::Region::points).copied();
        let off = |p: Point| (f64::from(p.x) - free[0]).hypot(f64::from(p.y) - free[1]);
        let nearest = ends.chain(corners).map(|p| (off(p), p)).filter(|(off, _)| *off <= reach);
        let nearest = nearest.min_by(|a, b| a.0.total_cmp(&b.0));
        nearest.map_or((free, false), |(_, p)| ([f64::from(p.x), f64::from(p.y)], true))
    }

    /// Draws the line with arrows, and its length and angle.
    pub(super) fn draw(&self, painter: &Painter, canvas: &Canvas, ink: &Ink) {
        let Some(ends) = self.ends else { return };
        let [a, b] = ends.map(|end| canvas.at(end));
        let along = b - a;
        let line = Stroke::new(1.25, ink.accent);
        for end in [a, b] {
            painter.circle_stroke(end, 2.5, line);
        }
        if along.length() < 10.0 {
            return; // too short on the screen for arrows and words
        }
        let (unit, across) = (along.normalized(), along.normalized().rot90());
        painter.line_segment([a, b], line);
        for (end, inwards) in [(a, unit), (b, -unit)] {
            painter.line_segment([end - across * 7.0, end + across * 7.0], line);
            if along.length() > 24.0 {
                arrow(painter, end, inwards, ink);
            }
        }
        let text = words(ends);
        let font = FontId::proportional(BODY);
        let galley = painter.layout_no_wrap(text, font, ink.ink);
        let up = if across.y > 0.0 { -across } else { across };
        // the whole box of words clears the line, however the line lies
        let half = galley.size() / 2.0;
        let clear = up.x.abs() * half.x + up.y.abs() * half.y + 8.0;
        let middle = a + along / 2.0 + up * clear;
        let place = Align2::CENTER_CENTER.anchor_size(middle, galley.size());
        let inside = canvas.rect.shrink(4.0);
        let place = place.translate(vec2(
            (inside.left() - place.left()).max(0.0) + (inside.right() - place.right()).min(0.0),
            (inside.top() - place.top()).max(0.0) + (inside.bottom() - place.bottom()).min(0.0),
        ));
        painter.rect_filled(place.expand2(vec2(4.0, 1.0)), 2.0, ink.sheet);
        painter.galley(place.min, galley, ink.ink);
    }
}

fn arrow(painter: &Painter, tip: Pos2, inwards: Vec2, ink: &Ink) {
    let side = inwards.rot90() * 3.0;
    let back = tip + inwards * 9.0;
    let points = vec![tip, back + side, back - side];
    painter.add(Shape::convex_polygon(points, ink.accent, Stroke::NONE));
}

/// Length and angle of a line, nm: "12.345 mm at 45.0°, Δx 8.729, Δy 8.729".
pub(super) fn words([a, b]: [[f64; 2]; 2]) -> String {
    let (dx, dy) = ((b[0] - a[0]) / NM_PER_MM, (b[1] - a[1]) / NM_PER_MM);
    let angle = dy.atan2(dx).to_degrees();
    let text = format!("{:.3} mm at {angle:.1}°   Δx {dx:.3}   Δy {dy:.3}", dx.hypot(dy));
    text.replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::words;

    #[test]
    fn a_dimension_says_length_angle_and_differences() {
        let found = words([[1e6, 1e6], [4e6, -3e6]]);
        assert_eq!(found, "5.000 mm at −53.1°   Δx 3.000   Δy −4.000"); // atan(4/3) = 53.13°
    }
}
