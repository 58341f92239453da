//! Which edges of a boundary can bound a thin wall at all: only their cells are worth finding, and most
//! edges of most parts belong to thick bodies.
//!
//! A point of the medial axis with clearance r < `max_half_width_nm` touches the boundary in two
//! places less than 2r apart. Where it belongs to a wall rather than to a blunt corner, its
//! contacts lie more than 110° apart as seen from it (180° less the 70° of the sharpest corner
//! that counts as one). On two edges that is the angle between their directions; at a reflex
//! corner the contact's direction lies between the normals of the two edges there, one of which
//! is then still more than 70° away from the other contact's; 60° is asked for. With the caps of
//! the walls, which [`with_neighbours`] adds, the walls' axes come out the same without the cells of the
//! other edges.

use super::plane::{Straight, dot, float};
use base::Point;

/// Cosine of the least angle between the directions of two edges that face each other.
const APART: f64 = 0.5;
/// The same for two edges that share an end: −cos 70°, with a little in hand.
const SHARP: f64 = -0.33;

/// Whether two edges may bound a thin wall, the material on the left of each, with less than
/// `reach` nm between them.
pub(super) fn face_each_other([a, b]: [Point; 2], [c, d]: [Point; 2], reach: f64) -> bool {
    let (one, other) = (Straight::new([a, b]), Straight::new([c, d]));
    let cosine = dot(one.along, other.along);
    if b == c || d == a {
        return cosine < SHARP;
    }
    let through_material =
        a.cross(b, c) > 0 || a.cross(b, d) > 0 || c.cross(d, a) > 0 || c.cross(d, b) > 0;
    cosine < APART
        && through_material
        && [(a, other), (b, other), (c, one), (d, one)]
            .into_iter()
            .any(|(p, edge)| edge.distance(float(p)) < reach)
}

/// Adds to the marked edges of a ring those less than `reach` nm away from one along the ring.
pub(super) fn with_neighbours(ring: &[[Point; 2]], marked: &mut [bool], reach: f64) {
    let core = marked.to_vec();
    let lap = 0..ring.len();
    let mut spread = |order: &mut dyn Iterator<Item = usize>| {
        let mut remaining = 0.0;
        for i in order {
            if core[i] {
                remaining = reach;
            } else if remaining > 0.0 {
                marked[i] = true;
                remaining -= ring[i][0].distance(ring[i][1]);
            }
        }
    };
    spread(&mut lap.clone().chain(lap.clone()));
    spread(&mut lap.clone().chain(lap).rev());
}
