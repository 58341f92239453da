//! How far the outline of what melts moves, from exact doses along it.

use super::{BEAM_MM, GRID_MM, Mark, erf};
use base::NM_PER_MM;
use std::collections::BTreeMap;

/// Marks are sorted into squares of this edge, mm: a mark's dose ends within it.
const SQUARE_MM: f64 = 2.5 * BEAM_MM;

/// An outline that comes by within this has not moved, µm.
pub(super) const STILL_UM: f64 = 10.0;

/// Marks of a layer by the squares that their dose reaches.
struct Marks(BTreeMap<[i64; 2], Vec<(Mark, f64)>>);

/// The square that a place lies in.
fn square([x, y]: [f64; 2]) -> [i64; 2] {
    #[expect(clippy::cast_possible_truncation, reason = "a few mm")]
    [x, y].map(|c| (c / SQUARE_MM).floor() as i64)
}

impl Marks {
    fn new(bag: &BTreeMap<Mark, i32>) -> Self {
        let mut squares: BTreeMap<[i64; 2], Vec<(Mark, f64)>> = BTreeMap::new();
        for (mark, count) in bag {
            let [ax, ay, bx, by] = mark.0.map(|c| f64::from(c) / NM_PER_MM);
            let [low, high] = [[ax.min(bx), ay.min(by)], [ax.max(bx), ay.max(by)]].map(square);
            for i in low[0] - 1..=high[0] + 1 {
                for j in low[1] - 1..=high[1] + 1 {
                    squares.entry([i, j]).or_default().push((*mark, f64::from(*count)));
                }
            }
        }
        Self(squares)
    }

    /// Dose at a place, J/mm².
    fn dose(&self, at: [f64; 2]) -> f64 {
        let near = self.0.get(&square(at)).into_iter().flatten();
        near.map(|(mark, count)| count * of_mark(mark, at)).sum()
    }
}

/// The dose of one mark at a place, J/mm² (facts.md C9).
pub(super) fn of_mark(&([ax, ay, bx, by], power, speed): &Mark, [x, y]: [f64; 2]) -> f64 {
    let [ax, ay, bx, by] = [ax, ay, bx, by].map(|c| f64::from(c) / NM_PER_MM);
    let length = (bx - ax).hypot(by - ay);
    if length <= 0.0 {
        return 0.0; // a controller skips it
    }
    let per_length = f64::from_bits(power) / f64::from_bits(speed);
    let peak = (2.0 / std::f64::consts::PI).sqrt() * per_length / BEAM_MM;
    let (cos, sin) = ((bx - ax) / length, (by - ay) / length);
    let (u, v) = (cos * (x - ax) + sin * (y - ay), cos * (y - ay) - sin * (x - ax));
    if v.abs() > SQUARE_MM || u < -SQUARE_MM || u > length + SQUARE_MM {
        return 0.0;
    }
    let w = BEAM_MM;
    let ends = erf(2_f64.sqrt() * u / w) - erf(2_f64.sqrt() * (u - length) / w);
    peak * (-2.0 * v * v / (w * w)).exp() * 0.5 * ends
}

/// How far the outline of what melts lies from where it should at most, µm, looked for at twice the distance each time
/// from [`STILL_UM`] on; `added` is where the dose changes.
pub(super) fn moved_um(
    before: &BTreeMap<Mark, i32>,
    now: &BTreeMap<Mark, i32>,
    added: &BTreeMap<[i64; 2], f64>,
    melts: f64,
) -> f64 {
    let [before, now] = [before, now].map(Marks::new);
    let mut most = 0.0;
    for (&[i, j], _) in added.iter().filter(|(_, change)| change.abs() > melts / 200.0) {
        let corner = |i: i64, j: i64| [i as f64 * GRID_MM, j as f64 * GRID_MM];
        for (of, other) in [(&before, &now), (&now, &before)] {
            for ends in [[corner(i, j), corner(i + 1, j)], [corner(i, j), corner(i, j + 1)]] {
                let Some(at) = crossing(of, ends, melts) else { continue };
                let far = nearest_um(other, at, melts);
                if far > STILL_UM {
                    return far;
                }
                most = f64::max(most, far);
            }
        }
    }
    most
}

/// Where the outline crosses a straight line, if it does.
fn crossing(marks: &Marks, [mut a, mut b]: [[f64; 2]; 2], melts: f64) -> Option<[f64; 2]> {
    let is_melted = marks.dose(a) >= melts;
    if (marks.dose(b) >= melts) == is_melted {
        return None;
    }
    for _ in 0..10 {
        let middle = [0, 1].map(|k| f64::midpoint(a[k], b[k]));
        if (marks.dose(middle) >= melts) == is_melted { a = middle } else { b = middle }
    }
    Some(a)
}

/// Within how far of a place the outline comes by, µm.
fn nearest_um(marks: &Marks, at: [f64; 2], melts: f64) -> f64 {
    let is_melted = marks.dose(at) >= melts;
    let mut reach_um = STILL_UM / 4.0;
    while reach_um < 1000.0 {
        let is_other = |turn: u32| {
            let (sin, cos) = (f64::from(turn) * std::f64::consts::TAU / 16.0).sin_cos();
            let by = reach_um / 1000.0;
            (marks.dose([at[0] + by * cos, at[1] + by * sin]) >= melts) != is_melted
        };
        if (0..16).any(is_other) {
            return reach_um;
        }
        reach_um *= 2.0;
    }
    reach_um
}
