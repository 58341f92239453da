//! Where strokes melt: the outline against the closed forms of facts.md, section C.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::Progress;
use estimate::{Beam, DoseField, EstimateError, Ring, Stroke, melted};

const THRESHOLD: f64 = 0.006_476_625; // facts.md C8
const SPACING: f64 = 0.2;

fn field(strokes: &[Stroke]) -> DoseField {
    DoseField::new(strokes, Beam::new(0.25).unwrap()).unwrap()
}

fn stroke(from: [f64; 2], to: [f64; 2]) -> Stroke {
    Stroke::new(from, to, 30.0, 5000.0)
}

fn rings_of(field: &DoseField) -> Vec<Ring> {
    melted(field, THRESHOLD, field.bounds().unwrap(), &Progress::default()).unwrap()
}

/// Lines along a direction, a spacing apart, between two places along it, the first at height 0.
fn lines(count: i32, from: f64, to: f64, degrees: f64) -> Vec<Stroke> {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let place = |x: f64, y: f64| [x * cos - y * sin, x * sin + y * cos];
    let heights = (0..count).map(|k| f64::from(k) * SPACING);
    heights.map(|y| stroke(place(from, y), place(to, y))).collect()
}

/// Smallest and largest place of the outline across and along a direction. Across is asked only
/// where the ends of the lines do not count.
fn extents(rings: &[Ring], degrees: f64, ends: [f64; 2]) -> ([f64; 2], [f64; 2]) {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let mut across = [f64::INFINITY, f64::NEG_INFINITY];
    let mut along = across;
    for [x, y] in rings.iter().flat_map(|ring| ring.points.iter().copied()) {
        let (u, v) = (x * cos + y * sin, y * cos - x * sin);
        along = [along[0].min(u), along[1].max(u)];
        if u > ends[0] + 1.0 && u < ends[1] - 1.0 {
            across = [across[0].min(v), across[1].max(v)];
        }
    }
    (across, along)
}

#[track_caller]
fn within(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} instead of {expected}");
}

/// C8 across, C11 at the ends; C15 and C16 for two lines and three; at angles that fit the grid, and others.
#[test]
fn c8_c11_c15_and_c16_lines_have_the_width_of_the_formula() {
    for degrees in [0.0, 90.0, 31.0, 67.0] {
        for (count, width) in [(1, 0.368_113_932_2), (2, 0.572_388_8), (3, 0.772_396_9)] {
            let rings = rings_of(&field(&lines(count, 0.0, 5.0, degrees)));
            assert_eq!(rings.len(), 1);
            assert!(rings[0].area_mm2 > 0.0, "the melt is on the left");
            let (across, along) = extents(&rings, degrees, [0.0, 5.0]);
            within(across[1] - across[0], width, 4e-6);
            within(0.5 * (across[0] + across[1]), 0.5 * f64::from(count - 1) * SPACING, 2e-6);
            if count == 1 {
                // C11; the tip lies between two points of the outline, within what a chord may miss
                within(along[0], -0.052_166_23, 1e-3);
                within(along[1], 5.052_166_23, 1e-3);
            }
        }
    }
}

#[test]
fn c13_the_edge_of_a_hatched_field() {
    let rings = rings_of(&field(&lines(40, 0.0, 12.0, 23.0)));
    assert_eq!(rings.len(), 1);
    let (across, _) = extents(&rings, 23.0, [0.0, 12.0]);
    within(across[0], -0.186_198_5, 2e-6);
    within(across[1], 39.0 * SPACING + 0.186_198_5, 2e-6);
}

/// C12: where lines end at an even edge, and are close enough to be an even field.
#[test]
fn c12_the_edge_where_lines_end() {
    let spacing = 0.05;
    let line = |k: i32| {
        let y = f64::from(k) * spacing;
        Stroke { from: [0.0, y], to: [9.0, y], energy_j_mm: 0.03 * spacing }
    };
    let rings = rings_of(&field(&(0..120).map(line).collect::<Vec<_>>()));
    let middle = rings[0].points.iter().filter(|p| p[1] > 2.0 && p[1] < 4.0);
    let mut looked_at = 0;
    for &[x, _] in middle {
        let edge = if x < 4.5 { x } else { 9.0 - x };
        within(edge, -0.098_269_734_72, 2e-6);
        looked_at += 1;
    }
    assert!(looked_at > 40);
}

