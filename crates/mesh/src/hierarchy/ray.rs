//! The first triangle along a ray.
//!
//! Edges are decided as in Woop, Benthin & Wald 2013, "Watertight Ray/Triangle Intersection"
//! (Journal of Computer Graphics Techniques 2(1)): the corners are sheared so that the ray runs
//! along one axis, each corner alike whichever triangle asks, so that no ray slips through between
//! two triangles that share an edge.

use super::boxes::Bounds;
use super::tree::Hierarchy;
use crate::Mesh;
use crate::measures::usable_corners;
use base::vec3::{Vec3, sub};

/// Where a ray meets a mesh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hit {
    /// Index of the triangle.
    pub triangle: u32,
    /// How far along the ray, in lengths of its direction: the point is
    /// `origin + along · direction`.
    pub along: f64,
}

impl Hierarchy {
    /// The nearest triangle along the ray from `origin`, mm, part frame, in the direction
    /// `direction` of any length; both sides of a triangle count. Of triangles equally near, the
    /// one with the lower index. `None` if the ray meets nothing, or if a number is not finite or
    /// the direction is zero. O(log n) where triangles are spread evenly.
    ///
    /// `mesh` is the one that the tree was built from.
    pub fn first_hit(&self, mesh: &Mesh, origin: [f64; 3], direction: [f64; 3]) -> Option<Hit> {
        let ray = Ray::new(origin, direction)?;
        let mut best: Option<Hit> = None;
        let mut stack: Vec<(f64, u32)> = Vec::with_capacity(64);
        stack.extend(self.nodes.first().and_then(|root| Some((ray.entry(&root.bounds)?, 0))));
        while let Some((entry, i)) = stack.pop() {
            if best.is_some_and(|hit| entry > hit.along) {
                continue;
            }
            let node = self.node(i);
            if node.count == 0 {
                // The nearer child last, so that it is looked at first.
                let below = [node.first, node.first + 1]
                    .map(|child| (ray.entry(&self.node(child).bounds), child));
                let [a, b] = if below[0].0 < below[1].0 { [below[1], below[0]] } else { below };
                stack.extend([a, b].into_iter().filter_map(|(at, child)| Some((at?, child))));
                continue;
            }
            for item in self.leaf(node) {
                let corners = mesh.triangles.get(item.triangle as usize);
                let Some(corners) = corners.and_then(|t| usable_corners(mesh, *t)) else {
                    continue;
                };
                let Some(along) = ray.meets(&corners) else { continue };
                let nearer =
                    best.is_none_or(|hit| (along, item.triangle) < (hit.along, hit.triangle));
                if nearer {
                    best = Some(Hit { triangle: item.triangle, along });
                }
            }
        }
        best
    }
}

struct Ray {
    origin: Vec3,
    direction: Vec3,
    /// The axes across the ray and, last, the one along which it runs most.
    axes: [usize; 3],
}

impl Ray {
    fn new(origin: Vec3, direction: Vec3) -> Option<Self> {
        let finite = origin.iter().chain(&direction).all(|c| c.is_finite());
        let along =
            (0..3).fold(0, |k, i| if direction[i].abs() > direction[k].abs() { i } else { k });
        (finite && direction[along] != 0.0).then_some(Self {
            origin,
            direction,
            axes: [(along + 1) % 3, (along + 2) % 3, along],
        })
    }

    /// Where the ray enters a box, at least 0; `None` if it passes by. Never later than it really
    /// does, and never `None` if it does, rounding included.
    fn entry(&self, bounds: &Bounds) -> Option<f64> {
        // Three roundings on either side; Ize 2013, "Robust BVH Ray Traversal".
        const SLACK: f64 = 4.0 * f64::EPSILON;
        let (mut from, mut to) = (0.0_f64, f64::INFINITY);
        for k in 0..3 {
            let (lo, hi) = (f64::from(bounds.lo[k]), f64::from(bounds.hi[k]));
            let (p, d) = (self.origin[k], self.direction[k]);
            if d == 0.0 {
                if p < lo || p > hi {
                    return None;
                }
                continue;
            }
            let (a, b) = ((lo - p) / d, (hi - p) / d);
            let (near, far) = if d > 0.0 { (a, b) } else { (b, a) };
            from = from.max(near - SLACK * near.abs());
            to = to.min(far + SLACK * far.abs());
        }
        (from <= to).then_some(from)
    }

