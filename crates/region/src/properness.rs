//! The proof that a region is proper.

use base::Point;
use std::cmp::Ordering;

use crate::region::{Region, edges, ring_area_twice};
use crate::ring_index::{Bounds, Contact, RingIndex};

/// Whether a region is proper: outer rings counter-clockwise, holes clockwise, no crossings, the
/// winding number 0 or 1 everywhere. Exact; rings may touch at points.
///
/// O(n log n) where nothing touches; otherwise every edge is looked at singly.
pub fn is_proper(region: &Region) -> bool {
    let index = RingIndex::new(region);
    match index.contact() {
        Contact::None => is_nested(region, &index),
        Contact::Found | Contact::Unproven => touches_only(region, &index),
    }
}

/// Whether no two edges touch and every ring turns and nests as a proper region's does.
///
/// Sufficient, not necessary: a ring that touches another at a point fails.
pub(crate) fn is_clear(region: &Region) -> bool {
    let index = RingIndex::new(region);
    index.contact() == Contact::None && is_nested(region, &index)
}

/// For rings that do not touch: outer rings lie in no material, holes directly in some.
fn is_nested(region: &Region, index: &RingIndex) -> bool {
    region.rings().zip(0..).all(|(ring, ring_nr)| {
        let around = match ring_area_twice(ring).cmp(&0) {
            Ordering::Greater => 0,
            Ordering::Less => 1,
            Ordering::Equal => return false,
        };
        let mut winding = 0;
        index.ray(ring[0], |other, step| winding += if other == ring_nr { 0 } else { step });
        winding == around
    })
}

/// The slow, complete test: cuts every edge where another edge's end lies on it, and looks at the
/// winding number on both sides of each piece.
fn touches_only(region: &Region, index: &RingIndex) -> bool {
    region.rings().flat_map(edges).all(|(a, b)| {
        let mut cuts = vec![a, b];
        let mut is_free = a != b;
        index.edges_in(Bounds::of(a, b), |u, v| {
            if (u, v) == (a, b) || (u, v) == (b, a) {
                is_free &= (u, v) == (a, b);
                return;
            }
            let (su, sv) = (a.cross(b, u), a.cross(b, v));
            let (sa, sb) = (u.cross(v, a), u.cross(v, b));
            is_free &= !(opposite(su, sv) && opposite(sa, sb));
            for (end, side) in [(u, su), (v, sv)] {
                if side == 0 && Bounds::of(a, b).meets(&Bounds::of(end, end)) {
                    cuts.push(end);
                }
            }
        });
        let along = |p: &Point| {
            let (dx, dy) = (i64::from(b.x) - i64::from(a.x), i64::from(b.y) - i64::from(a.y));
            (i64::from(p.x) - i64::from(a.x)) * dx.signum()
                + (i64::from(p.y) - i64::from(a.y)) * dy.signum()
        };
        cuts.sort_unstable_by_key(along);
        cuts.dedup();
        is_free && cuts.windows(2).all(|w| sides_are_proper(region, w[0], w[1]))
    })
}

fn opposite(s: i64, t: i64) -> bool {
    (s > 0 && t < 0) || (s < 0 && t > 0)
}

/// Whether the winding number is 1 to the left and 0 to the right of the piece `a` to `b`, which
/// no other edge crosses.
fn sides_are_proper(region: &Region, a: Point, b: Point) -> bool {
    // In doubled coordinates the middle is a grid point; 128 bits keep the products exact.
    let wide = |p: Point| [2 * i128::from(p.x), 2 * i128::from(p.y)];
    let m = [i128::from(a.x) + i128::from(b.x), i128::from(a.y) + i128::from(b.y)];
    let (mut right, mut on) = (0, 0);
    // A point infinitesimally right of the middle: a ray to +X (or to +Y for level pieces) meets
    // the pieces through the middle only if they lie on its way.
    let level = a.y == b.y;
    for (u, v) in region.rings().flat_map(edges) {
        let (u, v) = (wide(u), wide(v));
        let ([ux, uy], [vx, vy], [mx, my]) =
            if level { ([-u[1], u[0]], [-v[1], v[0]], [-m[1], m[0]]) } else { (u, v, m) };
        let side = (vx - ux) * (my - uy) - (vy - uy) * (mx - ux);
        match (uy <= my, vy <= my) {
            (true, false) if side > 0 => right += 1,
            (false, true) if side < 0 => right -= 1,
            (true, false) if side == 0 => on += 1,
            (false, true) if side == 0 => on -= 1,
            _ => {}
        }
    }
    // `right` now counts what lies strictly beyond the middle on the ray, `on` what passes through.
    let runs_up = if level { b.x > a.x } else { b.y > a.y };
    if runs_up { on == 1 && right == 0 } else { on == -1 && right == 1 }
}
