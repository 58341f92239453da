//! The dose of strokes on rows of evenly spaced points.

use std::f64::consts::SQRT_2;

use super::Line;
use super::half_erf::HalfErf;
use crate::beam::Beam;
use crate::buckets::whole;

/// Radii beyond which a stroke is left out: exp(−18) = 1.5e-8 of the peak of a line.
const REACH_IN_RADII: f64 = 3.0;

/// Points after which the exponential is worked out anew: each step of the recurrence adds rounding,
/// in all about half the square of their number times 1e-16.
const RESTART: usize = 64;

/// Rows of points.
pub(super) struct Points {
    /// The first point of the first row.
    pub(super) origin: [f64; 2],
    pub(super) pitch: f64,
    pub(super) columns: usize,
    pub(super) rows: usize,
}

/// Works out the dose of strokes on rows of points.
pub(super) struct Exposure {
    beam: Beam,
    half_erf: HalfErf,
}

/// What is the same for all rows of a stroke.
struct Terms<'a> {
    line: &'a Line,
    peak: f64,
    /// exp(−2·(s·Δy)²), Δy being the change of the distance from point to point.
    curvature: f64,
}

impl Exposure {
    pub(super) fn new(beam: Beam) -> Self {
        Self { beam, half_erf: HalfErf::new() }
    }

    fn reach(&self) -> f64 {
        REACH_IN_RADII * self.beam.radius_mm()
    }

    /// √2/w.
    fn scale(&self) -> f64 {
        SQRT_2 / self.beam.radius_mm()
    }

    /// Adds the dose of a stroke to points, row by row.
    pub(super) fn add(&self, line: &Line, points: &Points, dose: &mut [f64]) {
        let (a, b) = (line.from, line.to());
        let reach = self.reach();
        let height = |y: f64| (y - points.origin[1]) / points.pitch;
        let (low, high) = (height(a[1].min(b[1]) - reach), height(a[1].max(b[1]) + reach));
        if high < 0.0 {
            return;
        }
        let step_across = self.scale() * line.along[1] * points.pitch;
        let terms = Terms {
            line,
            peak: self.beam.peak_of_line(line.energy_j_mm),
            curvature: libm::exp(-2.0 * step_across * step_across),
        };
        let rows = whole(low.ceil())..whole(high).saturating_add(1).min(points.rows);
        for row in rows {
            let start = [points.origin[0], points.origin[1] + row as f64 * points.pitch];
            let from = row * points.columns;
            let values = &mut dose[from..from + points.columns];
            self.add_to_row(&terms, start, points.pitch, values);
        }
    }

    fn add_to_row(&self, terms: &Terms, start: [f64; 2], pitch: f64, values: &mut [f64]) {
        let line = terms.line;
        let reach = self.reach();
        let [x, y] = line.local(start);
        let [by_x, by_y] = [line.along[0] * pitch, -line.along[1] * pitch];
        let whole_row = [0.0, values.len() as f64 - 1.0];
        let beside = narrowed(whole_row, y, by_y, [-reach, reach]);
        let [first, last] = narrowed(beside, x, by_x, [-reach, line.length + reach]);
        if last < first {
            return;
        }
        let (first, last) = (whole(first.ceil()), whole(last));
        let mut at = first;
        while at <= last {
            let end = (at + RESTART).min(last + 1);
            let i = at as f64;
            self.add_to_run(
                terms,
                [x + i * by_x, y + i * by_y],
                [by_x, by_y],
                &mut values[at..end],
            );
            at = end;
        }
    }

    /// Points of a row, few enough for the recurrence: exp(−(u + iΔ)²) grows from point to point by a
    /// factor that itself changes by the same factor every time.
    fn add_to_run(&self, terms: &Terms, place: [f64; 2], step: [f64; 2], values: &mut [f64]) {
        let scale = self.scale();
        let (u, du) = (scale * place[1], scale * step[1]);
        let across = terms.peak * libm::exp(-u * u);
        let factor = libm::exp(-du * (2.0 * u + du));
        let (x, dx) = (scale * place[0], scale * step[0]);
        let length = scale * terms.line.length;
        let far = scale * self.reach();
        let last = x + dx * (values.len() as f64 - 1.0);
        // what the table need not be asked for
        let is_far_from_start = x.min(last) >= far;
        let is_far_from_end = x.max(last) <= length - far;
        let table = &self.half_erf;
        let at = |i: u32| x + f64::from(i) * dx;
        let run = Run { across, factor, curvature: terms.curvature };
        match (is_far_from_start, is_far_from_end) {
            (true, true) => run.add(values, |_| 1.0),
            (false, true) => run.add(values, |i| 0.5 + table.at(at(i))),
            (true, false) => run.add(values, |i| 0.5 - table.at(at(i) - length)),
            (false, false) => run.add(values, |i| table.at(at(i)) - table.at(at(i) - length)),
        }
    }
}

/// The recurrence along a few points.
struct Run {
    /// Dose of an endless line at the first point.
    across: f64,
    /// What the second has of the first.
    factor: f64,
    /// How that changes from point to point.
    curvature: f64,
}

impl Run {
    #[inline]
    fn add(self, values: &mut [f64], share: impl Fn(u32) -> f64) {
        let Self { mut across, mut factor, curvature } = self;
        for (i, value) in (0_u32..).zip(values) {
            *value += across * share(i);
            across *= factor;
            factor *= curvature;
        }
    }
}

/// The part of an interval of i in which start + i·step lies between two bounds; empty ones end
/// before they begin.
fn narrowed(interval: [f64; 2], start: f64, step: f64, [low, high]: [f64; 2]) -> [f64; 2] {
    if step.abs() < f64::MIN_POSITIVE {
        return if start >= low && start <= high { interval } else { [1.0, 0.0] };
    }
    let ends = [(low - start) / step, (high - start) / step];
    [interval[0].max(ends[0].min(ends[1])), interval[1].min(ends[0].max(ends[1]))]
}
