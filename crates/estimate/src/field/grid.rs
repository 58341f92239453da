//! The dose on a whole grid of points.

use base::{Cancelled, Progress};
use rayon::prelude::*;

use super::blur::{BEFORE, Kernel, TAPS, fine_per_node, narrower_radius, weighted_sum};
use super::rows::{Exposure, Points};
use super::{DoseField, Line};
use crate::beam::Beam;
use crate::error::{EstimateError, positive};

/// Points at most: 8 GB.
const MAX_POINTS: usize = 1 << 30;

/// Fine points along a tile, about: few enough for what a tile needs to stay in the cache.
const TILE: usize = 192;

/// Nodes along a tile at least.
const LEAST_NODES: usize = 8;

/// Evenly spaced points, row by row upwards: point `(i, j)` lies at origin + pitch·(i, j), and is
/// value `j·columns + i`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    origin_mm: [f64; 2],
    pitch_mm: f64,
    columns: usize,
    rows: usize,
}

impl Grid {
    /// A grid by its first point, the distance of its points, and their numbers.
    ///
    /// # Errors
    /// [`EstimateError::NotPositive`] for the pitch, [`EstimateError::GridTooLarge`] for more than
    /// 2³⁰ points.
    pub fn new(
        origin_mm: [f64; 2],
        pitch_mm: f64,
        columns: usize,
        rows: usize,
    ) -> Result<Self, EstimateError> {
        let pitch_mm = positive("distance of grid points", pitch_mm)?;
        if columns.checked_mul(rows).is_none_or(|points| points > MAX_POINTS) {
            return Err(EstimateError::GridTooLarge { columns, rows });
        }
        Ok(Self { origin_mm, pitch_mm, columns, rows })
    }

    /// The grid whose first point is the lower left corner of a box, and whose last is the upper
    /// right one or lies just beyond it.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn over(lo: [f64; 2], hi: [f64; 2], pitch_mm: f64) -> Result<Self, EstimateError> {
        let count = |axis: usize| {
            crate::buckets::whole(((hi[axis] - lo[axis]) / pitch_mm).ceil()).saturating_add(1)
        };
        Self::new(lo, pitch_mm, count(0), count(1))
    }

    /// Points along X.
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// Points along Y.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Distance of neighbours, mm.
    pub fn pitch_mm(&self) -> f64 {
        self.pitch_mm
    }

    /// Where a point lies, mm.
    pub fn place(&self, column: usize, row: usize) -> [f64; 2] {
        let [x, y] = self.origin_mm;
        [x + column as f64 * self.pitch_mm, y + row as f64 * self.pitch_mm]
    }
}

impl DoseField {
    /// The dose at every point of a grid, J/mm², row by row.
    ///
    /// Differs from [`Self::at`] by less than 1e-6 of the largest dose nearby. Points closer than
    /// an eighth of the beam's radius are worked out in two steps: the dose of a narrower beam at
    /// nodes, and from those the points. Parallel, in bands of rows; the same bits for any number of threads.
    /// One step of progress is a band.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn grid(&self, grid: &Grid, progress: &Progress) -> Result<Vec<f64>, Cancelled> {
        let mut dose = vec![0.0; grid.columns * grid.rows];
        if self.lines.is_empty() || dose.is_empty() {
            return Ok(dose);
        }
        let tiling = Tiling::new(self, grid);
        progress.add_total(tiling.bands());
        dose.par_chunks_mut(tiling.band_points())
            .enumerate()
            .try_for_each(|(band, dose)| tiling.fill_band(band, dose, progress))?;
        Ok(dose)
    }

    /// Whether the dose reaches a threshold, J/mm², at every point of a grid, row by row: what
    /// [`Self::grid`] gives, in an eighth of its memory.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn melts(
        &self,
        grid: &Grid,
        threshold_j_mm2: f64,
        progress: &Progress,
    ) -> Result<Vec<bool>, Cancelled> {
        let mut melts = vec![false; grid.columns * grid.rows];
        if self.lines.is_empty() || melts.is_empty() {
            return Ok(melts);
        }
        let tiling = Tiling::new(self, grid);
        progress.add_total(tiling.bands());
        let bands = melts.par_chunks_mut(tiling.band_points()).enumerate();
        bands.try_for_each_init(Vec::new, |dose, (band, melts)| {
            dose.clear();
            dose.resize(melts.len(), 0.0);
            tiling.fill_band(band, dose, progress)?;
            for (melts, dose) in melts.iter_mut().zip(dose.iter()) {
                *melts = *dose >= threshold_j_mm2;
            }
            Ok(())
        })?;
        Ok(melts)
    }
}

/// How a grid is worked out tile by tile.
struct Tiling<'a> {
    field: &'a DoseField,
    grid: &'a Grid,
    exposure: Exposure,
    kernel: Kernel,
    /// Nodes along a tile.
    nodes: usize,
}

