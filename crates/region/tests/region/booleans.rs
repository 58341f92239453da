//! Boolean operations: Clipper2 as the oracle, and identities.

use base::Point;
use clipper2::{FillRule as ClipperRule, One, Paths};
use proptest::prelude::*;
use region::{
    FillRule, Region, difference, intersection, is_proper, resolve, union, union_all, xor,
};

use crate::shapes::{nm2, perimeter_nm, proper, region_mm, rings, square_mm};

fn clipper(region: &Region) -> Paths<One> {
    let rings: Vec<Vec<(f64, f64)>> = region
        .rings()
        .map(|r| r.iter().map(|p| (f64::from(p.x), f64::from(p.y))).collect())
        .collect();
    rings.into()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn operations_agree_with_clipper2(a in proper(), b in proper()) {
        let (p, q) = (clipper(&a), clipper(&b));
        let rule = ClipperRule::Positive;
        // Both round crossings to the grid: less than 2 nm along every boundary.
        let allowed = 4.0 * (perimeter_nm(&a) + perimeter_nm(&b)) + 100.0;
        let cases = [
            (union(&a, &b), clipper2::union::<One>(p.clone(), q.clone(), rule)),
            (intersection(&a, &b), clipper2::intersect::<One>(p.clone(), q.clone(), rule)),
            (difference(&a, &b), clipper2::difference::<One>(p.clone(), q.clone(), rule)),
            (xor(&a, &b), clipper2::xor::<One>(p, q, rule)),
        ];
        for (ours, theirs) in cases {
            prop_assert!(is_proper(&ours));
            let theirs = theirs.unwrap();
            let apart = if ours.is_empty() {
                theirs.signed_area()
            } else {
                clipper2::xor::<One>(clipper(&ours), theirs, rule).unwrap().signed_area()
            };
            prop_assert!(apart.abs() <= allowed, "{apart} nm² apart, {allowed} allowed");
        }
    }

    #[test]
    fn areas_add_up(a in proper(), b in proper()) {
        let allowed = 4.0 * (perimeter_nm(&a) + perimeter_nm(&b)) + 100.0;
        let (i, u) = (nm2(&intersection(&a, &b)), nm2(&union(&a, &b)));
        prop_assert!((nm2(&a) + nm2(&b) - i - u).abs() <= allowed);
        prop_assert!((nm2(&difference(&a, &b)) + i - nm2(&a)).abs() <= allowed);
        prop_assert!((nm2(&xor(&a, &b)) + 2.0 * i - nm2(&a) - nm2(&b)).abs() <= allowed);
        prop_assert!((nm2(&union_all(&[a, b])) - u).abs() <= allowed);
    }

    #[test]
    fn resolve_follows_the_rule_and_is_idempotent(rings in rings(1_000_000)) {
        for (rule, theirs) in [
            (FillRule::Positive, ClipperRule::Positive),
            (FillRule::NonZero, ClipperRule::NonZero),
            (FillRule::EvenOdd, ClipperRule::EvenOdd),
        ] {
            let ours = resolve(&rings, rule);
            prop_assert!(is_proper(&ours));
            let none: Vec<Vec<(f64, f64)>> = Vec::new();
            let area = clipper2::union::<One>(clipper(&rings), none, theirs).unwrap().signed_area();
            prop_assert!((nm2(&ours) - area).abs() <= 4.0 * perimeter_nm(&rings) + 100.0);
            let again = resolve(&ours, FillRule::Positive);
            prop_assert_eq!(again.area_twice_nm2(), ours.area_twice_nm2());
        }
    }

    #[test]
    fn a_coarse_grid_full_of_coincidences_stays_proper(a in rings(6), b in rings(6)) {
        let (a, b) = (resolve(&a, FillRule::EvenOdd), resolve(&b, FillRule::Positive));
        for region in [union(&a, &b), intersection(&a, &b), difference(&a, &b), xor(&a, &b)] {
            prop_assert!(is_proper(&region), "{:?}", region);
        }
    }
}

#[test]
fn proper_rings_come_back_untouched_with_all_their_points() {
    let mut ring = square_mm(0.0, 10.0).points().to_vec();
    ring.insert(1, Point::new(5_000_000, 0)); // on a straight edge: the engine would drop it
    let hole = [(2., 2.), (2., 4.), (4., 4.)].map(|(x, y)| Point::from_mm(x, y).unwrap());
    let region = Region::from_proper_rings([ring.as_slice(), &hole]);
    assert_eq!(resolve(&region, FillRule::NonZero), region);
    assert!(is_proper(&region));
    // Repeated points alone are no reason for the engine.
    let repeated = region.rings().map(|ring| [&ring[..1], ring, &ring[..1]].concat());
    assert_eq!(resolve(&Region::from_proper_rings(repeated), FillRule::NonZero), region);
}

#[test]
fn what_is_improper_is_told() {
    let square = square_mm(0.0, 10.0);
    let reversed: Vec<Point> = square.points().iter().rev().copied().collect();
    let within = square_mm(2.0, 4.0);
    let bow_tie = region_mm(&[&[(0., 0.), (2., 2.), (2., 0.), (0., 2.)]]);
    let mut twice = square.clone();
    twice.append(&square);
    let mut nested = square.clone();
    nested.append(&within);
    let spike = region_mm(&[&[(0., 0.), (4., 0.), (9., 0.), (4., 0.), (4., 4.), (0., 4.)]]);
    let hole_alone = Region::from_proper_rings([reversed]);
    for (name, region) in [
        ("bow tie", bow_tie),
        ("twice the same", twice),
        ("material in material", nested),
        ("spike", spike),
        ("hole without material", hole_alone),
    ] {
        assert!(!is_proper(&region), "{name}");
    }
}

#[test]
fn rings_may_touch_at_points() {
    let mut corner_to_corner = square_mm(0.0, 1.0);
    corner_to_corner.append(&square_mm(1.0, 2.0));
    assert!(is_proper(&corner_to_corner));
    // A hole with a vertex in the middle of an outer edge.
    let hole: &[(f64, f64)] = &[(5., 0.), (4., 2.), (6., 2.)];
    let square: &[(f64, f64)] = &[(0., 0.), (10., 0.), (10., 10.), (0., 10.)];
    assert!(is_proper(&region_mm(&[square, hole])));
    // The same triangle turned the other way doubles the material.
    let reversed: Vec<(f64, f64)> = hole.iter().rev().copied().collect();
    assert!(!is_proper(&region_mm(&[square, &reversed])));
    assert!(is_proper(&Region::empty()));
}

#[test]
fn a_bundle_of_long_diagonals_is_decided_too() {
    // Boxes of all teeth overlap, so the proof gives up and the engine answers.
    let mut ring = Vec::new();
    for i in 0..400 {
        let x = i * 1_000;
        ring.extend([Point::new(x, 0), Point::new(x + 400_000_000, 400_000_000)]);
    }
    ring.reverse();
    ring.push(Point::new(0, -1_000_000));
    ring.push(Point::new(500_000_000, -1_000_000));
    let region = resolve(&Region::from_proper_rings([ring]), FillRule::NonZero);
    assert!(is_proper(&region) && !region.is_empty());
}
