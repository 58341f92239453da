//! The section's boundary against the outline: distances of plain shapes, and which corners are sharp.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::{Point, Progress};
use estimate::outline::{BoundaryPlace, NEAR_CORNER_IN_RADII, along_boundary};
use estimate::{Beam, DoseField, Grid, Ring, Stroke, melted};
use region::Region;
use std::f64::consts::TAU;

const RADIUS: f64 = 0.25;
const EVERY: f64 = 0.01;

/// A regular polygon, one corner at the right.
fn polygon(corners: u32, radius: f64) -> Vec<[f64; 2]> {
    let corner = |k: u32| (TAU * f64::from(k) / f64::from(corners)).sin_cos();
    (0..corners).map(corner).map(|(sin, cos)| [radius * cos, radius * sin]).collect()
}

fn rectangle(x: f64, y: f64) -> Vec<[f64; 2]> {
    vec![[-x, -y], [x, -y], [x, y], [-x, y]]
}

fn section(ring: &[[f64; 2]]) -> Region {
    let points: Vec<Point> = ring.iter().map(|p| Point::from_mm(p[0], p[1]).unwrap()).collect();
    Region::from_proper_rings([points])
}

fn places(melt: &[Vec<[f64; 2]>], ring: &[[f64; 2]]) -> Vec<BoundaryPlace> {
    let melt: Vec<Ring> =
        melt.iter().map(|ring| Ring { points: ring.clone(), area_mm2: 0.0 }).collect();
    let beam = Beam::new(RADIUS).unwrap();
    along_boundary(&melt, [&section(ring)], EVERY, beam, &Progress::default()).unwrap().remove(0)
}

#[test]
fn distances_are_positive_where_the_melt_reaches_beyond_the_boundary() {
    // 0.1 mm too large along X, 0.2 mm too small along Y: between the two sides both ends meet at (4.8, 5.1).
    let found = places(&[rectangle(5.1, 4.8)], &rectangle(5.0, 5.0));
    assert_eq!(found.len(), 4000);
    for BoundaryPlace { at: [x, y], signed_mm, .. } in &found {
        let (x, y) = (x.abs(), y.abs());
        let expected =
            if y > 4.8 { if x > 4.999 { -(y - 4.8) } else { -0.2 } } else { 0.1_f64.min(4.8 - y) };
        assert!(
            (signed_mm - expected).abs() < 1e-9,
            "{signed_mm} instead of {expected} at {x}, {y}"
        );
    }
    let nothing = places(&[], &rectangle(5.0, 5.0));
    assert!(nothing.iter().all(|place| place.signed_mm == f64::NEG_INFINITY));
}

#[test]
fn corners_are_sharp_from_the_radius_of_the_spot_on() {
    let near = |ring: &[[f64; 2]]| {
        let found = places(&[rectangle(9.0, 9.0)], ring);
        found.iter().filter(|place| place.is_near_corner).count() as f64 / found.len() as f64
    };
    // Circles: as sharp as the spot or not at all.
    assert!(near(&polygon(360, 0.95 * RADIUS)) >= 1.0);
    assert!(near(&polygon(360, 1.05 * RADIUS)) <= 0.0);
    // Corners that turn by 45° and by 72°, either side of 2·acos(sin ¾ / ¾) = 49.3°.
    assert!(near(&polygon(8, 5.0)) <= 0.0);
    // Around a corner that turns by θ a stretch of 2h, d off its middle, spans
    // √(2h² + 2d² + 2(h² − d²)·cos θ): less than 2w·sin ¾ with h = ¾w up to this d.
    let cos = (TAU / 5.0).cos();
    let (h, reach): (f64, f64) = (0.75, 2.0 * 0.75_f64.sin());
    let d = RADIUS * ((reach * reach / 2.0 - h * h * (1.0 + cos)) / (1.0 - cos)).sqrt();
    let side = 10.0 * (TAU / 10.0).sin();
    let expected = 2.0 * (d + NEAR_CORNER_IN_RADII * RADIUS) / side;
    let share = near(&polygon(5, 5.0));
    assert!((share - expected).abs() <= 2.0 * EVERY / side, "{share} instead of {expected}");
}

/// A ring of even energy, and one around which all melts: what a bend takes away or adds, against sums over the
/// angle (midpoint rule) and bisection, in a script of its own: powder from 0.006817 J/mm² on, marks of
/// 0.006 J/mm 0.1841 mm inside, hatch of 0.03 J/mm² from 0.1 mm deeper on.
#[test]
fn bends_come_out_as_far_off_as_plain_sums_say() {
    let beam = Beam::new(RADIUS).unwrap();
    let circle = |radius: f64| {
        let ring = polygon(180, radius);
        let next = |i: usize| ring[(i + 1) % ring.len()];
        (0..ring.len()).map(|i| [ring[i], next(i)]).collect::<Vec<_>>()
    };
    for (radius, hole, disc) in
        [(0.4, 0.0177, -0.0240), (0.5, 0.0143, -0.0182), (1.0, 0.0074, -0.0083)]
    {
        for (outwards, expected) in [(1.0, hole), (-1.0_f64, disc)] {
            let expected: f64 = expected;
            let mark = |ends: [[f64; 2]; 2], energy_j_mm| Stroke {
                from: ends[0],
                to: ends[1],
                energy_j_mm,
            };
            let contour = radius + outwards * 0.1841;
            let mut strokes: Vec<Stroke> =
                circle(contour).into_iter().map(|e| mark(e, 0.006)).collect();
            // The hatch as many rings close to each other, of the same energy per area.
            let rings = (0..20).map(|k| contour + outwards * (0.1 + 0.04 * (f64::from(k) + 0.5)));
            for ring in rings.filter(|ring| *ring > 0.0) {
                strokes.extend(circle(ring).into_iter().map(|e| mark(e, 0.03 * 0.04)));
            }
            let field = DoseField::new(&strokes, beam).unwrap();
            let box_mm = [[-radius - 0.3; 2], [radius + 0.3; 2]];
            let rings = melted(&field, 0.006_817, box_mm, &Progress::default()).unwrap();
            let found = along_boundary(
                &rings,
                [&section(&polygon(720, radius))],
                EVERY,
                beam,
                &Progress::default(),
            );
            // Of a hole the section is what lies outside: its melt reaches inwards.
            let mean = found.unwrap()[0].iter().map(|place| place.signed_mm.abs()).sum::<f64>();
            let count = (TAU * radius / EVERY).ceil();
            let mean = expected.signum() * mean / count;
            assert!(
                (mean - expected).abs() < 3e-4,
                "{radius}, {outwards}: {mean} instead of {expected}"
            );
        }
    }
}

#[test]
fn what_melts_is_where_the_grid_reaches_the_threshold() {
    let stroke = |x: f64| Stroke { from: [x, 0.0], to: [x, 5.0], energy_j_mm: 0.006 };
    let strokes: Vec<Stroke> = (0..20).map(|k| stroke(0.21 * f64::from(k))).collect();
    let field = DoseField::new(&strokes, Beam::new(RADIUS).unwrap()).unwrap();
    let grid = Grid::over([-1.0, -1.0], [6.0, 7.0], 0.02).unwrap();
    let dose = field.grid(&grid, &Progress::default()).unwrap();
    let melts = field.melts(&grid, 0.0065, &Progress::default()).unwrap();
    assert!(melts.iter().zip(&dose).all(|(melts, dose)| *melts == (*dose >= 0.0065)));
    let count = melts.iter().filter(|melts| **melts).count();
    assert!(count > 0 && count < melts.len());
}
