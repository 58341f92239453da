//! Putting a curve where the exact dose is the threshold.

use crate::field::DoseField;

use super::cells::CrossedEdge;

/// How near to the curve a point is put, mm.
const EXACT_MM: f64 = 1e-6;

/// How far a chord may leave the curve, mm.
const CHORD_MM: f64 = 1e-3;

/// Halvings of a chord at most: 64 pieces of a cell, each shorter than what can be seen.
const MAX_DEPTH: u32 = 6;

/// Steps at most of either search; a handful is usual.
const MAX_STEPS: u32 = 60;

/// A point of a curve.
#[derive(Clone, Copy, Debug)]
pub(super) struct Corner {
    at: [f64; 2],
    /// Whether the curve ends here at the border of the grid, rather than because of the dose.
    is_border: bool,
}

/// The dose, and where it is looked for.
pub(super) struct Refiner<'a> {
    pub(super) field: &'a DoseField,
    pub(super) threshold: f64,
}

impl Refiner<'_> {
    fn excess(&self, place: [f64; 2]) -> f64 {
        self.field.at(place) - self.threshold
    }

    /// Where a curve crosses an edge of the grid.
    pub(super) fn on_edge(&self, edge: &CrossedEdge) -> Corner {
        match *edge {
            CrossedEdge::Border(at) => Corner { at, is_border: true },
            CrossedEdge::Inner(hot, cold) => {
                Corner { at: self.between(hot, cold), is_border: false }
            }
        }
    }

    /// Between a place above the threshold and one below. False position, with the weight of an end
    /// halved that stays for a second time (the Illinois rule).
    fn between(&self, hot: [f64; 2], cold: [f64; 2]) -> [f64; 2] {
        let length = (cold[0] - hot[0]).hypot(cold[1] - hot[1]);
        let place = |t: f64| [0, 1].map(|axis| hot[axis] + t * (cold[axis] - hot[axis]));
        let (mut low, mut high) = (0.0, 1.0);
        let (mut at_low, mut at_high) = (self.excess(hot), self.excess(cold));
        // the grid may differ from the exact dose in the ninth digit
        if at_low <= 0.0 {
            return hot;
        }
        if at_high >= 0.0 {
            return cold;
        }
        let mut before = f64::INFINITY;
        for _ in 0..MAX_STEPS {
            let t = low + (high - low) * at_low / (at_low - at_high);
            let excess = self.excess(place(t));
            let is_found = (t - before).abs() * length < 0.1 * EXACT_MM;
            before = t;
            if is_found || (high - low) * length < EXACT_MM {
                break;
            }
            if excess > 0.0 {
                (low, at_low) = (t, excess);
                at_high *= 0.5;
            } else {
                (high, at_high) = (t, excess);
                at_low *= 0.5;
            }
        }
        place(before)
    }

    /// The first of two corners, and what has to lie between them for the chords to follow the curve.
    pub(super) fn divided(&self, from: Corner, to: Corner) -> Vec<[f64; 2]> {
        let mut points = vec![from.at];
        if !(from.is_border || to.is_border) {
            self.divide(from.at, to.at, MAX_DEPTH, &mut points);
        }
        points
    }

    fn divide(&self, from: [f64; 2], to: [f64; 2], depth: u32, points: &mut Vec<[f64; 2]>) {
        let middle = [0, 1].map(|axis| 0.5 * (from[axis] + to[axis]));
        let half = 0.5 * (to[0] - from[0]).hypot(to[1] - from[1]);
        if depth == 0 || half <= CHORD_MM {
            return;
        }
        let Some(on_curve) = self.projected(middle, half) else { return };
        if (on_curve[0] - middle[0]).hypot(on_curve[1] - middle[1]) <= CHORD_MM {
            return;
        }
        self.divide(from, on_curve, depth - 1, points);
        points.push(on_curve);
        self.divide(on_curve, to, depth - 1, points);
    }

    /// The curve's point uphill or downhill of a place (Newton's method); `None` if it is not found within
    /// a distance.
    fn projected(&self, start: [f64; 2], reach: f64) -> Option<[f64; 2]> {
        let mut place = start;
        for _ in 0..MAX_STEPS {
            let excess = self.excess(place);
            let [gx, gy] = self.field.gradient_at(place);
            let factor = -excess / (gx * gx + gy * gy);
            let step = [factor * gx, factor * gy];
            place = [place[0] + step[0], place[1] + step[1]];
            let moved = (place[0] - start[0]).hypot(place[1] - start[1]);
            if moved.is_nan() || moved > reach {
                return None;
            }
            if step[0].hypot(step[1]) < 0.1 * EXACT_MM {
                return Some(place);
            }
        }
        None
    }
}
