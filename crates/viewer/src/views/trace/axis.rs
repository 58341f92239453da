//! The time axis of the trace: where times lie on the screen.

use crate::widgets::theme::{CAPTION, Ink};
use crate::widgets::ticks::nice_step;
use egui::{Color32, FontId, Painter, Pos2, Rect, Shape, Stroke, pos2};

/// Shortest stretch that can be shown, s.
pub(super) const SHORTEST: f64 = 1e-7;

/// Where times lie on the screen.
#[derive(Clone, Copy)]
pub(super) struct Axis {
    pub(super) area: Rect,
    /// First and last time shown, s.
    pub(super) span: [f64; 2],
}

impl Axis {
    pub(super) fn x(&self, time_s: f64) -> f32 {
        let share = (time_s - self.span[0]) / (self.span[1] - self.span[0]);
        #[expect(clippy::cast_possible_truncation, reason = "points of the screen")]
        let share = share.clamp(-10.0, 10.0) as f32;
        self.area.left() + share * self.area.width()
    }

    pub(super) fn time(&self, x: f32) -> f64 {
        let share = f64::from((x - self.area.left()) / self.area.width());
        self.span[0] + share * (self.span[1] - self.span[0])
    }

    pub(super) fn shift(&mut self, points: f32) {
        let by = f64::from(points / self.area.width()) * (self.span[1] - self.span[0]);
        self.span = self.span.map(|time| time + by);
    }
}

/// A stretch of time that lies within the layer.
pub(super) fn limited([a, b]: [f64; 2], total_s: f64) -> [f64; 2] {
    let width = (b - a).clamp(SHORTEST.min(total_s), total_s);
    let start = (a + (b - a - width) / 2.0).clamp(0.0, total_s - width);
    [start, start + width]
}

/// Draws the axis with its ticks.
pub(super) fn draw(painter: &Painter, axis: &Axis, ink: &Ink) {
    let [from, to] = axis.span;
    let step = nice_step((to - from) * 90.0 / f64::from(axis.area.width()));
    let (unit, factor) = match step {
        s if s >= 0.1 => ("s", 1.0),
        s if s >= 1e-4 => ("ms", 1e3),
        _ => ("µs", 1e6),
    };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 3")]
    let decimals = (-(step * factor * 1.000_001).log10().floor()).clamp(0.0, 3.0) as usize;
    let base = axis.area.bottom();
    painter.hline(axis.area.x_range(), base, Stroke::new(1.0, ink.soft));
    let font = FontId::proportional(CAPTION);
    let corner = painter.layout_no_wrap(format!("time, {unit}"), font.clone(), ink.soft);
    let free_to = axis.area.right() - corner.size().x - 6.0;
    let first = (from / step).ceil();
    for tick in (0..200).map(|k| first + f64::from(k)).take_while(|tick| tick * step <= to) {
        let x = axis.x(tick * step);
        painter.vline(x, axis.area.y_range(), Stroke::new(1.0, ink.grid));
        painter.vline(x, base..=base + 4.0, Stroke::new(1.0, ink.soft));
        let text = format!("{:.decimals$}", tick * step * factor);
        let text = painter.layout_no_wrap(text, font.clone(), ink.soft);
        let half = text.size().x / 2.0;
        if x + half < free_to {
            painter.galley(pos2(x - half, base + 5.0), text, ink.soft);
        }
    }
    painter.galley(pos2(axis.area.right() - corner.size().x, base + 5.0), corner, ink.soft);
}

/// Draws the line at the time of the beam, with a grip.
pub(super) fn cursor(painter: &Painter, axis: &Axis, time_s: f64, ink: &Ink) {
    let x = axis.x(time_s);
    if x < axis.area.left() - 1.0 || x > axis.area.right() + 1.0 {
        return;
    }
    let line = Stroke::new(1.25, ink.accent);
    painter.vline(x, axis.area.top() - 2.0..=axis.area.bottom() + 4.0, line);
    let top = axis.area.top() - 3.0;
    let grip: Vec<Pos2> = vec![pos2(x - 5.0, top), pos2(x + 5.0, top), pos2(x, top + 7.0)];
    painter.add(Shape::convex_polygon(grip, ink.accent, Stroke::new(0.0, Color32::TRANSPARENT)));
}

#[cfg(test)]
mod tests {
    use super::limited;

    #[test]
    fn a_stretch_of_time_stays_within_the_layer() {
        for (wanted, given) in
            [([-5.0, 50.0], [0.0, 10.0]), ([8.0, 12.0], [6.0, 10.0]), ([2.0, 3.0], [2.0, 3.0])]
        {
            let found = limited(wanted, 10.0);
            let off = (found[0] - given[0]).abs() + (found[1] - given[1]).abs();
            assert!(off < 1e-12, "{found:?}, not {given:?}");
        }
        let [a, b] = limited([4.0, 4.0], 10.0);
        assert!((b - a - 1e-7).abs() < 1e-12);
    }
}