/// What a tile needs on the way.
#[derive(Default)]
struct Work {
    lines: Vec<Line>,
    /// Dose at the nodes, row by row.
    at_nodes: Vec<f64>,
    /// The same after the blur along X: fine along X, nodes along Y.
    along_x: Vec<f64>,
    /// Fine points of one phase.
    phase: Vec<f64>,
}

impl<'a> Tiling<'a> {
    fn new(field: &'a DoseField, grid: &'a Grid) -> Self {
        let radius = field.beam.radius_mm();
        let fine = fine_per_node(grid.pitch_mm, radius);
        let beam = if fine == 1 {
            field.beam
        } else {
            Beam::of_radius(narrower_radius(radius, grid.pitch_mm * fine as f64))
        };
        let nodes = (TILE / fine).max(LEAST_NODES);
        let kernel = Kernel::new(fine);
        Self { field, grid, exposure: Exposure::new(beam), kernel, nodes }
    }

    fn band_rows(&self) -> usize {
        self.nodes * self.kernel.fine_per_node()
    }

    fn band_points(&self) -> usize {
        self.band_rows() * self.grid.columns
    }

    fn bands(&self) -> u64 {
        self.grid.rows.div_ceil(self.band_rows()) as u64
    }

    /// Works out a band of rows, all zero before.
    fn fill_band(
        &self,
        band: usize,
        dose: &mut [f64],
        progress: &Progress,
    ) -> Result<(), Cancelled> {
        let mut work = Work::default();
        for column in 0..self.grid.columns.div_ceil(self.band_rows()) {
            progress.check()?;
            self.fill(column, band, dose, &mut work);
        }
        progress.advance(1)
    }

    /// Works out one tile of a band of rows.
    fn fill(&self, column: usize, band: usize, dose: &mut [f64], work: &mut Work) {
        let fine = self.kernel.fine_per_node();
        let start = column * self.nodes * fine;
        let width = (self.nodes * fine).min(self.grid.columns - start);
        let height = dose.len() / self.grid.columns;
        let margin = if fine == 1 { [0, 0] } else { [BEFORE, TAPS - 1] };
        let nodes = |points: usize| points.div_ceil(fine) + margin[1];
        let points = self.points([column, band], margin[0], [nodes(width), nodes(height)]);
        self.expose(&points, work);
        if fine == 1 {
            for (row, values) in work.at_nodes.chunks_exact(width).enumerate() {
                let from = row * self.grid.columns + start;
                dose[from..from + width].copy_from_slice(values);
            }
            return;
        }
        self.blur_along_x(&points, width, work);
        for (row, values) in dose.chunks_exact_mut(self.grid.columns).enumerate() {
            let first = row / fine;
            let node_row = |tap: usize| {
                let from = (first + tap) * width;
                &work.along_x[from..from + width]
            };
            let weights = self.kernel.weights(row % fine);
            let rows = std::array::from_fn(node_row);
            weighted_sum(&mut values[start..start + width], rows, weights);
        }
    }

    /// The nodes of a tile, by its column and row among the tiles.
    fn points(&self, tile: [usize; 2], margin: usize, [columns, rows]: [usize; 2]) -> Points {
        let pitch = self.grid.pitch_mm * self.kernel.fine_per_node() as f64;
        let origin = [0, 1].map(|axis| {
            let node = (tile[axis] * self.nodes) as f64 - margin as f64;
            self.grid.origin_mm[axis] + node * pitch
        });
        Points { origin, pitch, columns, rows }
    }

    /// The dose at nodes.
    fn expose(&self, points: &Points, work: &mut Work) {
        work.at_nodes.clear();
        work.at_nodes.resize(points.columns * points.rows, 0.0);
        let size = [points.columns, points.rows].map(|count| count as f64 * points.pitch);
        let hi = [points.origin[0] + size[0], points.origin[1] + size[1]];
        let near = self.field.index.within(points.origin, hi);
        work.lines.clear();
        work.lines.extend(near.iter().map(|&number| self.field.lines[number as usize]));
        for line in &work.lines {
            self.exposure.add(line, points, &mut work.at_nodes);
        }
    }

    /// From nodes to fine points along X.
    fn blur_along_x(&self, points: &Points, width: usize, work: &mut Work) {
        let fine = self.kernel.fine_per_node();
        let nodes = width.div_ceil(fine);
        work.along_x.clear();
        work.along_x.resize(width * points.rows, 0.0);
        work.phase.resize(nodes, 0.0);
        let rows = work.at_nodes.chunks_exact(points.columns);
        for (source, target) in rows.zip(work.along_x.chunks_exact_mut(width)) {
            for phase in 0..fine {
                let shifted = std::array::from_fn(|tap| &source[tap..tap + nodes]);
                weighted_sum(&mut work.phase, shifted, self.kernel.weights(phase));
                let places = target.iter_mut().skip(phase).step_by(fine);
                places.zip(&work.phase).for_each(|(place, value)| *place = *value);
            }
        }
    }
}
