//! Closed forms: the Steiner formula for offsets of convex sets and what follows from it.

use region::{Join, Region, inset, outset};

use crate::shapes::{region_mm, regular, square_mm};

const MITRE: Join = Join::Mitre { limit: 2.0 };
/// Fine enough that the polygon drawn for an arc misses 1e-6 of the checked areas at most.
const ROUND: Join = Join::Round { chord_tolerance_nm: 20 };

#[track_caller]
fn check(region: &Region, expected_mm2: f64, relative: f64) {
    let area = region.area_mm2();
    assert!((area / expected_mm2 - 1.0).abs() < relative, "{area} mm², expected {expected_mm2}");
}

/// Steiner: inward A - P·d + d²·Σtan(θ/2), outward round A + P·d + π·d².
#[test]
fn square_of_40_by_0_2() {
    let square = square_mm(-20.0, 20.0);
    for join in [MITRE, ROUND] {
        assert_eq!(inset(&square, 200_000, join).area_twice_nm2(), 3_136_320_000_000_000); // I.square_in
    }
    check(&outset(&square, 200_000, MITRE), 1632.16, 1e-12);
    check(&outset(&square, 200_000, ROUND), 1_632.125_664, 1e-6); // I.square_round
}

#[test]
fn hexagon_of_side_20_inward_0_5() {
    let inner = inset(&Region::from_proper_rings([regular(6, 20.0)]), 500_000, MITRE);
    check(&inner, 980.096_509_9, 1e-8);
    assert!((inner.perimeter_mm() - 116.535_898_4).abs() < 1e-4);
}

/// The meshed circle falls short of the circle; with 20,000 sides by 2e-8.
#[test]
fn circle_and_ring_inward_0_2() {
    let outer = regular(20_000, 10.0);
    let hole: Vec<_> = regular(20_000, 4.0).into_iter().rev().collect();
    check(&inset(&Region::from_proper_rings([&outer]), 200_000, MITRE), 301.718_558_5, 1e-6);
    let ring = Region::from_proper_rings([outer, hole]);
    check(&ring, 263.893_782_9, 1e-6);
    check(&inset(&ring, 200_000, MITRE), 246.300_864_0, 1e-6);
}

/// Steiner corner by corner: each convex corner of a right angle adds π/4·d² outward (round) and
/// takes back d² inward; the reflex one the other way round.
#[test]
fn l_of_40_less_20_by_1() {
    let l = region_mm(&[&[(0., 0.), (40., 0.), (40., 20.), (20., 20.), (20., 40.), (0., 40.)]]);
    check(&outset(&l, 1_000_000, ROUND), 1_362.926_991, 1e-6); // I.L_round
    check(&inset(&l, 1_000_000, ROUND), 1_044.214_602, 1e-6);
    // Mitred, the reflex corner loses the full square.
    check(&inset(&l, 1_000_000, MITRE), 1200.0 - 160.0 + 4.0, 1e-12);
}

/// Perimeter outward, round: P + 2πd for any convex set.
#[test]
fn perimeter_grows_by_the_circle() {
    let grown = outset(&square_mm(-20.0, 20.0), 2_000_000, ROUND);
    assert!((grown.perimeter_mm() - 160.0 - 4.0 * std::f64::consts::PI).abs() < 1e-3);
}
