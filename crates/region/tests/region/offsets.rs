//! Properties of insets, outsets and openings.

use base::{GRID_LIMIT_NM, Point};
use clipper2::{EndType, JoinType, One, Paths};
use proptest::prelude::*;
use region::{
    Inset, Join, Region, difference, inset, inset_with_lost, is_proper, opening, outset, xor,
};

use crate::shapes::{nm2, perimeter_nm, proper, region_mm, rings, square_mm};

const MITRE: Join = Join::Mitre { limit: 2.0 };
const ROUND: Join = Join::Round { chord_tolerance_nm: 500 };

fn join() -> impl Strategy<Value = Join> {
    prop_oneof![Just(MITRE), Just(ROUND)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn offset_by_nothing_is_identity(region in proper(), join in join()) {
        prop_assert_eq!(&inset(&region, 0, join), &region);
        prop_assert_eq!(&outset(&region, 0, join), &region);
        prop_assert_eq!(&opening(&region, 0, join), &region);
    }

    #[test]
    fn area_is_monotone_in_the_distance(region in proper(), d in 1_000..100_000_i32, join in join()) {
        let slack = 4.0 * perimeter_nm(&region) + 1e3;
        let (near, far) = (inset(&region, d, join), inset(&region, 2 * d, join));
        prop_assert!(nm2(&difference(&far, &near)) <= slack);
        prop_assert!(nm2(&difference(&near, &region)) <= slack);
        prop_assert!(nm2(&difference(&region, &outset(&region, d, join))) <= slack);
        prop_assert!(is_proper(&near) && is_proper(&far));
    }

    #[test]
    fn a_negative_distance_goes_the_other_way(region in proper(), d in 1..100_000_i32) {
        prop_assert_eq!(inset(&region, -d, MITRE), outset(&region, d, MITRE));
        prop_assert_eq!(outset(&region, -d, MITRE), inset(&region, d, MITRE));
    }

    #[test]
    fn offsets_move_with_the_region(
        region in proper(), d in 1_000..100_000_i32, dx in -900_000_000..900_000_000_i32, join in join(),
    ) {
        let moved = region.translated(dx, -dx / 3).unwrap();
        for (here, there) in [
            (inset(&region, d, join), inset(&moved, d, join)),
            (opening(&region, d, join), opening(&moved, d, join)),
        ] {
            // Coordinates in f64 lose 1e-7 nm far out, which may tip a rounding.
            let back = there.translated(-dx, dx / 3).unwrap();
            prop_assert!(nm2(&xor(&here, &back)) <= 4.0 * perimeter_nm(&region) + 1e3);
        }
    }

    #[test]
    fn an_opening_never_grows(region in proper(), r in 1_000..100_000_i32, join in join()) {
        let open = opening(&region, r, join);
        prop_assert!(is_proper(&open));
        prop_assert!(nm2(&difference(&open, &region)) <= 2.0 * perimeter_nm(&region) + 100.0);
        prop_assert!(nm2(&open) <= nm2(&region) + 2.0 * perimeter_nm(&region) + 100.0);
    }

    /// Clipper2's own offset; its arcs are within distance/500 of the circle.
    #[test]
    fn round_offsets_agree_with_clipper2(region in proper(), d in 1_000..150_000_i32, outwards: bool) {
        let ours = if outwards { outset(&region, d, ROUND) } else { inset(&region, d, ROUND) };
        let paths: Vec<Vec<(f64, f64)>> = region.rings()
            .map(|r| r.iter().map(|p| (f64::from(p.x), f64::from(p.y))).collect()).collect();
        let delta = f64::from(if outwards { d } else { -d });
        let theirs: Paths<One> =
            clipper2::inflate(paths, delta, JoinType::Round, EndType::Polygon, 2.0);
        let boundary = perimeter_nm(&region) + perimeter_nm(&ours);
        let allowed = boundary * (6.0 + 500.0 + f64::from(d) / 400.0) + 1e3;
        prop_assert!((nm2(&ours) - theirs.signed_area()).abs() <= allowed);
    }

    #[test]
    fn what_is_lost_was_there_and_is_not_in_the_inset(region in proper(), d in 10_000..200_000_i32) {
        let Inset { region: shrunk, lost } = split(&region, d);
        prop_assert_eq!(&shrunk, &inset(&region, d, MITRE));
        let slack = 4.0 * perimeter_nm(&region) + 1e3;
        prop_assert!(nm2(&difference(&lost, &region)) <= slack);
        prop_assert!((nm2(&difference(&lost, &shrunk)) - nm2(&lost)).abs() <= slack);
    }

    /// Improper rings are the caller's fault, but must not bring anything down.
    #[test]
    fn improper_rings_and_absurd_distances_do_no_harm(
        rings in rings(GRID_LIMIT_NM - 1), d in prop::num::i32::ANY, limit in prop::num::f64::ANY,
        chord_tolerance_nm in prop::num::u32::ANY,
    ) {
        for join in [Join::Mitre { limit }, Join::Round { chord_tolerance_nm }] {
            for region in [inset(&rings, d, join), outset(&rings, d, join)] {
                prop_assert!(region.points().iter().all(
                    |p| p.x.abs() < GRID_LIMIT_NM && p.y.abs() < GRID_LIMIT_NM
                ));
            }
        }
    }
}

fn split(region: &Region, d: i32) -> Inset {
    inset_with_lost(region, d, MITRE)
}

#[test]
fn a_waist_splits_an_island_and_is_reported_lost() {
    // Two squares of 10 mm joined by a bridge 0.3 mm wide and 5 mm long.
    let dumbbell = region_mm(&[&[
        (0., 0.),
        (10., 0.),
        (10., 4.85),
        (15., 4.85),
        (15., 0.),
        (25., 0.),
        (25., 10.),
        (15., 10.),
        (15., 5.15),
        (10., 5.15),
        (10., 10.),
        (0., 10.),
    ]]);
    let Inset { region, lost } = split(&dumbbell, 200_000);
    assert_eq!(region.islands().len(), 2);
    assert_eq!(lost.islands().len(), 1);
    assert!((lost.area_mm2() - 1.5).abs() < 0.01, "{} mm²", lost.area_mm2());
}

#[test]
fn a_wall_too_thin_is_lost_whole_and_a_square_loses_nothing() {
    let wall = region_mm(&[&[(0., 0.), (30., 0.), (30., 0.39), (0., 0.39)]]);
    let Inset { region, lost } = split(&wall, 200_000);
    assert!(region.is_empty());
    assert_eq!(lost, wall);
    assert!(split(&square_mm(0.0, 10.0), 200_000).lost.is_empty());
}

#[test]
fn the_tip_of_a_needle_is_lost() {
    // 2 mm wide at the base, 30 mm long: the last 30·0.4/2 = 6 mm are thinner than 0.4 mm.
    let needle = region_mm(&[&[(0., 0.), (30., 1.), (0., 2.)]]);
    let Inset { region, lost } = split(&needle, 200_000);
    assert_eq!(region.islands().len(), 1);
    assert_eq!(lost.islands().len(), 1);
    let (lo, hi) = lost.bounds().unwrap();
    assert_eq!(hi.x, 30_000_000);
    assert!((f64::from(lo.x) / 1e6 - 24.0).abs() < 0.6, "{}", lo.x);
}

#[test]
fn a_ring_thinner_than_the_distance_vanishes_although_nothing_crosses() {
    // Outer edge moved in by 1 mm, hole moved out by 1 mm: the hole now surrounds the outer ring.
    let mut ring = square_mm(0.0, 20.0);
    let hole: Vec<Point> = square_mm(0.1, 19.9).points().iter().rev().copied().collect();
    ring.push_ring(&hole);
    assert!(inset(&ring, 1_000_000, MITRE).is_empty());
}

#[test]
fn islands_that_grow_together_become_one() {
    let mut pair = square_mm(0.0, 1.0);
    pair.append(&square_mm(1.3, 2.3).translated(0, -1_300_000).unwrap());
    assert_eq!(outset(&pair, 100_000, MITRE).islands().len(), 2);
    let joined = outset(&pair, 200_000, MITRE);
    assert_eq!(joined.islands().len(), 1);
    assert!((joined.area_mm2() - 1.4 * 2.7).abs() < 1e-9);
}

#[test]
fn an_outset_is_cut_off_at_the_edge_of_the_grid() {
    let m = GRID_LIMIT_NM - 1;
    let corner =
        [(m - 10, m - 10), (m, m - 10), (m, m), (m - 10, m)].map(|(x, y)| Point::new(x, y));
    let grown = outset(&Region::from_proper_rings([corner]), i32::MAX, MITRE);
    assert!(is_proper(&grown) && grown.bounds().unwrap().1 == Point::new(m, m));
    let grown = outset(&Region::from_proper_rings([corner]), 1_000, MITRE);
    assert_eq!(grown.area_twice_nm2(), 2 * 1_010 * 1_010);
}

#[test]
fn a_mitre_is_cut_squarely_at_its_limit() {
    // A 30° wedge: the tip of the full mitre would lie 3.86 d away.
    let (sin, cos) = 15_f64.to_radians().sin_cos();
    let wedge = region_mm(&[&[(0., 0.), (-20. * cos, 20. * sin), (-20. * cos, -20. * sin)]]);
    let reach = |limit| outset(&wedge, 1_000_000, Join::Mitre { limit }).bounds().unwrap().1.x;
    assert_eq!(reach(2.0), 2_000_000);
    assert_eq!(reach(1.0), 1_000_000);
    assert!((f64::from(reach(10.0)) / 1e6 - 1.0 / sin).abs() < 1e-5);
}
