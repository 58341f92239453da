//! Boolean operations of regions that are mostly the same, or nest: sections of neighbouring layers. What both
//! have alike is taken out, and rings that do not touch are taken or left whole, so that nothing is rounded
//! and the general engine has little to do, or nothing.

use base::Point;
use std::collections::BTreeMap;

use crate::region::{Region, edges, ring_area_twice};
use crate::ring_index::{Contact, RingIndex};

/// Rings whose winding number, about every point, is that of `a` less that of `b`: 1 in `a` alone, -1 in `b`
/// alone.
///
/// An edge that both have in the same direction is in neither of the sums. Without such edges each point still
/// has as many edges that arrive as edges that leave, so that what is left closes to rings.
pub(crate) fn less(a: &Region, b: &Region) -> Region {
    let mut of_b: Vec<(Point, Point)> = b.rings().flat_map(edges).collect();
    of_b.sort_unstable();
    let mut is_common = vec![false; of_b.len()];
    let mut left: Vec<(Point, Point)> = Vec::new();
    let mut rings = Region::empty();
    for ring in a.rings() {
        let before = left.len();
        for edge in edges(ring) {
            match of_b.binary_search(&edge) {
                Ok(at) if !is_common[at] => is_common[at] = true,
                _ => left.push(edge),
            }
        }
        if left.len() - before == ring.len() {
            left.truncate(before);
            rings.push_ring(ring);
        }
    }
    let mut turned = Vec::new();
    for ring in b.rings() {
        let is_left =
            |edge: &(Point, Point)| of_b.binary_search(edge).is_ok_and(|at| !is_common[at]);
        let before = left.len();
        left.extend(edges(ring).filter(is_left).map(|(p, q)| (q, p)));
        if left.len() - before == ring.len() {
            left.truncate(before);
            turned.clear();
            turned.extend(ring.iter().rev());
            rings.push_ring(&turned);
        }
    }
    close(left, &mut rings);
    rings
}

/// Joins edges to rings; each point has as many that arrive as leave.
fn close(mut left: Vec<(Point, Point)>, rings: &mut Region) {
    left.sort_unstable();
    let mut is_used = vec![false; left.len()];
    let mut ring = Vec::new();
    for first in 0..left.len() {
        ring.clear();
        let mut next = Some(first).filter(|first| !is_used[*first]);
        while let Some(edge) = next {
            is_used[edge] = true;
            let (from, to) = left[edge];
            ring.push(from);
            let start = left.partition_point(|(from, _)| *from < to);
            let leaving = left[start..].iter().take_while(|(from, _)| *from == to).count();
            next = (start..start + leaving).find(|edge| !is_used[*edge]);
        }
        rings.push_ring(&ring); // there and back again is nothing
    }
}

/// Both regions, by rings that do not touch; `None` if others do than those that both have.
pub(crate) fn intersection(a: &Region, b: &Region) -> Option<Region> {
    let mut in_both: BTreeMap<&[Point], bool> = b.rings().map(|ring| (ring, false)).collect();
    let (mut rings, mut counts) = (Region::empty(), Vec::new());
    for ring in a.rings() {
        let known = in_both.get_mut(ring).map(|is_in_both| *is_in_both = true);
        rings.push_ring(ring);
        counts.push(if known.is_some() { 2 } else { 1 });
    }
    for ring in b.rings().filter(|ring| in_both.get(ring) == Some(&false)) {
        rings.push_ring(ring);
        counts.push(1);
    }
    if share_points(a, b, &counts) { None } else { reached(&rings, &counts, 2) }
}

/// Whether rings that not both have share a point, as walls of neighbouring layers do: told sooner than that
/// rings touch.
fn share_points(a: &Region, b: &Region, counts: &[i32]) -> bool {
    let alone = a.rings().zip(counts).filter(|(_, count)| **count == 1);
    let mut points: Vec<Point> = alone.flat_map(|(ring, _)| ring).copied().collect();
    points.sort_unstable();
    !points.is_empty() && b.points().iter().any(|p| points.binary_search(p).is_ok())
}

/// The points about which the winding numbers of rings that do not touch, each counted so often, sum up to
/// `least` or more; `None` if rings touch.
///
/// The sum changes at rings only, by as much as the ring counts, and is the same all along one. So a ring
/// bounds the result if the sum reaches `least` on one of its sides alone.
pub(crate) fn reached(rings: &Region, counts: &[i32], least: i32) -> Option<Region> {
    let index = RingIndex::new(rings);
    if !rings.is_empty() && index.contact() != Contact::None {
        return None;
    }
    let mut result = Region::empty();
    for (number, ring) in rings.rings().enumerate() {
        let mut around = 0;
        index.ray(ring[0], |other, step| {
            let other = other as usize;
            around += if other == number { 0 } else { step * counts[other] };
        });
        let turn = if ring_area_twice(ring) > 0 { 1 } else { -1 };
        let inside = around + turn * counts[number];
        if (around >= least) == (inside >= least) {
            continue;
        }
        if (inside >= least) == (turn > 0) {
            result.push_ring(ring);
        } else {
            let turned: Vec<Point> = ring.iter().rev().copied().collect();
            result.push_ring(&turned);
        }
    }
    Some(result)
}
