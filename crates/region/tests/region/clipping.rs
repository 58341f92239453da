//! Polylines cut at the boundary of a region.

use base::Point;
use proptest::prelude::*;
use region::{Containment, Region, clip_polyline};

use crate::shapes::{proper, square_mm};

fn line(points: &[(f64, f64)]) -> Vec<Point> {
    points.iter().map(|&(x, y)| Point::from_mm(x, y).expect("on the grid")).collect()
}

fn square_with_hole() -> Region {
    let mut region = square_mm(0.0, 10.0);
    let hole: Vec<Point> = square_mm(4.0, 6.0).points().iter().rev().copied().collect();
    region.push_ring(&hole);
    region
}

#[test]
fn an_open_line_is_cut_in_order_and_keeps_its_direction() {
    let pieces = clip_polyline(&line(&[(12., 5.), (-2., 5.)]), &square_with_hole());
    assert_eq!(pieces, [line(&[(10., 5.), (6., 5.)]), line(&[(4., 5.), (0., 5.)])]);
}

#[test]
fn a_closed_line_is_not_cut_at_its_start() {
    let closed = line(&[(8., 8.), (12., 8.), (12., 2.), (8., 2.), (8., 8.)]);
    let pieces = clip_polyline(&closed, &square_with_hole());
    assert_eq!(pieces, [line(&[(10., 2.), (8., 2.), (8., 8.), (10., 8.)])]);
    let inside = line(&[(1., 1.), (3., 1.), (3., 3.), (1., 1.)]);
    assert_eq!(clip_polyline(&inside, &square_with_hole()), [inside]);
}

#[test]
fn the_boundary_counts_as_inside_and_touching_does_not_cut() {
    let along = line(&[(-1., 0.), (11., 0.)]);
    let pieces = clip_polyline(&along, &square_with_hole());
    let total: f64 = pieces.iter().flat_map(|p| p.windows(2)).map(|w| w[0].distance(w[1])).sum();
    assert!((total - 10e6).abs() < 1.0);
    // Over a corner of the hole.
    let over = line(&[(2., 6.), (4., 6.), (6., 8.)]);
    let pieces = clip_polyline(&over, &square_with_hole());
    assert_eq!(pieces, [over]);
}

/// A corner of the line a third of a nanometre beyond the boundary, where the cut is rounded to it: the
/// line has changed sides all the same.
#[test]
fn a_cut_that_is_rounded_to_a_corner_of_the_line_is_a_cut() {
    let below = [(0, 0), (3_000_000, 0), (3_000_000, 1_000_000)].map(|(x, y)| Point::new(x, y));
    let region = Region::from_proper_rings([below]);
    let line = [100_000, 333_334, 900_000].map(|y| Point::new(1_000_001, y));
    assert_eq!(clip_polyline(&line, &region), [line[..2].to_vec()]);
    let back: Vec<Point> = line.into_iter().rev().collect();
    assert_eq!(clip_polyline(&back, &region), [back[1..].to_vec()]);
}

#[test]
fn nothing_in_nothing_out() {
    assert!(clip_polyline(&[], &square_with_hole()).is_empty());
    assert!(clip_polyline(&line(&[(1., 1.)]), &square_with_hole()).is_empty());
    assert!(clip_polyline(&line(&[(1., 1.), (1., 1.)]), &square_with_hole()).is_empty());
    assert!(clip_polyline(&line(&[(1., 1.), (2., 2.)]), &Region::empty()).is_empty());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    /// Every grid point of the line well away from the boundary lies in a piece exactly if it lies
    /// in the region.
    #[test]
    fn pieces_are_what_lies_inside(
        region in proper(),
        points in prop::collection::vec((-1_200_000..1_200_000, -1_200_000..1_200_000), 2..8),
        closed: bool,
    ) {
        let mut points: Vec<Point> = points.into_iter().map(|(x, y)| Point::new(x, y)).collect();
        if closed {
            points.push(points[0]);
        }
        let pieces = clip_polyline(&points, &region);
        for w in points.windows(2) {
            for i in 0..=50_i64 {
                let at = |a: i32, b: i32| a + i32::try_from(i64::from(b - a) * i / 50).unwrap();
                let p = Point::new(at(w[0].x, w[1].x), at(w[0].y, w[1].y));
                let near = [(-99, 0), (99, 0), (0, -99), (0, 99), (0, 0)]
                    .map(|(x, y)| region.contains(Point::new(p.x + x, p.y + y)));
                if near.iter().any(|c| *c != near[0]) {
                    continue;
                }
                let covered = pieces.iter().flat_map(|l| l.windows(2)).any(|s| {
                    (s[0].distance(p) + p.distance(s[1]) - s[0].distance(s[1])).abs() < 0.1
                });
                prop_assert_eq!(covered, near[0] == Containment::Inside, "{:?}", p);
            }
        }
    }
}
