//! Which edges of a boundary can bound a thin wall at all. The Voronoi diagram costs far more
//! than everything else, and most edges of most parts belong to thick bodies.
//!
//! A point of the medial axis with clearance r < `max_half_width_nm` touches the boundary in two
//! places less than 2r apart. Where it belongs to a wall rather than to a blunt corner, its
//! contacts lie more than 110° apart as seen from it (180° less the 70° of the sharpest corner
//! that counts as one). On two edges that is the angle between their directions; at a reflex
//! corner the contact's direction lies between the normals of the two edges there, one of which
//! is then still more than 70° away from the other contact's; 60° is asked for. With the caps of
//! the walls, which [`with_neighbours`] adds, the walls' axes come out the same without the cells of the
//! other edges.

use base::Point;

/// Cosine of the least angle between the directions of two edges that face each other.
const APART: f64 = 0.5;
/// The same for two edges that share an end: −cos 70°, with a little in hand.
const SHARP: f64 = -0.33;

/// Whether two edges may bound a thin wall, the material on the left of each, with less than
/// `reach` nm between them.
pub(super) fn face_each_other([a, b]: [Point; 2], [c, d]: [Point; 2], reach: f64) -> bool {
    let (u, v) = (vector(a, b), vector(c, d));
    let cosine = (u[0] * v[0] + u[1] * v[1]) / (u[0].hypot(u[1]) * v[0].hypot(v[1]));
    if b == c || d == a {
        return cosine < SHARP;
    }
    let through_material =
        a.cross(b, c) > 0 || a.cross(b, d) > 0 || c.cross(d, a) > 0 || c.cross(d, b) > 0;
    cosine < APART
        && through_material
        && [(a, [c, d]), (b, [c, d]), (c, [a, b]), (d, [a, b])]
            .into_iter()
            .any(|(p, edge)| distance([f64::from(p.x), f64::from(p.y)], edge) < reach)
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

fn vector(a: Point, b: Point) -> [f64; 2] {
    [f64::from(b.x) - f64::from(a.x), f64::from(b.y) - f64::from(a.y)]
}

/// Distance from a place to an edge, nm.
fn distance(p: [f64; 2], [a, b]: [Point; 2]) -> f64 {
    let [dx, dy] = vector(a, b);
    let (x, y) = (p[0] - f64::from(a.x), p[1] - f64::from(a.y));
    let t = ((x * dx + y * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
    (x - t * dx).hypot(y - t * dy)
}
