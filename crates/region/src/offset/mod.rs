//! Insets, outsets and what is made of them.
//!
//! Each island is first offset directly ([`direct`]): every edge moves sideways, corners are where
//! moved edges meet, edges that vanish are taken out. If the rounded result can be proved clear (no
//! two edges touch, turned and nested as before) it is the offset. Otherwise the raw curve
//! ([`raw`]), which may cross itself, goes to the engine and its positively wound part is kept.
//!
//! Why that is right. Let every edge sweep its rectangle, every corner that opens its join. The
//! raw curve is the boundary of the region minus (inset) those patches, each counted as often as it
//! covers a point, so its winding number is 1 exactly where the region is covered by none and at
//! most 0 elsewhere. Cutting the corners that close at the crossing of the two moved edges removes
//! only loops in which patches overlap, as long as no edge is turned around by it ([`direct`] tells
//! what is done about those); and a curve that is simple and nested rightly has no winding numbers
//! but 0 and 1. For an outset all this holds of the complement.

mod corner;
mod direct;
mod join;
mod raw;
#[cfg(test)]
mod tests;

use base::{GRID_LIMIT_NM, Point};

use crate::boolean::{FillRule, difference, intersection};
use crate::engine;
use crate::islands::grouped;
use crate::properness::is_clear;
use crate::region::{Region, edges, ring_area_twice, ring_bounds};
use corner::{Rounding, Vec2};
use direct::Direct;
pub use join::Join;

/// An inset and what it lost.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Inset {
    /// The inset itself, as [`inset`] gives it.
    pub region: Region,
    /// Parts of the region that growing the inset again does not reach: walls too thin for it,
    /// tips of needles, islands that vanish. See [`inset_with_lost`].
    pub lost: Region,
}

/// The points of a region at least `distance_nm` from its boundary, reflex corners as by `join`.
///
/// Takes and returns a proper region; islands stay in order. Vertices are rounded to the grid. A
/// negative distance is an outset by its magnitude, 0 returns the region as it is.
/// O(n log n) for islands that keep their topology.
pub fn inset(region: &Region, distance_nm: i32, join: Join) -> Region {
    if distance_nm < 0 {
        return outset(region, distance_nm.checked_neg().unwrap_or(i32::MAX), join);
    }
    if distance_nm == 0 {
        return region.clone();
    }
    inset_islands(region, &Rounding::new(f64::from(distance_nm), join), |_, _, _| {})
}

/// The points of the plane at most `distance_nm` from a region, outer corners as by `join`.
///
/// Takes and returns a proper region. What would reach beyond the grid is cut off at its edge.
/// A negative distance is an inset by its magnitude, 0 returns the region as it is.
pub fn outset(region: &Region, distance_nm: i32, join: Join) -> Region {
    if distance_nm < 0 {
        return inset(region, distance_nm.checked_neg().unwrap_or(i32::MAX), join);
    }
    if distance_nm == 0 {
        return region.clone();
    }
    grow(region, &Rounding::new(-f64::from(distance_nm), join))
}

/// What a disc of the given radius can reach inside the region: an inset, grown again.
///
/// Removes what is thinner than twice the radius and rounds outer corners (round join) or leaves
/// them (mitre). Never reaches outside the region. A radius of 0 or less returns the region.
pub fn opening(region: &Region, radius_nm: i32, join: Join) -> Region {
    if radius_nm <= 0 {
        return region.clone();
    }
    // Mitred tips and rounding may reach over the old boundary, hence the intersection.
    intersection(&outset(&inset(region, radius_nm, join), radius_nm, join), region)
}

