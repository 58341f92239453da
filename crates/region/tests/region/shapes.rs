//! Shapes and strategies shared by the tests.

use base::Point;
use proptest::prelude::*;
use region::{FillRule, Region, resolve};

/// A region from rings in mm.
pub(crate) fn region_mm(rings: &[&[(f64, f64)]]) -> Region {
    let ring = |r: &&[(f64, f64)]| -> Vec<Point> {
        r.iter().map(|&(x, y)| Point::from_mm(x, y).expect("on the grid")).collect()
    };
    Region::from_proper_rings(rings.iter().map(ring))
}

/// The square from `lo` to `hi` in both axes, mm.
pub(crate) fn square_mm(lo: f64, hi: f64) -> Region {
    region_mm(&[&[(lo, lo), (hi, lo), (hi, hi), (lo, hi)]])
}

/// A regular polygon about the origin, radius in mm.
pub(crate) fn regular(n: u32, radius_mm: f64) -> Vec<Point> {
    (0..n)
        .map(|i| {
            let (sin, cos) = (f64::from(i) / f64::from(n) * std::f64::consts::TAU).sin_cos();
            Point::from_mm(radius_mm * cos, radius_mm * sin).expect("on the grid")
        })
        .collect()
}

/// Rings that cross, overlap and fold as they please, within ±`size` nm.
pub(crate) fn rings(size: i32) -> impl Strategy<Value = Region> {
    let point = (-size..size, -size..size).prop_map(|(x, y)| Point::new(x, y));
    let ring = prop::collection::vec(point, 3..12);
    prop::collection::vec(ring, 1..4).prop_map(Region::from_proper_rings)
}

/// A proper region within ±1 mm.
pub(crate) fn proper() -> impl Strategy<Value = Region> {
    rings(1_000_000).prop_map(|rings| resolve(&rings, FillRule::NonZero))
}

pub(crate) fn nm2(region: &Region) -> f64 {
    region.area_twice_nm2() as f64 / 2.0
}

pub(crate) fn perimeter_nm(region: &Region) -> f64 {
    region.perimeter_mm() * 1e6
}
