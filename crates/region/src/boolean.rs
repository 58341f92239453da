//! Boolean operations.
//!
//! All take and return proper regions and are exact up to the grid: where edges cross between grid
//! points the crossing is rounded, which moves the boundary by less than 2 nm.

use std::borrow::Cow;

use crate::engine::{self, Operation};
use crate::properness;
use crate::region::{Region, edges};
use crate::untouched;

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
    untouched::intersection(a, b).unwrap_or_else(|| engine::combine(a, b, Operation::Intersection))
}

/// Everything in `a` but not in `b`.
pub fn difference(a: &Region, b: &Region) -> Region {
    if apart(a, b) {
        return a.clone();
    }
    let rings = untouched::less(a, b);
    untouched::reached(&rings, &vec![1; rings.ring_count()], 1)
        .unwrap_or_else(|| engine::resolve(rings.rings(), FillRule::Positive))
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::combine;
    use crate::is_proper;
    use base::Point;
    use proptest::prelude::*;

    /// A star around a place; sizes below 450 stay in their cell.
    fn star(centre: [i32; 2], size: f64, bumps: &[f64]) -> Vec<Point> {
        let corner = |(i, bump): (usize, &f64)| {
            let (sin, cos) = (std::f64::consts::TAU * i as f64 / bumps.len() as f64).sin_cos();
            let r = size * (1.0 + 0.1 * bump);
            #[expect(clippy::cast_possible_truncation, reason = "below 1000")]
            Point::new(centre[0] + (r * cos) as i32, centre[1] + (r * sin) as i32)
        };
        bumps.iter().enumerate().map(corner).collect()
    }

    /// Stars within each other in cells of a grid, as neighbouring layers have them: every second one is a
    /// hole. `chosen` tells which of the eight sizes are there.
    fn section(cells: &[(u8, Vec<f64>)]) -> Region {
        let mut region = Region::empty();
        for (cell, (chosen, bumps)) in (0..).zip(cells) {
            let mut is_hole = false;
            for size in (0..8).rev().filter(|size| (chosen >> size) & 1 == 1) {
                let centre = [1000 * (cell % 3), 1000 * (cell / 3)];
                let mut ring = star(centre, 50.0 * f64::from(size) + 45.0, bumps);
                if is_hole {
                    ring.reverse();
                }
                region.push_ring(&ring);
                is_hole = !is_hole;
            }
        }
        region
    }

    proptest! {
        /// The engine says the same, ring by ring, whichever of the rings and corners are the same in both.
        #[test]
        fn what_nests_or_is_the_same_comes_out_as_by_the_engine(
            cells in prop::collection::vec(
                (any::<[u8; 2]>(), 0..3, prop::collection::vec(-1.0..1.0_f64, 5..12)),
                1..7,
            ),
        ) {
            let of = |which: usize| -> Region {
                let choose = |(chosen, alike, bumps): &([u8; 2], i32, Vec<f64>)| {
                    let mut bumps = bumps.clone();
                    bumps[0] += if *alike == 2 { 0.3 * which as f64 } else { 0.0 };
                    (if *alike > 0 { chosen[0] } else { chosen[which] }, bumps)
                };
                section(&cells.iter().map(choose).collect::<Vec<_>>())
            };
            let (a, b) = (of(0), of(1));
            prop_assert!(is_proper(&a) && is_proper(&b));
            let in_one = combine(&a, &b, Operation::Xor);
            for (ours, engine) in [
                (difference(&a, &b), combine(&in_one, &a, Operation::Intersection)),
                (intersection(&a, &b), combine(&a, &b, Operation::Intersection)),
            ] {
                prop_assert!(is_proper(&ours));
                prop_assert_eq!(ours.ring_count(), engine.ring_count());
                prop_assert!(combine(&ours, &engine, Operation::Xor).is_empty());
            }
        }
    }

    #[test]
    fn nested_and_equal_rings_need_no_engine() {
        let bumps = [0.3, -0.5, 0.9, 0.0, -0.2, 0.7, -0.8];
        let of = |chosen: u8| section(&[(chosen, bumps.to_vec())]);
        let (large, small, ring) = (of(0b1000_0000), of(0b0010_0000), of(0b1010_0000));
        let less = |a: &Region, b: &Region| {
            let rings = untouched::less(a, b);
            untouched::reached(&rings, &vec![1; rings.ring_count()], 1)
        };
        assert_eq!(less(&large, &small).as_ref(), Some(&ring));
        assert_eq!(less(&large, &ring).as_ref(), Some(&small));
        for inner in [&small, &ring] {
            assert_eq!(less(inner, &large), Some(Region::empty()));
            assert_eq!(less(inner, inner), Some(Region::empty()));
            assert_eq!(untouched::intersection(&large, inner).as_ref(), Some(inner));
            assert_eq!(untouched::intersection(inner, &large).as_ref(), Some(inner));
        }
    }

    /// Of two walls that differ in one corner the engine would get that corner alone.
    #[test]
    fn edges_that_both_have_are_taken_out() {
        let of = |x: i32| {
            let corners = [[0, 0], [900, 0], [900, 500], [x, 700], [0, 500]];
            Region::from_proper_rings([corners.map(|[x, y]| Point::new(x, y))])
        };
        let rings = untouched::less(&of(450), &of(500));
        assert_eq!(rings.points().len(), 4);
        assert_eq!(rings.area_twice_nm2(), of(450).area_twice_nm2() - of(500).area_twice_nm2());
    }
}
