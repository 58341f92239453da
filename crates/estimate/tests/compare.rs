//! The outline against the section: distances, islands and holes of plain shapes.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::{Point, Progress};
use estimate::outline::Deviation;
use estimate::{Beam, DoseField, Ring, Stroke, compare, melted};
use region::Region;

fn square(centre: [f64; 2], half: f64) -> Vec<[f64; 2]> {
    let corners = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]];
    corners.map(|[x, y]| [centre[0] + x * half, centre[1] + y * half]).to_vec()
}

fn hole(centre: [f64; 2], half: f64) -> Vec<[f64; 2]> {
    square(centre, half).into_iter().rev().collect()
}

fn region(rings: &[Vec<[f64; 2]>]) -> Region {
    let points = |ring: &Vec<[f64; 2]>| -> Vec<Point> {
        ring.iter().map(|p| Point::from_mm(p[0], p[1]).unwrap()).collect()
    };
    Region::from_proper_rings(rings.iter().map(points))
}

fn rings(outlines: &[Vec<[f64; 2]>]) -> Vec<Ring> {
    let area = |ring: &[[f64; 2]]| {
        let next = |i: usize| ring[(i + 1) % ring.len()];
        (0..ring.len()).map(|i| 0.5 * (ring[i][0] * next(i)[1] - next(i)[0] * ring[i][1])).sum()
    };
    outlines.iter().map(|ring| Ring { points: ring.clone(), area_mm2: area(ring) }).collect()
}

fn compared(melt: &[Vec<[f64; 2]>], section: &Region, every_mm: f64) -> Deviation {
    compare(&rings(melt), section, every_mm, &Progress::default()).unwrap()
}

#[track_caller]
fn within(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} instead of {expected}");
}

#[test]
fn distances_are_positive_outside_and_negative_inside() {
    let section = region(&[square([0.0, 0.0], 5.0), hole([0.0, 0.0], 2.0)]);
    // Larger by 0.1 outside, hole smaller by 0.3: too much material in both places.
    let found = compared(&[square([0.0, 0.0], 5.1), hole([0.0, 0.0], 1.7)], &section, 0.01);
    for sample in &found.samples {
        let [x, y] = sample.at.map(f64::abs);
        if x.max(y) > 3.0 {
            let corner = (x - 5.0).max(0.0).hypot((y - 5.0).max(0.0));
            within(sample.signed_mm, corner, 1e-9);
            assert_eq!(sample.section_ring, 0);
        } else {
            within(sample.signed_mm, 2.0 - x.max(y), 1e-9);
            assert_eq!(sample.section_ring, 1);
        }
    }
    within(found.melted_area_mm2, 10.2 * 10.2 - 3.4 * 3.4, 1e-9);
    within(found.p95_mm().unwrap(), 0.3, 1e-9);
    // at the corners the distance is that of a point: ∫√(0.01 + t²) dt from 0 to 0.1, eight times
    let root = 2.0_f64.sqrt();
    let corners = 8.0 * 0.01 * 0.5 * (root + (1.0 + root).ln());
    let mean = (0.1 * 40.0 + corners + 0.3 * 13.6) / 54.4;
    within(found.mean_mm().unwrap(), mean, 1e-6);
    let counts = found.histogram(&[0.0, 0.05, 0.2, 1.0]);
    assert_eq!(counts.iter().sum::<usize>(), found.samples.len());
    assert_eq!((counts[0], counts[2]), (0, 1360));

    let smaller = compared(&[square([0.0, 0.0], 4.9)], &region(&[square([0.0, 0.0], 5.0)]), 0.01);
    assert!(smaller.samples.iter().all(|sample| (sample.signed_mm + 0.1).abs() < 1e-9));
    let edges: Vec<usize> = smaller.samples.iter().map(|sample| sample.section_edge).collect();
    assert_eq!((edges[0], edges[edges.len() / 2], edges[edges.len() - 1]), (0, 2, 3));
}