/// An inset together with the parts of the region that are lost by it.
///
/// Growing the inset back (mitred up to twice the distance, and by 1 % more than it shrank so that
/// no rounding slivers stay) recovers everything but the lost parts. Pieces that measure less than
/// the distance in both axes are natural corner residue and are left out, unless a whole island
/// vanished. Only islands under suspicion are looked at: those that changed their topology, needed
/// the engine, or have a corner whose inset lies about three times the distance away.
/// For distances of 0 or less nothing is lost.
pub fn inset_with_lost(region: &Region, distance_nm: i32, join: Join) -> Inset {
    if distance_nm <= 0 {
        return Inset { region: inset(region, distance_nm, join), lost: Region::empty() };
    }
    let mut lost = Region::empty();
    let rounding = Rounding::new(f64::from(distance_nm), join);
    let region = inset_islands(region, &rounding, |island, shrunk, is_suspicious| {
        if is_suspicious {
            lost.append(&lost_of(island, shrunk, distance_nm));
        }
    });
    Inset { region, lost }
}

/// The parts of a region that no disc of a radius inside it holds: walls, and what is left of every corner.
///
/// Discs count as up to 0.6 % larger, so that no rounding slivers stay. For radii of 0 or less nothing is left.
pub fn unreached(region: &Region, radius_nm: i32) -> Region {
    let mut left = Region::empty();
    if radius_nm > 0 {
        let radius = f64::from(radius_nm);
        let shrinking = Rounding::around(radius, ROUNDNESS);
        let growing = Rounding::around(-(radius * (1.0 + 2.0 * ROUNDNESS) + 10.0), ROUNDNESS);
        inset_islands(region, &shrinking, |island, shrunk, _| {
            left.append(&difference(island, &grow(shrunk, &growing)));
        });
    }
    left
}

/// How far polygons in place of discs may lie off, as a part of the radius.
const ROUNDNESS: f64 = 1.0 / 500.0;

fn lost_of(island: &Region, shrunk: &Region, distance_nm: i32) -> Region {
    if shrunk.is_empty() {
        return island.clone();
    }
    let reach = f64::from(distance_nm) * 1.01 + 10.0;
    let growing = Rounding::new(-reach, Join::Mitre { limit: 2.0 });
    let rest = difference(island, &grow(shrunk, &growing));
    let mut lost = Region::empty();
    for rings in grouped(&rest) {
        let (lo, hi) = ring_bounds(rest.ring(rings[0]));
        let extent = (i64::from(hi.x) - i64::from(lo.x)).max(i64::from(hi.y) - i64::from(lo.y));
        if extent >= i64::from(distance_nm) {
            lost.append(&rest.picked(&rings));
        }
    }
    lost
}

/// Insets island by island; `each` sees the island, its inset and whether that is suspicious.
fn inset_islands(
    region: &Region,
    rounding: &Rounding,
    mut each: impl FnMut(&Region, &Region, bool),
) -> Region {
    if region.is_empty() {
        return Region::empty();
    }
    let groups = grouped(region);
    if let [_] = groups.as_slice() {
        let (shrunk, is_suspicious) = inset_island(region, rounding);
        each(region, &shrunk, is_suspicious);
        return shrunk;
    }
    let mut result = Region::empty();
    result.reserve(region.points().len(), region.ring_count());
    for rings in groups {
        let island = region.picked(&rings);
        let (shrunk, is_suspicious) = inset_island(&island, rounding);
        each(&island, &shrunk, is_suspicious);
        result.append(&shrunk);
    }
    result
}

fn inset_island(island: &Region, rounding: &Rounding) -> (Region, bool) {
    if is_narrow(island, rounding.shift) {
        return (Region::empty(), true);
    }
    if let Some(Direct { region, reaches_far }) = direct::offset(island, rounding)
        && is_like(island, &region)
        && is_clear(&region)
    {
        return (region, reaches_far);
    }
    (by_engine(island, rounding), true)
}

/// Whether the box of an island is too narrow for anything to be left of it.
fn is_narrow(island: &Region, distance: f64) -> bool {
    island.bounds().is_none_or(|(lo, hi)| {
        let width = f64::from(hi.x) - f64::from(lo.x);
        let height = f64::from(hi.y) - f64::from(lo.y);
        width.min(height) <= 2.0 * distance
    })
}

/// Whether two regions have as many rings, turned alike one by one.
fn is_like(a: &Region, b: &Region) -> bool {
    let turn = |ring| ring_area_twice(ring).signum();
    a.ring_count() == b.ring_count() && a.rings().zip(b.rings()).all(|(r, s)| turn(r) == turn(s))
}

