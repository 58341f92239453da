//! The dose of strokes: closed forms of facts.md C4 to C16, plain sums, and the grid against them.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::{Cancelled, Progress};
use estimate::{Beam, DoseField, EstimateError, Grid, Hatch, Stroke};

const ENERGY: f64 = 30.0 / 5000.0;
const SPACING: f64 = 0.2;
const PEAK: f64 = 0.019_149_229_46; // facts.md C4

fn field(strokes: &[Stroke]) -> DoseField {
    DoseField::new(strokes, Beam::new(0.25).unwrap()).unwrap()
}

fn stroke(from: [f64; 2], to: [f64; 2]) -> Stroke {
    Stroke::new(from, to, 30.0, 5000.0)
}

#[track_caller]
fn close(found: f64, expected: f64, relative: f64) {
    let error = (found - expected).abs() / expected.abs();
    assert!(error <= relative, "{found} instead of {expected}: {error:e}");
}

/// Numbers that look random, the same every time (Knuth's MMIX generator), from 0 to 1.
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, count: usize) -> usize {
        self.next();
        usize::try_from(self.0 >> 33).unwrap() % count
    }

    fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

fn random_strokes(count: usize, size: f64, longest: f64) -> Vec<Stroke> {
    let mut numbers = Numbers(7);
    let mut strokes = Vec::new();
    for _ in 0..count {
        let from = [numbers.within(0.0, size), numbers.within(0.0, size)];
        let to = from.map(|c| c + numbers.within(-longest, longest));
        strokes.push(Stroke { from, to, energy_j_mm: numbers.within(0.5, 1.5) * ENERGY });
    }
    // Along the axes, very short, and of no length.
    strokes.push(stroke([0.3, 0.2], [2.0, 0.2]));
    strokes.push(stroke([0.3, 2.0], [0.3, 0.2]));
    strokes.push(stroke([1.0, 1.0], [1.000_01, 1.0]));
    strokes.push(stroke([1.0, 1.0], [1.0, 1.0]));
    strokes
}

/// Parallel lines along X at multiples of the spacing.
fn lines(numbers: std::ops::Range<i32>, from: f64, to: f64) -> Vec<Stroke> {
    numbers.map(|k| f64::from(k) * SPACING).map(|y| stroke([from, y], [to, y])).collect()
}

#[test]
fn c9_ends_of_a_line_at_any_angle() {
    for degrees in [0.0_f64, 30.0, 90.0, 211.0] {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let place = |x: f64, y: f64| [3.0 + x * cos - y * sin, -2.0 + x * sin + y * cos];
        let field = field(&[stroke(place(0.0, 0.0), place(5.0, 0.0))]);
        let shares = [(0.0, 0.5), (-0.125, 0.158_655_3), (0.125, 0.841_344_7), (0.25, 0.977_249_9)];
        for (x, share) in shares {
            close(field.at(place(x, 0.0)), share * PEAK, 3e-7);
            close(field.at(place(5.0 - x, 0.0)), share * PEAK, 3e-7);
            close(field.at(place(x, 0.25)), share * PEAK * (-2.0_f64).exp(), 3e-7);
        }
        close(field.at(place(2.5, 0.0)), PEAK, 1e-9); // C4
        close(field.at(place(-0.052_166_23, 0.0)), 0.006_476_625, 1e-6); // C11
    }
}

#[test]
fn c14_to_c16_lines_side_by_side() {
    let two = field(&lines(0..2, 0.0, 20.0));
    close(two.at([10.0, 0.1]), 0.027_810_39, 1e-6); // C15
    let three = field(&lines(0..3, 0.0, 20.0));
    close(three.at([10.0, 0.2]) / 0.03, 0.993_254_3, 1e-6); // C16
    // C14: close lines that end at x = 0 and begin at y = 0 are an even quarter plane.
    let spacing = 0.05;
    let energy_j_mm = 0.03 * spacing;
    let line = |k: i32| (f64::from(k) + 0.5) * spacing;
    let line = |k| Stroke { from: [0.0, line(k)], to: [20.0, line(k)], energy_j_mm };
    let corner = field(&(0..80).map(line).collect::<Vec<_>>());
    close(corner.at([0.0, 0.0]), 0.007_5, 1e-8);
    close(corner.at([10.0, 0.0]), 0.015, 1e-8);
    close(corner.at([10.0, 2.0]), 0.03, 1e-8);
}