/// A circle of short strokes, as an accelerating path would be handed over: a ring of melt.
#[test]
fn a_circle_melts_as_a_ring_whose_points_and_chords_are_exact() {
    let at = |k: i32| {
        let (sin, cos) = (f64::from(k) / 400.0 * std::f64::consts::TAU).sin_cos();
        [0.7 * cos, 0.7 * sin]
    };
    let field = field(&(0..400).map(|k| stroke(at(k), at(k + 1))).collect::<Vec<_>>());
    let rings = rings_of(&field);
    assert_eq!(rings.len(), 2);
    let radius = |p: [f64; 2]| p[0].hypot(p[1]);
    for (ring, is_outer) in rings.iter().zip([true, false]) {
        assert_eq!(ring.area_mm2 > 0.0, is_outer);
        let radii: Vec<f64> = ring.points.iter().map(|p| radius(*p)).collect();
        let mean = radii.iter().sum::<f64>() / radii.len() as f64;
        assert_eq!(mean > 0.7, is_outer);
        for r in &radii {
            within(*r, mean, 3e-6);
        }
        for p in &ring.points {
            let slope = field.gradient_at(*p);
            within((field.at(*p) - THRESHOLD) / slope[0].hypot(slope[1]), 0.0, 1e-6);
        }
        for [a, b] in ring.edges() {
            let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
            within(radius(middle), mean, 1.01e-3);
        }
        within(ring.area_mm2.abs(), std::f64::consts::PI * mean * mean, 1e-3 * 4.0);
    }
}

/// Two spots corner to corner, so that cells with two curves occur at some distance: the number of rings is
/// that of the exact dose between them.
#[test]
fn crossing_curves_are_told_apart_by_the_exact_dose() {
    let mut joined_and_apart = [0, 0];
    for step in 0..300 {
        let gap = 0.34 + f64::from(step) * 1e-3;
        let across = gap / 2.0_f64.sqrt();
        let spot = |x: f64| Stroke { from: [x, x], to: [x + 1e-3, x + 1e-3], energy_j_mm: 1.6 };
        let field = field(&[spot(0.0), spot(across)]);
        let middle = 0.5 * (across + 1e-3);
        let is_joined = field.at([middle, middle]) > THRESHOLD;
        let margin = (field.at([middle, middle]) / THRESHOLD - 1.0).abs();
        let rings = rings_of(&field);
        // a bridge or gap as wide as a cell's diagonal, 44 µm: 1 + 95/mm²·(0.022 mm)² of the saddle's dose
        if margin > 0.05 {
            assert_eq!(rings.len(), if is_joined { 1 } else { 2 }, "{gap}");
            joined_and_apart[usize::from(is_joined)] += 1;
        }
        assert!(rings.iter().all(|ring| ring.area_mm2 > 0.0));
    }
    assert!(joined_and_apart.iter().all(|count| *count > 20), "{joined_and_apart:?}");
}

#[test]
fn a_box_cuts_the_curves_off() {
    let field = field(&lines(1, 0.0, 5.0, 0.0));
    let bounds = [[1.0, -1.0], [3.0, 1.0]];
    let rings = melted(&field, THRESHOLD, bounds, &Progress::default()).unwrap();
    assert_eq!(rings.len(), 1);
    within(rings[0].area_mm2, 2.0 * 0.368_113_932_2, 0.032 * 0.37); // a grid step, at most
    assert!(rings[0].points.iter().all(|p| p[0] >= 1.0 && p[0] <= 3.05));
    let all = [[1.0, -0.1], [2.0, 0.1]];
    let whole_box = melted(&field, THRESHOLD, all, &Progress::default()).unwrap();
    assert_eq!(whole_box.len(), 1);
    assert!(whole_box[0].area_mm2 >= 0.2);
    let none = melted(&field, THRESHOLD, [[1.0, 1.0], [0.0, 2.0]], &Progress::default());
    assert_eq!(none, Ok(Vec::new()));
}

#[test]
fn nothing_melts_below_the_threshold_and_a_threshold_is_positive() {
    let field = field(&[Stroke::new([0.0, 0.0], [5.0, 0.0], 10.0, 5000.0)]); // C18: no melt at 10 W
    assert_eq!(rings_of(&field), Vec::new());
    for bad in [0.0, -1.0, f64::NAN] {
        let refused = melted(&field, bad, field.bounds().unwrap(), &Progress::default());
        assert!(matches!(refused, Err(EstimateError::NotPositive { .. })));
    }
    let progress = Progress::default();
    progress.cancel();
    let cancelled = melted(&field, THRESHOLD, field.bounds().unwrap(), &progress);
    assert!(matches!(cancelled, Err(EstimateError::Cancelled(_))));
}

#[test]
fn the_outline_does_not_depend_on_the_number_of_threads() {
    let strokes = [lines(12, 0.0, 5.0, 40.0), lines(5, 2.0, 8.0, -20.0)].concat();
    let field = field(&strokes);
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| rings_of(&field))
    };
    let one = with(1);
    assert!(!one.is_empty());
    assert!(one == with(2) && one == with(5));
}
