//! The point of a mesh nearest to a point.

use crate::distance::nearest_on;
use crate::measures::usable_corners;
use crate::{Hierarchy, Mesh};
use base::vec3::{Vec3, dot, sub};

/// A point of a mesh near to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Near {
    /// The point of the mesh, mm.
    pub point_mm: Vec3,
    /// How far it is, mm.
    pub distance_mm: f64,
    /// The triangle on which it lies.
    pub triangle: u32,
}

impl Hierarchy {
    /// The point of the mesh nearest to `p`, mm, part frame, if one is nearer than `within_mm`; only
    /// triangles that `counts` accepts are looked at. Of triangles equally near, any, but always the
    /// same. O(log n) where triangles are spread evenly.
    ///
    /// `mesh` is the one that the tree was built from.
    pub fn nearest(
        &self,
        mesh: &Mesh,
        p: Vec3,
        within_mm: f64,
        counts: impl Fn(u32) -> bool,
    ) -> Option<Near> {
        let mut best: Option<Near> = None;
        let mut most = within_mm * within_mm;
        let mut stack: Vec<(f64, u32)> = Vec::with_capacity(64);
        stack.extend((!self.is_empty()).then(|| (self.square_to(0, p), 0)));
        while let Some((square, node)) = stack.pop() {
            if square >= most {
                continue;
            }
            if let Some(first) = self.children(node) {
                // The nearer child last, so that it is looked at first.
                let mut below = [first, first + 1].map(|child| (self.square_to(child, p), child));
                if below[0].0 < below[1].0 {
                    below.swap(0, 1);
                }
                stack.extend(below.into_iter().filter(|(square, _)| *square < most));
                continue;
            }
            for triangle in self.triangles_of(node).filter(|t| counts(*t)) {
                let corners = mesh.triangles.get(triangle as usize);
                let Some(corners) = corners.and_then(|t| usable_corners(mesh, *t)) else {
                    continue;
                };
                let point_mm = nearest_on(&corners, p);
                let way = sub(point_mm, p);
                let square = dot(way, way);
                if square < most {
                    most = square;
                    best = Some(Near { point_mm, distance_mm: square.sqrt(), triangle });
                }
            }
        }
        best
    }

    /// Square of the distance of a point from the box of a node, mm².
    fn square_to(&self, node: u32, p: Vec3) -> f64 {
        let (lo, hi) = self.bounds_of(node);
        (0..3)
            .map(|k| (f64::from(lo[k]) - p[k]).max(p[k] - f64::from(hi[k])).max(0.0))
            .map(|gap| gap * gap)
            .sum()
    }
}