/// An outset: the shift is negative.
fn grow(region: &Region, rounding: &Rounding) -> Region {
    if region.is_empty() {
        return Region::empty();
    }
    if !leaves_grid(region, rounding)
        && let Some(Direct { region: grown, .. }) = direct::offset(region, rounding)
        && is_like(region, &grown)
        && is_clear(&grown)
    {
        return grown;
    }
    let mut result = Region::empty();
    for cluster in clusters(region, rounding.reach()) {
        result.append(&by_engine(&region.picked(&cluster), rounding));
    }
    result
}

fn leaves_grid(region: &Region, rounding: &Rounding) -> bool {
    region.bounds().is_some_and(|(lo, hi)| {
        let farthest = [lo.x, lo.y, hi.x, hi.y].iter().map(|c| c.unsigned_abs()).max();
        f64::from(farthest.unwrap_or(0)) + rounding.reach() + 2.0 >= f64::from(GRID_LIMIT_NM)
    })
}

/// Rings gathered into groups whose boxes, grown by `reach`, do not meet those of other groups.
fn clusters(region: &Region, reach: f64) -> Vec<Vec<usize>> {
    let grown = |ring: &[Point]| {
        let (lo, hi) = ring_bounds(ring);
        let (lo, hi) = ([lo.x, lo.y].map(f64::from), [hi.x, hi.y].map(f64::from));
        [lo[0] - reach, lo[1] - reach, hi[0] + reach, hi[1] + reach]
    };
    let boxes: Vec<[f64; 4]> = region.rings().map(grown).collect();
    let mut by_x: Vec<usize> = (0..boxes.len()).collect();
    by_x.sort_by(|&a, &b| boxes[a][0].total_cmp(&boxes[b][0]));
    let mut leader: Vec<usize> = (0..boxes.len()).collect();
    let mut open: Vec<usize> = Vec::new();
    for ring in by_x {
        let b = boxes[ring];
        open.retain(|&other| boxes[other][2] >= b[0]);
        for &other in &open {
            if boxes[other][1] <= b[3] && b[1] <= boxes[other][3] {
                let (p, q) = (leader_of(&mut leader, other), leader_of(&mut leader, ring));
                leader[p.max(q)] = p.min(q);
            }
        }
        open.push(ring);
    }
    let mut groups: Vec<Vec<usize>> = vec![Vec::new(); boxes.len()];
    for ring in 0..boxes.len() {
        groups[leader_of(&mut leader, ring)].push(ring);
    }
    groups.retain(|group| !group.is_empty());
    groups
}

/// The leader of a group that is known by chains of leaders, shortened on the way.
fn leader_of(leader: &mut [usize], mut a: usize) -> usize {
    while leader[a] != a {
        leader[a] = leader[leader[a]];
        a = leader[a];
    }
    a
}

/// The offset by the general engine, without the slivers that rounding leaves.
fn by_engine(region: &Region, rounding: &Rounding) -> Region {
    // The cut curve has far fewer crossings than the raw one.
    let ring_curve =
        |ring| direct::curve(ring, rounding).unwrap_or_else(|| raw::ring_curve(ring, rounding));
    let curve: Vec<Vec<Vec2>> = region.rings().map(ring_curve).collect();
    let resolved = match raw::on_grid(&curve) {
        Some(rings) => engine::resolve(rings.rings(), FillRule::Positive),
        None => engine::resolve_wide(&raw::rounded(&curve)),
    };
    let mut kept = Region::empty();
    kept.reserve(resolved.points().len(), resolved.ring_count());
    for ring in resolved.rings() {
        // Rounded vertices lie within 1 nm of their place, so a sliver is at most 2 nm wide.
        let length: f64 = edges(ring).map(|(a, b)| a.distance(b)).sum();
        if ring_area_twice(ring).unsigned_abs() as f64 > 2.0 * length {
            kept.push_ring(ring);
        }
    }
    kept
}