/// Near corners that turn left, right, and sharply, against a plain sum over all edges and winding numbers.
#[test]
fn distances_are_those_of_a_plain_search() {
    let star: Vec<[f64; 2]> = (0..14)
        .map(|k| {
            let (sin, cos) = (f64::from(k) / 14.0 * std::f64::consts::TAU).sin_cos();
            let r = if k % 2 == 0 { 6.0 } else { 1.5 };
            [r * cos + 0.01, r * sin]
        })
        .collect();
    let section = region(&[star.clone(), square([12.0, 3.0], 1.0)]);
    let lattice: Vec<Vec<[f64; 2]>> = (0..90)
        .flat_map(|i| {
            (0..60).map(move |j| [-8.0 + 0.25 * f64::from(i), -7.0 + 0.25 * f64::from(j)])
        })
        .map(|at| square(at, 1e-4))
        .collect();
    let found = compared(&lattice, &section, 1.0);
    assert_eq!(found.samples.len(), lattice.len());
    let segments: Vec<_> = section
        .rings()
        .flat_map(|ring| (0..ring.len()).map(|i| [ring[i], ring[(i + 1) % ring.len()]]))
        .map(|edge| edge.map(Point::to_mm))
        .collect();
    for sample in found.samples {
        let [x, y] = sample.at;
        let distance = |[a, b]: &[[f64; 2]; 2]| {
            let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
            let t = (((x - a[0]) * dx + (y - a[1]) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
            (a[0] + t * dx - x).hypot(a[1] + t * dy - y)
        };
        let nearest = segments.iter().map(distance).fold(f64::INFINITY, f64::min);
        let is_inside = section.contains(Point::from_mm(x, y).unwrap());
        let sign = if is_inside == region::Containment::Inside { -1.0 } else { 1.0 };
        within(sample.signed_mm, sign * nearest, 1e-6);
    }
}

#[test]
fn islands_vanish_holes_fill_and_neighbours_merge() {
    let section = region(&[
        square([0.0, 0.0], 5.0),
        hole([-2.0, 0.0], 0.05),
        hole([2.0, 0.0], 1.0),
        square([2.0, 0.0], 0.2), // an island in the hole
        square([6.0, 0.0], 0.9), // 0.1 beside the large one
        square([20.0, 0.0], 0.1),
        square([30.0, 0.0], 1.0),
    ]);
    let melt = [
        vec![[-5.1, -5.1], [6.95, -5.1], [6.95, 5.1], [-5.1, 5.1]], // both as one, the small hole filled
        hole([2.0, 0.0], 0.9),
        square([2.0, 0.0], 0.25),
        square([30.0, 0.0], 1.05),
        square([50.0, 0.0], 1.0), // melt where nothing should be
    ];
    let found = compared(&melt, &section, 0.5);
    assert_eq!(found.vanished.len(), 1, "{:?}", found.vanished);
    within(found.vanished[0].at[0], 20.0, 0.01);
    within(found.vanished[0].width_mm, 0.2, 2e-3);
    assert_eq!(found.filled.len(), 1, "{:?}", found.filled);
    within(found.filled[0].at[0], -2.0, 0.01);
    within(found.filled[0].width_mm, 0.1, 2e-3);
    assert_eq!(found.merged.len(), 1, "{:?}", found.merged);
    within(found.merged[0].gap_mm, 0.1, 1e-9);
    within(found.merged[0].at[0], 5.05, 1e-9);
    assert_eq!(found.vanished[0].around, [[19.9, -0.1], [20.1, 0.1]]);
    assert_eq!(found.filled[0].around, [[-2.05, -0.05], [-1.95, 0.05]]);
    let corners = found.merged[0].around.map(|around| around[1]);
    assert!([[5.0, 5.0], [6.9, 0.9]].iter().all(|corner| corners.contains(corner)), "{corners:?}");
}

#[test]
fn nothing_at_all_is_no_trouble() {
    let section = region(&[square([0.0, 0.0], 1.0)]);
    let nothing = compared(&[], &section, 0.1);
    assert_eq!((nothing.vanished.len(), nothing.samples.len()), (1, 0));
    assert_eq!((nothing.mean_mm(), nothing.p95_mm()), (None, None));
    within(nothing.vanished[0].width_mm, 2.0, 1e-2);
    let stray = compared(&[square([0.0, 0.0], 1.0)], &Region::empty(), 0.1);
    assert_eq!(stray, Deviation { melted_area_mm2: 4.0, ..Deviation::default() });
    let odd = compared(&[square([0.0, 0.0], 1.0)], &section, f64::NAN);
    assert_eq!(odd.samples.len(), 8000, "every micrometre, the least distance");
    let far = compare(&rings(&[square([2000.0, 0.0], 1.0)]), &section, 1.0, &Progress::default());
    assert!(far.is_err());
}

/// A thin wall, a narrow slot and a small hole, exposed by strokes at the offset of facts.md C8.
#[test]
fn an_exposed_section_shows_what_the_beam_cannot_make() {
    let offset = 0.184_057;
    let contour = |centre: [f64; 2], half: f64| -> Vec<Stroke> {
        let corners = square(centre, half);
        (0..4).map(|i| Stroke::new(corners[i], corners[(i + 1) % 4], 30.0, 5000.0)).collect()
    };
    let hatch = |centre: f64, count: i32| -> Vec<Stroke> {
        let half = 0.1 * f64::from(count);
        let height = |k: i32| -half + (f64::from(k) + 0.5) * 0.2;
        let line = |y: f64| Stroke::new([centre - half, y], [centre + half, y], 30.0, 5000.0);
        (0..count).map(height).map(line).collect()
    };
    // Two squares 0.1 apart, outlined at the offset, and hatched.
    let section = region(&[square([0.0, 0.0], 3.0), square([6.1, 0.0], 3.0)]);
    let strokes = [
        contour([0.0, 0.0], 3.0 - offset),
        contour([6.1, 0.0], 3.0 - offset),
        hatch(0.0, 26),
        hatch(6.1, 26),
    ]
    .concat();
    let field = DoseField::new(&strokes, Beam::new(0.25).unwrap()).unwrap();
    let outline = melted(&field, 0.006_476_625, field.bounds().unwrap(), &Progress::default());
    let found = compare(&outline.unwrap(), &section, 0.05, &Progress::default()).unwrap();
    assert_eq!(found.merged.len(), 1, "the doses of two edges 0.1 apart melt the gap");
    within(found.merged[0].gap_mm, 0.1, 1e-9);
    // Far from corners and gap the outline is where the section's is, but for what the hatch adds.
    let straight = found.samples.iter().filter(|s| s.at[0] < -2.9 && s.at[1].abs() < 2.0);
    let mut looked_at = 0;
    for sample in straight {
        assert!(sample.signed_mm > -1e-5 && sample.signed_mm < 0.01, "{sample:?}");
        looked_at += 1;
    }
    assert!(looked_at > 50);
}
