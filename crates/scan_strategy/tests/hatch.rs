//! The hatch kernel against closed forms.

use base::Point;
use proptest::prelude::*;
use region::Region;
use scan_strategy::{HatchScratch, hatch_lines};

fn mm(x: f64, y: f64) -> Point {
    Point::from_mm(x, y).expect("on the grid")
}

fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> [Point; 4] {
    [mm(x0, y0), mm(x1, y0), mm(x1, y1), mm(x0, y1)]
}

fn circle(radius: f64, sides: u32) -> Vec<Point> {
    let corner = |i: u32| {
        let a = std::f64::consts::TAU * f64::from(i) / f64::from(sides);
        mm(radius * a.cos(), radius * a.sin())
    };
    (0..sides).map(corner).collect()
}

fn hatch(region: &Region, angle_deg: f64, spacing_mm: f64) -> Vec<[Point; 2]> {
    let mut out = Vec::new();
    hatch_lines(region, angle_deg, spacing_mm * 1e6, &mut HatchScratch::default(), &mut out);
    out
}

fn total_mm(marks: &[[Point; 2]]) -> f64 {
    marks.iter().map(|[a, b]| a.distance(*b)).sum::<f64>() / 1e6
}

/// Computed table, rectangle 60 × 20 at spacing 0.2: number of lines and total length.
#[test]
fn rectangle_at_fixed_angles() {
    let region = Region::from_proper_rings([rectangle(0., 0., 60., 20.)]);
    for (angle, count, length, tolerance) in
        [(0.0, 100, 6000.0, 1e-6), (90.0, 300, 6000.0, 1e-6), (67.0, 315, 5999.994, 1e-3)]
    {
        let marks = hatch(&region, angle, 0.2);
        assert_eq!(marks.len(), count);
        assert!((total_mm(&marks) - length).abs() < tolerance, "{}", total_mm(&marks));
    }
}

/// Disc R 10, lines at (k + ½)h: computed table of the length times spacing.
#[test]
fn disc_at_three_spacings() {
    let region = Region::from_proper_rings([circle(10.0, 20_000)]);
    for (spacing, expected) in [(0.2, 314.256_555_2), (0.25, 314.295_186_2), (0.3, 313.877_737_2)] {
        for angle in [0.0, 67.0, 211.5] {
            let area = total_mm(&hatch(&region, angle, spacing)) * spacing;
            assert!((area - expected).abs() < 2e-5, "{spacing} {angle}: {area}");
        }
    }
}

/// Cauchy–Crofton (Santaló, Integral Geometry and Geometric Probability): averaged over angle and
/// offset, the number of segments is P/(πh) and their mean length πA/P, holes included.
#[test]
fn number_and_mean_length_of_segments_averaged_over_angles() {
    let l = [mm(0., 0.), mm(40., 0.), mm(40., 20.), mm(20., 20.), mm(20., 40.), mm(0., 40.)];
    let mut ring = Region::from_proper_rings([circle(10.0, 1024)]);
    ring.push_ring(&circle(4.0, 1024).into_iter().rev().collect::<Vec<_>>());
    let cases = [
        (Region::from_proper_rings([rectangle(0., 0., 60., 20.)]), 254.647_908_9, 23.561_944_9),
        (Region::from_proper_rings([l]), 254.647_908_9, 23.561_944_9),
        (ring, 139.9998, 9.424_734),
    ];
    for (region, count, mean) in cases {
        let (mut marks, mut length) = (0, 0.0);
        for step in 0..360 {
            let found = hatch(&region, f64::from(step) + 0.37, 0.2);
            marks += found.len();
            length += total_mm(&found);
        }
        let found_count = marks as f64 / 360.0;
        let found_mean = length / marks as f64;
        assert!((found_count / count - 1.0).abs() < 1e-3, "{found_count} for {count}");
        assert!((found_mean / mean - 1.0).abs() < 1e-3, "{found_mean} for {mean}");
    }
}

