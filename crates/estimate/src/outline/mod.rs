//! Where the layer melts, and how far that outline lies from the section.

mod boundary;
mod cells;
mod compare;
mod islands;
mod nearest;
mod refine;
mod widest;

pub use boundary::{BoundaryPlace, NEAR_CORNER_IN_RADII, along_boundary};
pub use compare::{Deviation, Sample, compare};
pub use islands::{Filled, Merged, Vanished};

use base::Progress;
use rayon::prelude::*;

use crate::error::{EstimateError, positive};
use crate::field::{DoseField, Grid};
use cells::Cells;
use refine::Refiner;

/// Grid points in a beam radius. The dose changes little over an eighth of it, so that nothing
/// but the barest contact of a summit or a hollow with the threshold falls between; and it is the widest
/// spacing at which [`DoseField::grid`] can go by coarser nodes, which is fast.
const PER_RADIUS: f64 = 8.0;

/// A closed curve, the melt on its left: counter-clockwise around melt, clockwise around a hole in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Ring {
    /// Its points in order, mm; the edge from last to first is implied.
    pub points: Vec<[f64; 2]>,
    /// The area that it encloses, mm²: negative for a hole.
    pub area_mm2: f64,
}

impl Ring {
    fn new(points: Vec<[f64; 2]>) -> Self {
        let mut twice = 0.0;
        if let Some(&[x0, y0]) = points.first() {
            for pair in points.windows(2) {
                let [[ax, ay], [bx, by]] = [pair[0], pair[1]].map(|[x, y]| [x - x0, y - y0]);
                twice += ax * by - bx * ay;
            }
        }
        Self { points, area_mm2: 0.5 * twice }
    }

    /// Its length, mm.
    pub fn length_mm(&self) -> f64 {
        self.edges().map(|[a, b]| (b[0] - a[0]).hypot(b[1] - a[1])).sum()
    }

    /// Its edges, the closing one last.
    pub fn edges(&self) -> impl Iterator<Item = [[f64; 2]; 2]> + '_ {
        let next = self.points.iter().cycle().skip(1);
        self.points.iter().zip(next).map(|(&a, &b)| [a, b])
    }
}

/// The closed curves on which the dose is a threshold, within a box.
///
/// | argument          | unit  | meaning                                                     |
/// |-------------------|-------|-------------------------------------------------------------|
/// | `threshold_j_mm2` | J/mm² | what melts, above zero                                      |
/// | `bounds`          | mm    | lower left and upper right corner; curves end along the box |
///
/// Marching squares on a grid of an eighth of the beam's radius say which way the curves run; every crossing is
/// then found on its grid edge from the exact dose, to 1e-6 mm, and a chord that leaves the curve
/// by more than 1 µm is divided. Where a cell can be read in two ways, the exact dose at its centre
/// decides. What is smaller than a cell may be missed or misread: a summit or a hollow about to appear
/// or to vanish, a bridge or a gap narrower than its diagonal.
/// In the same order, with the same bits, for any number of threads.
///
/// # Errors
/// A threshold that is not positive, a box with too many grid points for it, or cancelled.
pub fn melted(
    field: &DoseField,
    threshold_j_mm2: f64,
    bounds: [[f64; 2]; 2],
    progress: &Progress,
) -> Result<Vec<Ring>, EstimateError> {
    let threshold = positive("threshold", threshold_j_mm2)?;
    let [lo, hi] = bounds;
    if !(0..2).all(|axis| lo[axis] <= hi[axis]) {
        return Ok(Vec::new()); // an empty box, or none at all
    }
    let grid = Grid::over(lo, hi, field.beam().radius_mm() / PER_RADIUS)?;
    let is_melted = field.melts(&grid, threshold, progress)?;
    let refiner = Refiner { field, threshold };
    let cells = Cells::new(&grid, &is_melted);
    let curves = cells.curves(|centre| field.at(centre) >= threshold);
    progress.add_total(curves.len() as u64);
    let mut rings = Vec::with_capacity(curves.len());
    for curve in curves {
        let corners: Vec<_> =
            curve.par_iter().map(|&edge| refiner.on_edge(&cells.edge(edge))).collect();
        progress.check()?;
        let mut points: Vec<[f64; 2]> = (0..corners.len())
            .into_par_iter()
            .flat_map_iter(|i| refiner.divided(corners[i], corners[(i + 1) % corners.len()]))
            .collect();
        points.dedup();
        if points.first() == points.last() {
            points.pop();
        }
        if points.len() > 2 {
            rings.push(Ring::new(points));
        }
        progress.advance(1)?;
    }
    Ok(rings)
}
