//! Whether one surface is in the way of another that moves off in a straight line.
//!
//! Seen along the line, a triangle of the moving part and one of the other overlap in a convex
//! polygon. If the parts do not cross, the one that is ahead anywhere over it is ahead all over it.
//! (Egeblad, Nielsen & Brazil 2009, Computational Geometry 42, 269–288, move parts along an axis by
//! the same overlaps.) Exact but for rounding: no voxels, no samples.

use super::Posed;
use super::frame::Cuboid;
use crate::flat::common_part;
use base::vec3::{Vec3, dot, sub};
use base::{Affine, Cancelled, Progress};

/// Whether `other` is in the way if `moving` moves off along `direction` for good. Triangles that
/// overlap by less than `touch_mm` across it slide past each other. The two must not cross.
///
/// A direction that is zero or not finite is never blocked.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn is_in_the_way(
    moving: &Posed,
    other: &Posed,
    direction: [f64; 3],
    touch_mm: f64,
    progress: &Progress,
) -> Result<bool, Cancelled> {
    let Some(along) = frame(direction) else { return Ok(false) };
    let (a, b) = (along * moving.pose, along * other.pose);
    let (Some(p), Some(q)) = (moving.tree().root(), other.tree().root()) else { return Ok(false) };
    let mut sweep = Sweep { moving, other, a, b, along, touch: touch_mm, steps: 0, progress };
    let (p, q) = (turned(&a, p), turned(&b, q));
    if !sweep.may_meet(&p, &q) {
        return Ok(false);
    }
    sweep.descend((0, &p), (0, &q))
}

/// The turn that takes a direction to Z.
fn frame(direction: Vec3) -> Option<Affine> {
    let length = dot(direction, direction).sqrt();
    if !(length.is_finite() && length > 0.0) {
        return None;
    }
    let d = direction.map(|c| c / length);
    let k = (0..3).min_by(|&i, &j| d[i].abs().total_cmp(&d[j].abs()))?;
    let mut u = d.map(|c| -c * d[k]);
    u[k] += 1.0;
    let long = dot(u, u).sqrt();
    let u = u.map(|c| c / long);
    let v = base::vec3::cross(d, u);
    let row = |r: Vec3| [r[0], r[1], r[2], 0.0];
    Some(Affine { rows: [row(u), row(v), row(d)] })
}

fn turned(map: &Affine, bounds: ([f32; 3], [f32; 3])) -> Cuboid {
    let c = Cuboid::of(bounds);
    let half = map.rows.map(|r| (0..3).map(|k| r[k].abs() * c.half[k]).sum());
    Cuboid { centre: map.apply(c.centre), half }
}

struct Sweep<'a> {
    moving: &'a Posed<'a>,
    other: &'a Posed<'a>,
    /// The frame of the sweep, in which the part moves along Z, from either part.
    a: Affine,
    b: Affine,
    /// The frame of the sweep from the build space.
    along: Affine,
    touch: f64,
    steps: u32,
    progress: &'a Progress,
}

impl Sweep<'_> {
    /// Whether something in the second box may lie ahead of something in the first.
    #[inline]
    fn may_meet(&self, p: &Cuboid, q: &Cuboid) -> bool {
        let across =
            |k: usize| (p.centre[k] - q.centre[k]).abs() < p.half[k] + q.half[k] - self.touch;
        across(0) && across(1) && q.centre[2] + q.half[2] > p.centre[2] - p.half[2]
    }

    fn descend(
        &mut self,
        (i, p): (u32, &Cuboid),
        (j, q): (u32, &Cuboid),
    ) -> Result<bool, Cancelled> {
        self.steps += 1;
        if self.steps.is_multiple_of(1024) {
            self.progress.check()?;
        }
        let (first_a, first_b) = (self.moving.tree().children(i), self.other.tree().children(j));
        let divide_a = match (first_a, first_b) {
            (None, None) => return Ok(self.leaves(i, j)),
            (Some(_), None) => true,
            (None, Some(_)) => false,
            (Some(_), Some(_)) => p.size() >= q.size(),
        };
        let (tree, map) =
            if divide_a { (self.moving.tree(), &self.a) } else { (self.other.tree(), &self.b) };
        let first = if divide_a { first_a } else { first_b }.unwrap_or_default();
        let mut halves = [first, first + 1].map(|c| (c, turned(map, tree.bounds_of(c))));
        // First where most of the other is ahead: that is where it is in the way, if at all.
        if (halves[1].1.centre[2] > halves[0].1.centre[2]) != divide_a {
            halves.swap(0, 1);
        }
        for (child, c) in &halves {
            let (p, q) = if divide_a { (c, q) } else { (p, c) };
            let (i, j) = if divide_a { (*child, j) } else { (i, *child) };
            if self.may_meet(p, q) && self.descend((i, p), (j, q))? {
                return Ok(true);
            }
        }
        Ok(false)
    }

    fn leaves(&self, i: u32, j: u32) -> bool {
        let flat = |solid: &Posed, node: u32| -> Vec<Flat> {
            let all = solid.tree().triangles_of(node).filter_map(|t| solid.corners(t));
            all.map(|t| Flat::new(t.map(|p| self.along.apply(p)))).collect()
        };
        let own = flat(self.moving, i);
        flat(self.other, j).iter().any(|q| own.iter().any(|p| is_ahead(p, q, self.touch)))
    }
}

