//! Properties of centrelines on random and noisy outlines, against brute force and `geo`.

#![expect(clippy::unwrap_used, reason = "shapes of a test fit the grid")]

use base::Point;
use geo::{Contains, LineString, Polygon};
use proptest::prelude::*;
use region::{Centreline, CentrelineOptions, Region, centrelines};
use std::f64::consts::TAU;

const OPTIONS: CentrelineOptions = CentrelineOptions {
    max_half_width_nm: 200_000,
    min_half_width_nm: 40_000,
    min_length_nm: 100_000,
    chord_tolerance_nm: 2_000,
};

fn point(x_mm: f64, y_mm: f64) -> Point {
    Point::from_mm(x_mm, y_mm).unwrap()
}

/// Distance from a point to the boundary of a region, nm.
fn clearance(region: &Region, p: Point) -> f64 {
    let p = [f64::from(p.x), f64::from(p.y)];
    region.rings().flat_map(edges).map(|edge| to_segment(p, edge)).fold(f64::INFINITY, f64::min)
}

fn edges(ring: &[Point]) -> impl Iterator<Item = [Point; 2]> {
    ring.iter().copied().zip(ring.iter().copied().cycle().skip(1)).map(|(a, b)| [a, b])
}

fn to_segment(p: [f64; 2], [a, b]: [Point; 2]) -> f64 {
    let (ax, ay) = (f64::from(a.x), f64::from(a.y));
    let (dx, dy) = (f64::from(b.x) - ax, f64::from(b.y) - ay);
    let along = ((p[0] - ax) * dx + (p[1] - ay) * dy) / (dx * dx + dy * dy);
    let t = along.clamp(0.0, 1.0);
    (p[0] - ax - t * dx).hypot(p[1] - ay - t * dy)
}

fn to_line(line: &Centreline, p: Point) -> f64 {
    let p = [f64::from(p.x), f64::from(p.y)];
    line.points.windows(2).map(|e| to_segment(p, [e[0], e[1]])).fold(f64::INFINITY, f64::min)
}

fn polygon(region: &Region) -> Polygon {
    let ring = |ring: &[Point]| {
        ring.iter().map(|p| (f64::from(p.x), f64::from(p.y))).collect::<LineString>()
    };
    Polygon::new(ring(region.ring(0)), region.rings().skip(1).map(ring).collect())
}

/// Everything that holds for any island.
#[track_caller]
fn check(region: &Region) -> Vec<Centreline> {
    let found = centrelines(region, &OPTIONS);
    assert_eq!(found.failures, []);
    let polygon = polygon(region);
    for line in found.lines.iter().chain(&found.too_thin) {
        for (&p, &w) in line.points.iter().zip(&line.half_widths_nm) {
            let inside = polygon.contains(&geo::Point::new(f64::from(p.x), f64::from(p.y)));
            assert!(inside, "{p:?} is outside");
            let off = (clearance(region, p) - f64::from(w)).abs();
            assert!(off < f64::from(OPTIONS.chord_tolerance_nm), "{p:?}: {w}, off by {off}");
        }
        for pair in line.points.windows(2) {
            let middle = Point::new(
                i32::midpoint(pair[0].x, pair[1].x),
                i32::midpoint(pair[0].y, pair[1].y),
            );
            let most = f64::from(OPTIONS.max_half_width_nm + 2_000);
            assert!(clearance(region, middle) < most);
        }
    }
    for line in &found.lines {
        assert!(line.half_widths_nm.iter().all(|w| (40_000..=200_000).contains(w)), "{line:?}");
        assert!(line.length_nm() >= 100_000.0);
    }
    found.lines
}

