//! Boolean operations of regions whose rings do not touch each other, but for those that both have: sections
//! of neighbouring layers nest or are partly the same. Such rings are taken or left whole, so that nothing is
//! rounded and the general engine is not needed.
//!
//! Let every ring count once for each region that has it, and negative for what is taken off. Where no two
//! different rings touch, the sum of winding numbers changes at rings only, by as much as the ring counts, and
//! is the same all along one. So a ring bounds the result if the sum reaches what the operation asks for on one of
//! its sides only.

use base::Point;
use std::collections::BTreeMap;

use crate::region::{Region, ring_area_twice};
use crate::ring_index::{Contact, RingIndex};

/// What an operation of two regions asks for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wanted {
    /// How often rings of the second region count.
    of_b: i32,
    /// What the sum of winding numbers has to reach.
    least: i32,
}

impl Wanted {
    /// Everything in either.
    pub(crate) const UNION: Self = Self { of_b: 1, least: 1 };
    /// Everything in both.
    pub(crate) const INTERSECTION: Self = Self { of_b: 1, least: 2 };
    /// Everything in the first, but not in the second.
    pub(crate) const DIFFERENCE: Self = Self { of_b: -1, least: 1 };
}

/// Two proper regions combined; `None` where rings touch that are not the same from the same point on.
pub(crate) fn combined(a: &Region, b: &Region, wanted: Wanted) -> Option<Region> {
    let Wanted { of_b, least } = wanted;
    let (rings, counts) = counted(a, b, of_b);
    let index = RingIndex::new(&rings);
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
        let turns_right_way = (inside >= least) == (turn > 0);
        if turns_right_way {
            result.push_ring(ring);
        } else {
            let mut turned = ring.to_vec();
            turned.reverse();
            result.push_ring(&turned);
        }
    }
    Some(result)
}

/// All different rings, and how often each counts; those that do not count are left out.
fn counted(a: &Region, b: &Region, of_b: i32) -> (Region, Vec<i32>) {
    let mut in_b: BTreeMap<&[Point], bool> = b.rings().map(|ring| (ring, false)).collect();
    let (mut rings, mut counts) = (Region::empty(), Vec::new());
    for ring in a.rings() {
        let is_in_both = in_b.get_mut(ring).map(|is_in_both| *is_in_both = true).is_some();
        let count = if is_in_both { 1 + of_b } else { 1 };
        if count != 0 {
            rings.push_ring(ring);
            counts.push(count);
        }
    }
    for ring in b.rings().filter(|ring| in_b.get(ring) == Some(&false)) {
        rings.push_ring(ring);
        counts.push(of_b);
    }
    (rings, counts)
}