/// C6 against strokes.
#[test]
fn a_wide_hatch_has_the_dose_of_the_series() {
    let field = field(&lines(-30..31, 0.0, 20.0));
    let hatch = Hatch { energy_j_mm: ENERGY, spacing_mm: SPACING };
    for y in [0.0, 0.03, 0.1, 0.17] {
        close(field.at([9.0, y]), hatch.dose(Beam::new(0.25).unwrap(), y), 1e-9);
    }
}

#[test]
fn a_path_cut_into_pieces_is_the_same_path() {
    let whole = field(&[stroke([0.0, 0.0], [3.0, 1.0])]);
    let at = |k: i32| [f64::from(k) * 0.01, f64::from(k) / 300.0];
    let pieces: Vec<_> = (0..300).map(|k| stroke(at(k), at(k + 1))).collect();
    let cut = field(&pieces);
    for place in [[1.0, 0.3], [0.0, 0.0], [2.9, 1.2], [3.2, 1.1]] {
        close(cut.at(place), whole.at(place), 1e-9);
    }
}

#[test]
fn the_index_finds_what_a_plain_sum_finds() {
    let strokes = random_strokes(300, 6.0, 4.0);
    let whole = field(&strokes);
    let single: Vec<_> = strokes.iter().map(|stroke| field(&[*stroke])).collect();
    let mut numbers = Numbers(11);
    for _ in 0..500 {
        let place = [numbers.within(-3.0, 9.0), numbers.within(-3.0, 9.0)];
        let sum: f64 = single.iter().map(|field| field.at(place)).sum();
        assert!((whole.at(place) - sum).abs() <= 1e-12 * PEAK + 1e-12 * sum, "{place:?}");
    }
    assert!(whole.at([f64::NAN, 0.0]).abs() < 1e-300);
}

#[test]
fn the_gradient_is_the_slope_of_the_dose() {
    let field = field(&random_strokes(40, 3.0, 2.0));
    let mut numbers = Numbers(3);
    for _ in 0..200 {
        let [x, y] = [numbers.within(-0.5, 3.5), numbers.within(-0.5, 3.5)];
        let step = 1e-5;
        let by_x = (field.at([x + step, y]) - field.at([x - step, y])) / (2.0 * step);
        let by_y = (field.at([x, y + step]) - field.at([x, y - step])) / (2.0 * step);
        let found = field.gradient_at([x, y]);
        // the central difference errs by step²/6 times the third derivative, about 30·peak/w³
        let bound = 1e-8 * PEAK / 0.25 * 40.0;
        assert!((found[0] - by_x).abs() < bound && (found[1] - by_y).abs() < bound, "{x} {y}");
    }
}

#[test]
fn c5_all_energy_is_on_the_grid() {
    let strokes = random_strokes(60, 4.0, 3.0);
    let energy: f64 = strokes.iter().map(Stroke::energy_j).sum();
    let field = field(&strokes);
    let [lo, hi] = field.bounds().unwrap();
    for pitch in [0.02, 0.05] {
        let grid = Grid::over(lo, hi, pitch).unwrap();
        let dose = field.grid(&grid, &Progress::default()).unwrap();
        close(dose.iter().sum::<f64>() * pitch * pitch, energy, 1e-6);
    }
    close(stroke([0.0, 0.0], [3.0, 4.0]).energy_j(), 0.03, 1e-12); // C5
}

