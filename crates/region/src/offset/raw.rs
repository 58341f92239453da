//! The raw offset curve for the engine: it may cross itself, its winding number is right.

use base::{GRID_LIMIT_NM, Point};

use super::corner::{Corner, Rounding, Vec2, corner, push_edges, push_wide, wide_trim};
use crate::region::Region;

/// The raw curve of a ring, in nm.
///
/// Corners between edges that keep their direction are cut where the moved edges meet; at an edge
/// that would be turned around the curve runs through the old corner instead, so that it bounds
/// exactly what the edges sweep.
pub(super) fn ring_curve(ring: &[Point], rounding: &Rounding) -> Vec<Vec2> {
    let mut edges = Vec::new();
    push_edges(ring, &mut edges);
    let n = edges.len();
    let next = |i: usize| if i + 1 == n { 0 } else { i + 1 };
    // `corners[i]` is the one at the start of edge i.
    let corners: Vec<Corner> = (0..n)
        .map(|i| corner(&edges[if i == 0 { n - 1 } else { i - 1 }], &edges[i], rounding))
        .collect();
    let trim = |i: usize| match corners[i] {
        Corner::Point { trim } => trim,
        Corner::Wide { half } => wide_trim(half, rounding),
        Corner::Closed => f64::INFINITY,
    };
    // A margin: edges of less than a nanometre could be turned around by rounding.
    let keeps = |i: usize| trim(i) + trim(next(i)) < edges[i].length - 1.0;
    let mut out = Vec::with_capacity(n + n / 8);
    for i in 0..n {
        let before = if i == 0 { n - 1 } else { i - 1 };
        let (a, b) = (&edges[before], &edges[i]);
        match corners[i] {
            Corner::Wide { half } => push_wide(a, b, half, rounding, &mut out),
            Corner::Point { trim } if trim <= 0.0 || (keeps(before) && keeps(i)) => {
                out.push(b.moved(trim, rounding.shift));
            }
            Corner::Point { .. } | Corner::Closed => {
                out.push(a.moved(a.length, rounding.shift));
                out.push(b.start);
                out.push(b.moved(0.0, rounding.shift));
            }
        }
    }
    out
}

/// The curve on the grid; `None` if it leaves it.
pub(super) fn on_grid(curve: &[Vec<Vec2>]) -> Option<Region> {
    let limit = f64::from(GRID_LIMIT_NM) - 1.0;
    let mut region = Region::empty();
    let mut ring = Vec::new();
    for points in curve {
        ring.clear();
        for p in points {
            if !(p[0].abs() < limit && p[1].abs() < limit) {
                return None;
            }
            ring.push(round(*p));
        }
        region.push_ring(&ring);
    }
    Some(region)
}

/// The curve in 64-bit nm.
#[expect(clippy::cast_possible_truncation, reason = "`as` saturates, and the reach is bounded")]
pub(super) fn rounded(curve: &[Vec<Vec2>]) -> Vec<Vec<[i64; 2]>> {
    let wide = |ring: &Vec<Vec2>| ring.iter().map(|p| p.map(|c| c.round() as i64)).collect();
    curve.iter().map(wide).collect()
}

/// The nearest grid point.
#[expect(clippy::cast_possible_truncation, reason = "`as` saturates; callers check the range")]
#[inline]
pub(super) fn round(p: Vec2) -> Point {
    // `f64::round` is a library call on baseline x86-64, this is two instructions.
    Point::new((p[0] + 0.5_f64.copysign(p[0])) as i32, (p[1] + 0.5_f64.copysign(p[1])) as i32)
}
