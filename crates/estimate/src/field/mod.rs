//! The dose at every spot of a layer.

mod blur;
mod grid;
mod half_erf;
mod rows;

pub use grid::Grid;

use std::f64::consts::{FRAC_2_SQRT_PI, SQRT_2};

use crate::beam::Beam;
use crate::buckets::Buckets;
use crate::error::EstimateError;
use crate::stroke::Stroke;

/// Radii beyond which [`DoseField::at`] leaves a stroke out: there a line has exp(−32) = 1.3e-14 of
/// its peak.
const REACH_IN_RADII: f64 = 4.0;

/// The energy per area that strokes leave behind, with an index to find them by place.
#[derive(Clone, Debug)]
pub struct DoseField {
    beam: Beam,
    lines: Vec<Line>,
    index: Buckets,
}

/// A stroke in the form in which its dose is worked out.
#[derive(Clone, Copy, Debug)]
struct Line {
    from: [f64; 2],
    /// Direction, of length 1.
    along: [f64; 2],
    length: f64,
    energy_j_mm: f64,
}

impl Line {
    /// How far along the stroke a place lies, and how far to its left.
    fn local(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let [dx, dy] = [x - self.from[0], y - self.from[1]];
        let [ux, uy] = self.along;
        [dx * ux + dy * uy, dy * ux - dx * uy]
    }

    fn to(&self) -> [f64; 2] {
        [0, 1].map(|axis| self.from[axis] + self.length * self.along[axis])
    }
}

impl DoseField {
    /// The field of strokes.
    ///
    /// # Errors
    /// [`EstimateError::UnusableStroke`] for one that is not finite or has negative energy.
    pub fn new(strokes: &[Stroke], beam: Beam) -> Result<Self, EstimateError> {
        let mut lines = Vec::with_capacity(strokes.len());
        for (number, stroke) in strokes.iter().enumerate() {
            let length = stroke.length_mm();
            // what is infinite or no number in either end is so in the length, too
            if !(length.is_finite() && stroke.energy_j_mm.is_finite() && stroke.energy_j_mm >= 0.0)
            {
                return Err(EstimateError::UnusableStroke { stroke: number });
            }
            if length > 0.0 && stroke.energy_j_mm > 0.0 {
                let along = [0, 1].map(|axis| (stroke.to[axis] - stroke.from[axis]) / length);
                let energy_j_mm = stroke.energy_j_mm;
                lines.push(Line { from: stroke.from, along, length, energy_j_mm });
            }
        }
        let segments: Vec<_> = lines.iter().map(|line| [line.from, line.to()]).collect();
        let reach = REACH_IN_RADII * beam.radius_mm();
        let index = Buckets::new(&segments, reach, reach);
        Ok(Self { beam, lines, index })
    }

    /// The beam.
    pub fn beam(&self) -> Beam {
        self.beam
    }

    /// A box, as its lower left and upper right corner in mm, outside of which the dose is nothing;
    /// `None` if it is nothing everywhere.
    pub fn bounds(&self) -> Option<[[f64; 2]; 2]> {
        (!self.lines.is_empty()).then(|| self.index.bounds())
    }

    /// The dose at a place, J/mm².
    ///
    /// For a stroke from 0 to L along x: peak of the line·exp(−2y²/w²)·½[erf(√2·x/w) − erf(√2·(x − L)/w)].
    /// Exact but for strokes farther away than four beam radii, which are left out: less than 1.3e-14 of
    /// the peak of a line each.
    pub fn at(&self, place: [f64; 2]) -> f64 {
        let scale = SQRT_2 / self.beam.radius_mm();
        let near = self.near(place);
        near.map(|(line, [x, y])| self.across(line, y) * share_along(x, line.length, scale)).sum()
    }

    /// How the dose changes with place, J/mm³: its derivatives along X and Y.
    pub fn gradient_at(&self, place: [f64; 2]) -> [f64; 2] {
        let scale = SQRT_2 / self.beam.radius_mm();
        let mut gradient = [0.0; 2];
        for (line, [x, y]) in self.near(place) {
            let across = self.across(line, y);
            let bell = |x: f64| libm::exp(-(scale * x) * (scale * x));
            let ends = bell(x) - bell(x - line.length);
            let by_x = across * 0.5 * FRAC_2_SQRT_PI * scale * ends;
            let share = share_along(x, line.length, scale);
            let by_y = -2.0 * scale * scale * y * across * share;
            let [ux, uy] = line.along;
            gradient[0] += by_x * ux - by_y * uy;
            gradient[1] += by_x * uy + by_y * ux;
        }
        gradient
    }

    /// Dose of an endless line at a distance from its middle.
    fn across(&self, line: &Line, distance: f64) -> f64 {
        self.beam.dose_of_line(line.energy_j_mm, distance)
    }

    /// Strokes whose dose counts at a place, and where it lies along and beside them.
    fn near(&self, place: [f64; 2]) -> impl Iterator<Item = (&Line, [f64; 2])> {
        let reach = REACH_IN_RADII * self.beam.radius_mm();
        let numbered = self.index.at(place).iter().map(|&number| &self.lines[number as usize]);
        numbered.filter_map(move |line| {
            let [x, y] = line.local(place);
            let counts = y.abs() <= reach && x >= -reach && x <= line.length + reach;
            counts.then_some((line, [x, y]))
        })
    }
}

/// ½[erf(s·x) − erf(s·(x − L))], without the loss of digits far beyond either end.
fn share_along(x: f64, length: f64, scale: f64) -> f64 {
    let (start, end) = (scale * x, scale * (x - length));
    let difference = if end > 0.0 {
        libm::erfc(end) - libm::erfc(start)
    } else if start < 0.0 {
        libm::erfc(-start) - libm::erfc(-end)
    } else {
        libm::erf(start) - libm::erf(end)
    };
    0.5 * difference
}