/// A closed band around the origin: radius and half width at an angle, mm, with noise.
fn band(
    points: usize,
    radius: impl Fn(f64) -> f64,
    half: impl Fn(f64) -> f64,
    noise: &[f64],
) -> Region {
    let ring = |side: f64, shift: usize| -> Vec<Point> {
        (0..points)
            .map(|i| {
                let angle = TAU * i as f64 / points as f64;
                let r = radius(angle) + side * half(angle) + noise[(i + shift) % noise.len()];
                point(r * angle.cos(), r * angle.sin())
            })
            .collect()
    };
    let mut inner = ring(-1.0, 7);
    inner.reverse();
    Region::from_proper_rings([ring(1.0, 0), inner])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// A thin wall is wholly within reach of its line, whatever the noise on its outline.
    #[test]
    fn noisy_bands_have_one_ring_that_reaches_everything(
        points in 40..400_usize,
        waves in 0..6_u8,
        height in 0.0..0.3_f64,
        half in 0.08..0.14_f64,
        noise in prop::collection::vec(-0.01..0.01_f64, 1..50),
    ) {
        let radius = |a: f64| 4.0 + height * (f64::from(waves) * a).sin();
        let band = band(points, radius, |_| half, &noise);
        let lines = check(&band);
        prop_assert_eq!(lines.len(), 1);
        prop_assert!(lines[0].closed);
        for &p in band.points() {
            prop_assert!(to_line(&lines[0], p) < 202_000.0, "{:?}", p);
        }
        let perimeter = TAU * 4e6;
        prop_assert!(lines[0].length_nm() > 0.97 * perimeter);
    }

    /// Bands that are thick, thin and very thin in turn.
    #[test]
    fn bands_of_changing_width_keep_what_holds_everywhere(
        waves in 1..9_u8,
        depth in 0.0..0.2_f64,
        noise in prop::collection::vec(-0.004..0.004_f64, 1..50),
    ) {
        let half = |a: f64| 0.22 + depth * (f64::from(waves) * a).sin();
        check(&band(300, |_| 4.0, half, &noise));
    }

    /// The same wall, moved and started elsewhere, has the same line, moved.
    #[test]
    fn lines_move_with_the_region(
        (dx, dy) in (-900_000_000..900_000_000_i32, -900_000_000..900_000_000_i32),
        start in 0..8_usize,
    ) {
        let mut ring = [
            [0.0, 0.0], [6.0, 0.0], [6.0, 0.3], [3.2, 0.3], [3.2, 2.0], [3.0, 2.0], [3.0, 0.3], [0.0, 0.3],
        ].map(|[x, y]| point(x, y));
        let here = check(&Region::from_proper_rings([ring]));
        ring.rotate_left(start);
        let there = check(&Region::from_proper_rings([ring.map(|p| Point::new(p.x + dx, p.y + dy))]));
        prop_assert_eq!(here.len(), there.len());
        for (a, b) in here.iter().zip(&there) {
            prop_assert_eq!(a.points.len(), b.points.len());
            for (p, q) in a.points.iter().zip(&b.points) {
                let moved = Point::new(p.x + dx, p.y + dy);
                prop_assert!(moved.distance(*q) <= 1.5, "{:?} {:?}", moved, q);
            }
        }
    }

    /// Any rings at all: no panic, and the same answer twice.
    #[test]
    fn nothing_panics(
        rings in prop::collection::vec(
            prop::collection::vec((-30..30_i32, -30..30_i32), 3..9), 1..4),
        scale in prop::sample::select(vec![1, 7, 10_000, 30_000_000]),
    ) {
        let points = |ring: &Vec<(i32, i32)>| -> Vec<Point> {
            ring.iter().map(|&(x, y)| Point::new(x * scale, y * scale)).collect()
        };
        let region = Region::from_proper_rings(rings.iter().map(points));
        let found = centrelines(&region, &OPTIONS);
        prop_assert_eq!(&found, &centrelines(&region, &OPTIONS));
        for line in found.lines.iter().chain(&found.too_thin) {
            prop_assert_eq!(line.points.len(), line.half_widths_nm.len());
        }
    }
}

/// A comb of walls on a rail, each side noisy like a section of a mesh made on a lattice.
#[test]
fn a_noisy_comb_has_a_line_per_tooth() {
    let mut seed = 1_u32;
    let mut noise = || {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223); // Numerical Recipes
        (f64::from(seed >> 16) / 65_536.0 - 0.5) * 0.012
    };
    let mut ring = vec![point(0.0, -2.0), point(20.0, -2.0)];
    for tooth in (0..20).rev() {
        let x = f64::from(tooth) + 0.3;
        for (side, heights) in [(0.3, [0.0, 4.0]), (0.0, [4.0, 0.0])] {
            for i in 0..=80 {
                let y = heights[0] + (heights[1] - heights[0]) * f64::from(i) / 80.0;
                ring.push(point(x + side + noise(), y + noise()));
            }
        }
    }
    let region = Region::from_proper_rings([ring]);
    let lines = check(&region);
    let teeth = lines.iter().filter(|line| line.length_nm() > 3.9e6).count();
    assert_eq!((teeth, lines.len()), (20, 20));
    for &p in region.points().iter().filter(|p| p.y > 0) {
        let nearest = lines.iter().map(|line| to_line(line, p)).fold(f64::INFINITY, f64::min);
        assert!(nearest < 250_000.0, "{p:?} {nearest}"); // the corner of a tooth: 0.15 · √2 + noise
    }
}
