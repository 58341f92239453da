//! The strip along an edge that keeps the hatch away from it.

use super::grid::Xy;
use super::pieces_of_lines::Stretch;

/// A rectangle along an edge, in axes of a frame.
pub(super) struct Strip {
    start: Xy,
    unit: Xy,
    along: [f64; 2],
    /// From and to, to the left of the edge.
    aside: [f64; 2],
}

impl Strip {
    /// Along an edge and `spare` farther at both ends.
    pub(super) fn new(start: Xy, end: Xy, aside: [f64; 2], spare: f64) -> Self {
        let (du, dv) = (end[0] - start[0], end[1] - start[1]);
        let length = du.hypot(dv);
        let unit = if length > 0.0 { [du / length, dv / length] } else { [1.0, 0.0] };
        Self { start, unit, along: [-spare, length + spare], aside }
    }

    /// Its lowest and highest place across the lines.
    pub(super) fn across(&self) -> (f64, f64) {
        let corners = [(0, 0), (0, 1), (1, 0), (1, 1)].map(|(i, j)| {
            self.start[1] + self.along[i] * self.unit[1] + self.aside[j] * self.unit[0]
        });
        corners.into_iter().fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(v), b.max(v)))
    }

    /// Where it meets the line at `v`.
    pub(super) fn on_line(&self, v: f64) -> Option<Stretch> {
        let v = v - self.start[1];
        let [cos, sin] = self.unit;
        // Along the edge a point of the line lies at u·cos + v·sin, to its left at v·cos − u·sin.
        let (mut from, mut to) = (f64::NEG_INFINITY, f64::INFINITY);
        for (factor, rest, [low, high]) in [(cos, v * sin, self.along), (-sin, v * cos, self.aside)]
        {
            if factor.abs() < 1e-12 {
                if rest < low || rest > high {
                    return None;
                }
                continue;
            }
            let (a, b) = ((low - rest) / factor, (high - rest) / factor);
            from = from.max(a.min(b));
            to = to.min(a.max(b));
        }
        (from <= to).then_some((from + self.start[0], to + self.start[0]))
    }
}