#[test]
fn corners_on_lines_and_level_edges_leave_pairs() {
    // all corners on lines at 0°: (k + ½) · 0.1 mm
    let diamond = [mm(0.0, -0.95), mm(1.0, 0.05), mm(0.0, 1.05), mm(-1.0, 0.05)];
    let marks = hatch(&Region::from_proper_rings([diamond]), 0.0, 0.1);
    assert_eq!(marks.len(), 20); // 21 lines touch it, the topmost in one corner that counts above
    // steps with level edges exactly on lines
    let steps =
        [mm(0., 0.05), mm(3., 0.05), mm(3., 0.15), mm(2., 0.15), mm(2., 0.25), mm(0., 0.25)];
    let marks = hatch(&Region::from_proper_rings([steps]), 0.0, 0.1);
    assert_eq!(marks, vec![[mm(0., 0.05), mm(3., 0.05)], [mm(0., 0.15), mm(2., 0.15)]]);
}

#[test]
fn nothing_and_nonsense_give_nothing() {
    let square = Region::from_proper_rings([rectangle(0., 0., 1., 1.)]);
    assert!(hatch(&Region::empty(), 0.0, 0.1).is_empty());
    for (angle, spacing) in
        [(f64::NAN, 0.1), (0.0, 0.0), (0.0, -1.0), (0.0, f64::INFINITY), (0.0, 1e-9)]
    {
        assert!(hatch(&square, angle, spacing).is_empty());
    }
    // between two lines
    assert!(hatch(&square, 0.0, 5.0).is_empty());
}

#[test]
fn the_whole_grid_can_be_hatched() {
    let m = base::GRID_LIMIT_NM - 1;
    let all = [Point::new(-m, -m), Point::new(m, -m), Point::new(m, m), Point::new(-m, m)];
    for angle in [0.0, 45.0, 67.0] {
        let marks = hatch(&Region::from_proper_rings([all]), angle, 1.0);
        let side = 2.0 * f64::from(m) / 1e6;
        // one convex contour: |L·h − A| ≤ h · longest chord
        assert!((total_mm(&marks) - side * side).abs() < side * 1.42, "{angle}");
    }
}

/// A star-shaped region about the origin, with a hole.
fn star() -> impl Strategy<Value = Region> {
    proptest::collection::vec(2.0..10.0f64, 3..40).prop_map(|radii| {
        let ring = |scale: f64| -> Vec<Point> {
            let n = radii.len() as f64;
            let corner = |(i, r): (usize, &f64)| {
                let a = std::f64::consts::TAU * i as f64 / n;
                mm(r * scale * a.cos(), r * scale * a.sin())
            };
            radii.iter().enumerate().map(corner).collect()
        };
        let mut region = Region::from_proper_rings([ring(1.0)]);
        let hole: Vec<_> = ring(0.5).into_iter().rev().collect();
        region.push_ring(&hole);
        region
    })
}

fn area_mm2(region: &Region) -> f64 {
    let twice: i128 = region
        .rings()
        .map(|ring| {
            (1..ring.len() - 1)
                .map(|i| i128::from(ring[0].cross(ring[i], ring[i + 1])))
                .sum::<i128>()
        })
        .sum();
    twice as f64 / 2e12
}

