//! Doses over a whole grid, band by band, so that no grid is held whole.

use super::answer::{DoseRange, Raster};
use super::canvas::whole;
use super::inside::Crossings;
use base::Progress;
use estimate::{DoseField, EstimateError, Grid};
use region::Region;

/// Points of a band, about: 64 MB, and enough work for many threads.
const BAND_POINTS: usize = 8 << 20;
/// Rows of a band at least, lest its margins cost more than itself.
const LEAST_ROWS: usize = 64;
/// Pixels of a picture along its longer side at most.
const MOST_PIXELS: usize = 3000;

/// What there is to know about a grid.
pub(super) struct Sums {
    /// The most anywhere, J/mm².
    pub(super) most: f64,
    /// Where it melts, for each threshold.
    pub(super) melted: Vec<Option<DoseRange>>,
    /// Inside the section.
    pub(super) section: Option<DoseRange>,
    /// All of it, pixel by pixel.
    pub(super) raster: Raster,
}

/// Sums doses up over the points of a box that lie a pitch apart, mm; thresholds are in J/mm².
pub(super) fn sum_up(
    field: &DoseField,
    [lo, hi]: [[f64; 2]; 2],
    pitch_mm: f64,
    thresholds: &[f64],
    section: Option<&Region>,
    progress: &Progress,
) -> Result<Sums, EstimateError> {
    let grid = Grid::over(lo, hi, pitch_mm)?;
    let (columns, rows) = (grid.columns(), grid.rows());
    let mut pixels = Pixels::new(&grid);
    let mut all = Range::default();
    let mut melted = vec![Range::default(); thresholds.len()];
    let mut inside = Range::default();
    let mut crossings = section.map(Crossings::of);
    let index = |x: f64| whole(((x - lo[0]) / pitch_mm).ceil()).min(columns);
    let band_rows = (BAND_POINTS / columns).max(LEAST_ROWS);
    for first in (0..rows).step_by(band_rows) {
        let count = band_rows.min(rows - first);
        let band = Grid::new(grid.place(0, first), pitch_mm, columns, count)?;
        let dose = field.grid(&band, progress)?;
        for (row, dose) in (first..).zip(dose.chunks_exact(columns)) {
            progress.check()?;
            pixels.add(row, dose);
            all.add(dose.iter().copied());
            for (range, threshold) in melted.iter_mut().zip(thresholds) {
                range.add(dose.iter().copied().filter(|dose| dose >= threshold));
            }
            if let Some(crossings) = &mut crossings {
                for [from, to] in crossings.stretches(grid.place(0, row)[1]) {
                    inside.add(dose[index(from)..index(to)].iter().copied());
                }
            }
        }
    }
    Ok(Sums {
        most: all.stated().map_or(0.0, |range| range.most_j_mm2),
        melted: melted.iter().map(Range::stated).collect(),
        section: inside.stated(),
        raster: pixels.raster(),
    })
}

/// Least, sum and most of some doses.
#[derive(Clone, Copy)]
struct Range {
    least: f64,
    sum: f64,
    most: f64,
    count: usize,
}

impl Default for Range {
    fn default() -> Self {
        Self { least: f64::INFINITY, sum: 0.0, most: 0.0, count: 0 }
    }
}

impl Range {
    fn add(&mut self, doses: impl Iterator<Item = f64>) {
        for dose in doses {
            self.least = self.least.min(dose);
            self.sum += dose;
            self.most = self.most.max(dose);
            self.count += 1;
        }
    }

    fn stated(&self) -> Option<DoseRange> {
        (self.count > 0).then(|| DoseRange {
            least_j_mm2: self.least,
            mean_j_mm2: self.sum / self.count as f64,
            most_j_mm2: self.most,
        })
    }
}

/// A grid drawn together to pixels, several points each where it is large.
struct Pixels<'a> {
    grid: &'a Grid,
    /// Points along a pixel.
    points: usize,
    columns: usize,
    sums: Vec<f64>,
}

impl<'a> Pixels<'a> {
    fn new(grid: &'a Grid) -> Self {
        let points = grid.columns().max(grid.rows()).div_ceil(MOST_PIXELS).max(1);
        let columns = grid.columns().div_ceil(points);
        Self { grid, points, columns, sums: vec![0.0; columns * grid.rows().div_ceil(points)] }
    }

    fn add(&mut self, row: usize, dose: &[f64]) {
        let sums = &mut self.sums[row / self.points * self.columns..][..self.columns];
        for (sum, dose) in sums.iter_mut().zip(dose.chunks(self.points)) {
            *sum += dose.iter().sum::<f64>();
        }
    }

    fn raster(self) -> Raster {
        let Self { grid, points, columns, sums: mut dose } = self;
        let rows = grid.rows().div_ceil(points);
        // pixels at the far edges may hold fewer points
        let count = |pixel: usize, all: usize| points.min(all - pixel * points) as f64;
        for (row, doses) in dose.chunks_exact_mut(columns).enumerate() {
            for (column, dose) in doses.iter_mut().enumerate() {
                *dose /= count(column, grid.columns()) * count(row, grid.rows());
            }
        }
        let half = 0.5 * grid.pitch_mm();
        let corner_mm = grid.place(0, 0).map(|c| c - half);
        Raster { columns, rows, pixel_mm: grid.pitch_mm() * points as f64, corner_mm, dose }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pixels_are_means_of_their_points() {
        // 7000 points in a row: three a pixel, one in the last.
        let grid = Grid::new([1.0, 2.0], 0.5, 7000, 2).unwrap();
        let mut pixels = Pixels::new(&grid);
        let row: Vec<f64> = (0..7000_u32).map(f64::from).collect();
        pixels.add(0, &row);
        pixels.add(1, &row.iter().map(|dose| dose + 1.0).collect::<Vec<_>>());
        let raster = pixels.raster();
        let size = (raster.columns, raster.rows);
        assert_eq!((size, raster.pixel_mm, raster.corner_mm), ((2334, 1), 1.5, [0.75, 1.75]));
        assert_eq!((raster.dose[0], raster.dose[1], raster.dose[2333]), (1.5, 4.5, 6999.5));
    }
}
