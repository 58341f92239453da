//! Holes whose contours keep another distance from the boundary than outer ones.

use base::Point;
use region::{Join, Region, difference, inset, outset};

/// The island with its holes widened by a distance, nm, or narrowed if that is negative: what is then
/// inset by the beam offset lies at the beam offset and that distance from the true holes. May fall apart.
pub(crate) fn with_holes_widened(island: Region, by_nm: i32, join: Join) -> Region {
    if by_nm == 0 || island.ring_count() < 2 {
        return island;
    }
    let reversed = |ring: &[Point]| ring.iter().rev().copied().collect::<Vec<_>>();
    let outer = Region::from_proper_rings(island.rings().take(1).map(<[Point]>::to_vec));
    // holes of one island do not overlap, so they are a proper region of their own
    let holes = Region::from_proper_rings(island.rings().skip(1).map(reversed));
    let holes = if by_nm > 0 { outset(&holes, by_nm, join) } else { inset(&holes, -by_nm, join) };
    difference(&outer, &holes)
}