/// A triangle in the frame of the sweep.
struct Flat {
    corners: [Vec3; 3],
    lo: Vec3,
    hi: Vec3,
}

impl Flat {
    fn new(corners: [Vec3; 3]) -> Self {
        let pick =
            |k: usize, f: fn(f64, f64) -> f64| f(f(corners[0][k], corners[1][k]), corners[2][k]);
        Self {
            corners,
            lo: [0, 1, 2].map(|k| pick(k, f64::min)),
            hi: [0, 1, 2].map(|k| pick(k, f64::max)),
        }
    }

    /// Coordinate along Z of the triangle's plane over a point.
    fn height(&self, [x, y]: [f64; 2]) -> f64 {
        let [a, b, c] = self.corners;
        let p = [x, y, 0.0];
        let area = twice_area(a, b, c);
        let (u, v) = (twice_area(p, b, c) / area, twice_area(a, p, c) / area);
        (u * a[2] + v * b[2] + (1.0 - u - v) * c[2]).clamp(self.lo[2], self.hi[2])
    }
}

fn twice_area(a: Vec3, b: Vec3, c: Vec3) -> f64 {
    let (u, v) = (sub(b, a), sub(c, a));
    u[0] * v[1] - u[1] * v[0]
}

/// Whether `q` is ahead of `p` where they overlap across the direction by more than `touch`.
fn is_ahead(p: &Flat, q: &Flat, touch: f64) -> bool {
    let across = |k: usize| p.lo[k] < q.hi[k] - touch && q.lo[k] < p.hi[k] - touch;
    if q.hi[2] <= p.lo[2] || !across(0) || !across(1) {
        return false;
    }
    let across = |t: &Flat| t.corners.map(|c| [c[0], c[1]]);
    // Seen edge on, a triangle is left to others of the same solids, which overlap.
    let common = common_part(across(p), across(q), 0.5 * touch);
    common
        .is_some_and(|common| common.iter().map(|&c| q.height(c) - p.height(c)).sum::<f64>() > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::distance::tests::{Solid, cuboid, torus};

    fn blocked(a: &Posed, b: &Posed, d: Vec3) -> bool {
        is_in_the_way(a, b, d, 1e-6, &Progress::default()).unwrap()
    }

    #[test]
    fn a_box_is_blocked_by_what_lies_ahead_and_slides_past_what_it_touches() {
        let block = Solid::new(cuboid([0.; 3], [10.; 3]));
        let own = block.at(Affine::IDENTITY);
        let at = |t: Vec3| block.at(Affine::translation(t));
        assert!(blocked(&own, &at([3., 4., 30.]), [0., 0., 1.]));
        assert!(!blocked(&own, &at([3., 4., 30.]), [0., 0., -1.]));
        assert!(!blocked(&own, &at([10., 0., 30.]), [0., 0., 1.]));
        assert!(!blocked(&own, &at([10., 0., 0.]), [0., 0., 1.]));
        assert!(blocked(&own, &at([10., 0., 0.]), [1., 0., 0.]));
        assert!(blocked(&own, &at([20., 20., 20.]), [1., 1., 1.]));
        assert!(!blocked(&own, &at([20., 20., 45.]), [1., 1., 1.]));
        assert!(!blocked(&own, &at([0., 0., 20.]), [0.; 3]));
        assert!(!blocked(&own, &at([0., 0., 20.]), [f64::NAN, 0., 1.]));
    }

    #[test]
    fn linked_rings_block_each_other_every_way_and_a_rod_slides_out_of_a_ring() {
        let ring = Solid::new(torus(20.0, 5.0, 32));
        let own = ring.at(Affine::IDENTITY);
        let linked =
            ring.at(Affine::translation([20., 0., 0.]) * Affine::rotation_deg([90., 0., 0.]));
        let rod = Solid::new(cuboid([-5., -5., -60.], [5., 5., 60.]));
        let tilt = Affine::rotation_deg([20., 10., 0.]);
        let (turned_ring, rod) = (ring.at(tilt), rod.at(tilt));
        for x in -1..=1 {
            for y in -1..=1 {
                for z in -1..=1 {
                    let d = [x, y, z].map(f64::from);
                    if (x, y, z) == (0, 0, 0) {
                        continue;
                    }
                    assert!(blocked(&own, &linked, d) && blocked(&linked, &own, d), "{d:?}");
                    let way = tilt.apply(d);
                    let free = (x, y) == (0, 0);
                    assert_eq!(!blocked(&rod, &turned_ring, way), free, "{d:?}");
                }
            }
        }
    }
}
