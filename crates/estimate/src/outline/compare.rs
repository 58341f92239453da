//! The predicted outline against the section that it should be.

use base::Progress;
use rayon::prelude::*;
use region::Region;

use super::Ring;
use super::islands::{Changes, Filled, Merged, Vanished, changes};
use super::nearest::Boundary;
use crate::error::EstimateError;

/// Samples are never closer than this, mm.
pub(super) const CLOSEST_MM: f64 = 1e-3;

/// A place on the predicted outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Where it lies, mm.
    pub at: [f64; 2],
    /// Distance from the section's boundary, mm: positive outside, where the part gets too large.
    pub signed_mm: f64,
    /// The ring of the section whose boundary is nearest.
    pub section_ring: usize,
    /// The edge of that ring, by the number of its first point.
    pub section_edge: usize,
}

/// How the predicted outline differs from the section.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Deviation {
    /// Places along the outline, evenly spaced on each ring.
    pub samples: Vec<Sample>,
    /// Area that melts, mm².
    pub melted_area_mm2: f64,
    /// Islands in which nothing melts.
    pub vanished: Vec<Vanished>,
    /// Holes that melt over.
    pub filled: Vec<Filled>,
    /// Islands that melt into one.
    pub merged: Vec<Merged>,
}

impl Deviation {
    /// Mean of the signed distances, mm; `None` without samples.
    pub fn mean_mm(&self) -> Option<f64> {
        let sum: f64 = self.samples.iter().map(|sample| sample.signed_mm).sum();
        (!self.samples.is_empty()).then(|| sum / self.samples.len() as f64)
    }

    /// The distance, whatever its sign, that 95 % of the samples do not exceed, mm (the nearest rank);
    /// `None` without samples.
    pub fn p95_mm(&self) -> Option<f64> {
        let mut distances: Vec<f64> = self.samples.iter().map(|s| s.signed_mm.abs()).collect();
        distances.sort_by(f64::total_cmp);
        let rank = (distances.len() * 95).div_ceil(100);
        distances.get(rank.checked_sub(1)?).copied()
    }

    /// How many samples lie in each of some bins: `edges_mm` rise, bin `i` reaches from edge `i` up to but
    /// not including edge `i + 1`. What lies beyond the first or last edge counts in the outermost bin.
    pub fn histogram(&self, edges_mm: &[f64]) -> Vec<usize> {
        let mut counts = vec![0; edges_mm.len().saturating_sub(1)];
        if let Some(last) = counts.len().checked_sub(1) {
            for sample in &self.samples {
                let passed = edges_mm.partition_point(|edge| *edge <= sample.signed_mm);
                counts[passed.saturating_sub(1).min(last)] += 1;
            }
        }
        counts
    }
}

/// Compares the outline of the melt with the section that it should be.
///
/// | argument   | meaning                                                                  |
/// |------------|--------------------------------------------------------------------------|
/// | `rings`    | from [`melted`](super::melted)                                           |
/// | `section`  | a proper region                                                          |
/// | `every_mm` | distance of samples along the outline, mm, at least 1 µm; a ring has one at least |
///
/// Distances are exact. Islands and holes are judged on the grid of nanometres; what lies within its
/// rounding counts as nothing. An island that only the melt of a neighbour reaches has not vanished.
///
/// # Errors
/// A ring outside the grid of nanometres, or cancelled.
pub fn compare(
    rings: &[Ring],
    section: &Region,
    every_mm: f64,
    progress: &Progress,
) -> Result<Deviation, EstimateError> {
    let places: Vec<_> =
        rings.iter().flat_map(|ring| places(ring, every_mm.max(CLOSEST_MM))).collect();
    let boundary = Boundary::new(section);
    progress.add_total(2);
    let samples: Vec<_> = places.into_par_iter().filter_map(|at| sample(&boundary, at)).collect();
    progress.advance(1)?;
    let Changes { vanished, filled, merged } = changes(rings, section)?;
    progress.advance(1)?;
    let melted_area_mm2 = rings.iter().map(|ring| ring.area_mm2).sum();
    Ok(Deviation { samples, melted_area_mm2, vanished, filled, merged })
}

fn sample(boundary: &Boundary, at: [f64; 2]) -> Option<Sample> {
    let near = boundary.nearest(at, |_| true)?;
    let (section_ring, section_edge) = (near.name.ring, near.name.edge);
    Some(Sample { at, signed_mm: near.signed, section_ring, section_edge })
}

/// Places along a ring in even distances, no farther apart than given.
fn places(ring: &Ring, every_mm: f64) -> Vec<[f64; 2]> {
    let total = ring.length_mm();
    let count = crate::buckets::whole((total / every_mm).ceil()).max(1);
    let step = total / count as f64;
    let mut places = Vec::with_capacity(count);
    let mut before = 0.0;
    for [a, b] in ring.edges() {
        let edge = (b[0] - a[0]).hypot(b[1] - a[1]);
        if edge <= 0.0 {
            continue;
        }
        while places.len() < count {
            let along = (places.len() as f64 + 0.5) * step - before;
            if along > edge {
                break;
            }
            let t = along / edge;
            places.push([0, 1].map(|axis| a[axis] + t * (b[axis] - a[axis])));
        }
        before += edge;
    }
    places
}