/// Even-odd containment by brute force, with the distance to the boundary, nm.
fn inside_and_distance(region: &Region, x: f64, y: f64) -> (bool, f64) {
    let (mut inside, mut distance) = (false, f64::INFINITY);
    for ring in region.rings() {
        for (i, b) in ring.iter().enumerate() {
            let a = ring[(i + ring.len() - 1) % ring.len()];
            let (ax, ay, bx, by) = (f64::from(a.x), f64::from(a.y), f64::from(b.x), f64::from(b.y));
            if (ay > y) != (by > y) && x < ax + (y - ay) / (by - ay) * (bx - ax) {
                inside = !inside;
            }
            let (dx, dy) = (bx - ax, by - ay);
            let t = (((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
            distance = distance.min((ax + t * dx - x).hypot(ay + t * dy - y));
        }
    }
    (inside, distance)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Every mark lies inside, its ends on the boundary, its direction the scan direction; lines
    /// are whole multiples of the spacing from the origin; the length times the spacing is the
    /// area up to the total variation of the chord function, which is at most the spacing times
    /// the number of extremes across the lines times the longest chord.
    #[test]
    fn marks_fill_the_region(region in star(), angle in 0.0..360.0f64, spacing in 0.05..0.5f64) {
        let marks = hatch(&region, angle, spacing);
        let (sin, cos) = angle.to_radians().sin_cos();
        let mut last_line = f64::NEG_INFINITY;
        for [a, b] in &marks {
            for p in [a, b] {
                prop_assert!(inside_and_distance(&region, f64::from(p.x), f64::from(p.y)).1 < 1.5);
            }
            let (mx, my) = (f64::midpoint(f64::from(a.x), f64::from(b.x)), f64::midpoint(f64::from(a.y), f64::from(b.y)));
            let (inside, distance) = inside_and_distance(&region, mx, my);
            prop_assert!(inside || distance < 1.5);
            let along = f64::from(b.x - a.x) * cos + f64::from(b.y - a.y) * sin;
            prop_assert!(along > -1.5);
            let line = (cos * my - sin * mx) / (spacing * 1e6) - 0.5;
            prop_assert!((line - line.round()).abs() * spacing * 1e6 < 1.5);
            prop_assert!(line.round() >= last_line);
            last_line = line.round();
        }
        let extremes = region.points().len() as f64;
        let bound = spacing * extremes * 20.0;
        let error = (total_mm(&marks) * spacing - area_mm2(&region)).abs();
        prop_assert!(error <= bound, "{error} > {bound}");
        if spacing < 0.1 {
            prop_assert!(error < 0.02 * area_mm2(&region) + 0.5, "{error}");
        }
    }

    /// Moving a region by whole spacings moves its hatch with it.
    #[test]
    fn moving_by_spacings_moves_the_hatch(region in star(), i in -50..50i32, j in -50..50i32, quarter in 0..4u8) {
        let step = 100_000;
        let shift = |p: &Point| Point::new(p.x + i * step, p.y + j * step);
        let moved = Region::from_proper_rings(region.rings().map(|r| r.iter().map(shift).collect::<Vec<_>>()));
        let angle = f64::from(quarter) * 90.0;
        let there: Vec<_> = hatch(&region, angle, 0.1).iter().map(|m| [shift(&m[0]), shift(&m[1])]).collect();
        let close = |a: &[Point; 2], b: &[Point; 2]| a[0].distance(b[0]) < 1.5 && a[1].distance(b[1]) < 1.5;
        let here = hatch(&moved, angle, 0.1);
        prop_assert_eq!(here.len(), there.len());
        prop_assert!(here.iter().zip(&there).all(|(a, b)| close(a, b)));
    }

    /// Two regions that share an edge are cut at the same points.
    #[test]
    fn neighbours_meet_bit_for_bit(ax in -9_000_000..9_000_000i32, bx in -9_000_000..9_000_000i32, angle in 0.0..360.0f64) {
        let (a, b) = (Point::new(ax, -10_000_000), Point::new(bx, 10_000_000));
        let left = Region::from_proper_rings([[Point::new(-10_000_000, -10_000_000), a, b, Point::new(-10_000_000, 10_000_000)]]);
        let right = Region::from_proper_rings([[a, Point::new(10_000_000, -10_000_000), Point::new(10_000_000, 10_000_000), b]]);
        let whole = Region::from_proper_rings([rectangle(-10., -10., 10., 10.)]);
        let ends = |r: &Region| hatch(r, angle, 0.2).into_iter().flatten().collect::<std::collections::BTreeSet<_>>();
        let (l, r, w) = (ends(&left), ends(&right), ends(&whole));
        for p in l.symmetric_difference(&r) {
            prop_assert!(w.contains(p), "{p:?} is an end of one side only");
        }
    }
}