    /// How far along the ray it meets a triangle.
    fn meets(&self, t: &[Vec3; 3]) -> Option<f64> {
        let [i, j, k] = self.axes;
        let shear = [self.direction[i], self.direction[j]].map(|c| c / self.direction[k]);
        let [a, b, c] = t.map(|p| {
            let p = sub(p, self.origin);
            [p[i] - shear[0] * p[k], p[j] - shear[1] * p[k], p[k]]
        });
        // Of an edge shared by two triangles both compute the same products.
        let side = |p: Vec3, q: Vec3| q[0] * p[1] - q[1] * p[0];
        let sides = [side(b, c), side(c, a), side(a, b)];
        if sides.iter().any(|s| *s < 0.0) && sides.iter().any(|s| *s > 0.0) {
            return None;
        }
        let sum: f64 = sides.iter().sum();
        if sum == 0.0 {
            return None; // edge on: a neighbour is met
        }
        let depth = (sides[0] * a[2] + sides[1] * b[2] + sides[2] * c[2]) / sum;
        let along = depth / self.direction[k];
        (along >= 0.0 && along.is_finite()).then_some(along)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A wavy closed tube: `n × n` quads on a torus with bumps.
    fn torus(n: u32) -> Mesh {
        let at = |i: u32, j: u32| {
            let [u, v] = [i, j].map(|k| std::f64::consts::TAU * f64::from(k) / f64::from(n));
            let r = 5.0 + (3.0 * u).sin();
            [(20.0 + r * v.cos()) * u.cos(), (20.0 + r * v.cos()) * u.sin(), r * v.sin()]
        };
        let mut mesh = Mesh::default();
        for i in 0..n {
            for j in 0..n {
                mesh.vertices.push(at(i, j));
                let corner = |i: u32, j: u32| (i % n) * n + j % n;
                let [a, b] = [corner(i, j), corner(i + 1, j)];
                let [c, d] = [corner(i + 1, j + 1), corner(i, j + 1)];
                mesh.triangles.extend([[a, b, c], [a, c, d]]);
            }
        }
        mesh
    }

    /// Möller & Trumbore 1997, by brute force.
    fn all_hits(mesh: &Mesh, p: Vec3, d: Vec3) -> Vec<(u32, f64)> {
        use base::vec3::{cross, dot};
        let hit = |t: usize| {
            let [a, b, c] = mesh.corners(t);
            let (u, v, w) = (sub(b, a), sub(c, a), sub(p, a));
            let (q, r) = (cross(d, v), cross(w, u));
            let det = dot(u, q);
            let (x, y, s) = (dot(w, q) / det, dot(d, r) / det, dot(v, r) / det);
            (x >= 0.0 && y >= 0.0 && x + y <= 1.0 && s >= 0.0).then_some(s)
        };
        (0..mesh.triangles.len())
            .filter_map(|t| Some((u32::try_from(t).unwrap(), hit(t)?)))
            .collect()
    }

    /// Whether the triangles around a corner face both ways along `d`.
    fn is_on_silhouette(mesh: &Mesh, vertex: usize, d: Vec3) -> bool {
        use base::vec3::{cross, dot};
        let around = mesh.triangles.iter().enumerate();
        let around = around.filter(|(_, t)| t.iter().any(|v| *v as usize == vertex));
        let facing: Vec<bool> = around
            .map(|(t, _)| {
                let [a, b, c] = mesh.corners(t);
                dot(cross(sub(b, a), sub(c, a)), d) > 0.0
            })
            .collect();
        facing.contains(&true) && facing.contains(&false)
    }

    proptest! {
        #[test]
        fn the_first_hit_is_the_nearest_of_all(
            p in prop::array::uniform3(-40.0..40.0_f64),
            d in prop::array::uniform3(-1.0..1.0_f64),
            towards in prop::option::of(0..900_usize),
        ) {
            let mesh = torus(30);
            let tree = Hierarchy::build(&mesh);
            // Straight at a corner, where six triangles meet: some of them must be met.
            let d = towards.map_or(d, |v| sub(mesh.vertices[v], p));
            let found = tree.first_hit(&mesh, p, d);
            let all = all_hits(&mesh, p, d);
            let nearest = all.iter().map(|h| h.1).fold(f64::INFINITY, f64::min);
            match found {
                Some(hit) => {
                    prop_assert!(hit.along <= nearest + 1e-9 * nearest.abs().max(1.0));
                    if towards.is_none() {
                        let same = all.iter().find(|h| h.0 == hit.triangle);
                        prop_assert!(same.is_some_and(|h| (h.1 - hit.along).abs() < 1e-9));
                    }
                }
                None => match towards {
                    None => prop_assert!(all.is_empty()),
                    // Only past a corner of the silhouette can rounding lead a ray.
                    Some(v) => prop_assert!(is_on_silhouette(&mesh, v, d)),
                },
            }
        }
    }

    #[test]
    fn rays_along_axes_and_from_the_surface_hit_both_sides() {
        let mesh = torus(30);
        let tree = Hierarchy::build(&mesh);
        let out = tree.first_hit(&mesh, [0.0; 3], [2.0, 0.0, 0.0]).unwrap();
        assert!((out.along - 7.5).abs() < 1e-9, "{out:?}"); // (20 − 5) / 2
        let from_within = tree.first_hit(&mesh, [20.0, 0.0, 0.0], [1.0, 0.0, 0.0]).unwrap();
        assert!((from_within.along - 5.0).abs() < 1e-9);
        let on = mesh.vertices[31];
        assert!(tree.first_hit(&mesh, on, [0.3, 0.2, 0.9]).is_some_and(|h| h.along < 1e-12));
    }

    #[test]
    fn what_is_no_ray_hits_nothing() {
        let mesh = torus(8);
        let tree = Hierarchy::build(&mesh);
        assert_eq!(tree.first_hit(&mesh, [0.0; 3], [0.0; 3]), None);
        assert_eq!(tree.first_hit(&mesh, [f64::NAN, 0., 0.], [1., 0., 0.]), None);
        assert_eq!(tree.first_hit(&mesh, [0.0; 3], [0., 0., 1.]), None);
        assert_eq!(Hierarchy::default().first_hit(&mesh, [0.0; 3], [1., 0., 0.]), None);
    }
}