/// Where two steps are used (fine grids), one step (coarse ones), and at the border between.
#[test]
fn the_grid_is_the_field_at_its_points() {
    let mut strokes = random_strokes(400, 8.0, 3.0);
    strokes.extend(lines(0..40, -1.0, 40.0)); // longer than a tile
    let field = field(&strokes);
    for (pitch, columns, rows) in [
        (0.005, 700, 450),
        (0.02, 420, 430),
        (0.031_25, 300, 260),
        (0.032, 300, 260),
        (0.3, 40, 37),
    ] {
        let grid = Grid::new([-1.0, -1.2], pitch, columns, rows).unwrap();
        let progress = Progress::default();
        let dose = field.grid(&grid, &progress).unwrap();
        assert_eq!(progress.steps().0, progress.steps().1);
        let largest = dose.iter().copied().fold(0.0, f64::max);
        let mut numbers = Numbers(5);
        let mut worst: f64 = 0.0;
        for _ in 0..4000 {
            let [i, j] = [columns, rows].map(|count| numbers.below(count));
            let exact = field.at(grid.place(i, j));
            worst = worst.max((dose[j * columns + i] - exact).abs());
        }
        assert!(worst < 1e-6 * largest, "{pitch}: {:e}", worst / largest);
    }
}

/// The bound of `DoseField::grid` holds for a lone line against its own peak, too.
#[test]
fn the_grid_is_right_for_a_lone_line() {
    let field = field(&[stroke([0.0, 0.0], [3.0, 0.7])]);
    let grid = Grid::new([-1.0, -1.0], 0.0208, 260, 140).unwrap();
    let dose = field.grid(&grid, &Progress::default()).unwrap();
    let errors = (0..dose.len()).map(|i| (dose[i] - field.at(grid.place(i % 260, i / 260))).abs());
    let worst = errors.fold(0.0, f64::max);
    assert!(worst < 1e-6 * PEAK, "{:e}", worst / PEAK);
}

#[test]
fn the_grid_does_not_depend_on_the_number_of_threads() {
    let field = field(&random_strokes(300, 8.0, 3.0));
    let grid = Grid::new([-1.0, -1.0], 0.02, 500, 500).unwrap();
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let dose = pool.install(|| field.grid(&grid, &Progress::default()));
        dose.unwrap().into_iter().map(f64::to_bits).collect::<Vec<_>>()
    };
    let one = with(1);
    assert!(one == with(2) && one == with(5));
}

#[test]
fn what_cannot_be_used_is_refused() {
    let beam = Beam::new(0.25).unwrap();
    let good = stroke([0.0, 0.0], [1.0, 0.0]);
    let bad = [
        stroke([0.0, f64::NAN], [1.0, 0.0]),
        stroke([0.0, 0.0], [f64::INFINITY, 0.0]),
        stroke([-1e308, 0.0], [1e308, 0.0]),
        Stroke::new([0.0, 0.0], [1.0, 0.0], 30.0, 0.0),
        Stroke::new([0.0, 0.0], [1.0, 0.0], -30.0, 5000.0),
    ];
    for stroke in bad {
        let refused = DoseField::new(&[good, stroke], beam).map(drop);
        assert_eq!(refused, Err(EstimateError::UnusableStroke { stroke: 1 }));
    }
    assert!(matches!(Grid::new([0.0; 2], 0.0, 1, 1), Err(EstimateError::NotPositive { .. })));
    assert!(Grid::over([0.0; 2], [1e30, 1e30], 0.1).is_err());
    assert!(Grid::over([0.0; 2], [1.0, 1.0], f64::NAN).is_err());

    let nothing = DoseField::new(&[], beam).unwrap();
    assert_eq!(nothing.bounds(), None);
    assert!(nothing.at([0.0, 0.0]).abs() < 1e-300);
    let far_apart = field(&[good, stroke([1e150, 1e150], [1e150, 1.1e150])]);
    close(far_apart.at([0.5, 0.0]), PEAK, 1e-3);
    let progress = Progress::default();
    progress.cancel();
    let grid = Grid::new([0.0; 2], 0.1, 10, 10).unwrap();
    assert_eq!(field(&[good]).grid(&grid, &progress), Err(Cancelled));
}
