//! Boolean operations.
//!
//! All take and return proper regions and are exact up to the grid: where edges cross between grid
//! points the crossing is rounded, which moves the boundary by less than 2 nm.

use std::borrow::Cow;

use crate::engine::{self, Operation};
use crate::properness;
use crate::region::{Region, edges};

/// Which points belong to rings that may cross and overlap, by their winding number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FillRule {
    /// Those with a winding number above zero: right for rings that keep the material on their
    /// left, overlapping or not.
    Positive,
    /// Those with a winding number other than zero: right when some rings may be reversed.
    NonZero,
    /// Those with an odd winding number.
    EvenOdd,
}

/// Everything in `a` or in `b`.
pub fn union(a: &Region, b: &Region) -> Region {
    if apart(a, b) {
        return joined([a, b]);
    }
    engine::combine(a, b, Operation::Union)
}

/// Everything in any of the regions. Faster than one union after the other.
pub fn union_all(regions: &[Region]) -> Region {
    match regions {
        [] => Region::empty(),
        [one] => one.clone(),
        // The winding number of all rings together counts how many regions cover a point.
        _ => resolve(&joined(regions), FillRule::Positive),
    }
}

/// Everything in both `a` and `b`.
pub fn intersection(a: &Region, b: &Region) -> Region {
    if apart(a, b) {
        return Region::empty();
    }
    engine::combine(a, b, Operation::Intersection)
}

/// Everything in `a` but not in `b`.
pub fn difference(a: &Region, b: &Region) -> Region {
    if apart(a, b) {
        return a.clone();
    }
    engine::combine(a, b, Operation::Difference)
}

/// Everything in exactly one of `a` and `b`.
pub fn xor(a: &Region, b: &Region) -> Region {
    if apart(a, b) {
        return joined([a, b]);
    }
    engine::combine(a, b, Operation::Xor)
}

/// Makes a proper region of rings that may cross, overlap, fold or nest in any way.
///
/// Rings that are proved proper already (no two edges touch, turned and nested rightly) come back
/// as they are, less repeated points, in O(n log n); all others go through the engine, which also
/// drops points on straight edges.
pub fn resolve(rings: &Region, rule: FillRule) -> Region {
    let rings = without_repeats(rings);
    if properness::is_clear(&rings) {
        rings.into_owned()
    } else {
        engine::resolve(rings.rings(), rule)
    }
}

/// The rings without points equal to the one before them.
fn without_repeats(rings: &Region) -> Cow<'_, Region> {
    if rings.rings().all(|ring| edges(ring).all(|(a, b)| a != b)) {
        return Cow::Borrowed(rings);
    }
    let mut kept = Region::empty();
    for ring in rings.rings() {
        let mut ring = ring.to_vec();
        ring.dedup();
        while ring.len() > 1 && ring.first() == ring.last() {
            ring.pop();
        }
        kept.push_ring(&ring);
    }
    Cow::Owned(kept)
}

/// Whether not even the boxes of two regions meet.
fn apart(a: &Region, b: &Region) -> bool {
    let (Some((a_lo, a_hi)), Some((b_lo, b_hi))) = (a.bounds(), b.bounds()) else { return true };
    a_hi.x < b_lo.x || b_hi.x < a_lo.x || a_hi.y < b_lo.y || b_hi.y < a_lo.y
}

fn joined<'a>(regions: impl IntoIterator<Item = &'a Region>) -> Region {
    let mut all = Region::empty();
    regions.into_iter().for_each(|region| all.append(region));
    all
}
