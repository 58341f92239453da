//! Where problems of a mesh are: counts, and the first places of each kind.

use crate::Mesh;
use crate::measures::usable_corners;
use base::vec3::{Vec3, centroid, midpoint};
use serde::Serialize;

/// How many places are kept of each kind of problem; the count is always complete. Enough to mark
/// on screen, few enough that the report of a hopeless mesh stays readable.
pub const PLACES_KEPT: usize = 256;

/// How often a problem occurs, and where first.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Faults<P> {
    /// All occurrences.
    pub count: usize,
    /// The first [`PLACES_KEPT`] of them.
    pub first: Vec<P>,
}

/// An edge of the mesh.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct EdgePlace {
    /// Indices of its end points, the lower first.
    pub vertices: [u32; 2],
    /// Its middle, mm.
    pub point_mm: [f64; 3],
}

/// A triangle of the mesh.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TrianglePlace {
    /// Its index.
    pub triangle: u32,
    /// A point on it, mm.
    pub point_mm: [f64; 3],
}

/// Two triangles that touch or cross.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ContactPlace {
    /// Their indices, the lower first.
    pub triangles: [u32; 2],
    /// The middle of what their bounding boxes have in common, mm.
    pub point_mm: [f64; 3],
}

impl<P> Faults<P> {
    /// Counts one more; makes its place only if it is kept.
    pub(super) fn push(&mut self, place: impl FnOnce() -> P) {
        self.count += 1;
        if self.first.len() < PLACES_KEPT {
            self.first.push(place());
        }
    }
}

impl<P> Default for Faults<P> {
    fn default() -> Self {
        Self { count: 0, first: Vec::new() }
    }
}

pub(super) fn half_edge_ends(mesh: &Mesh, half_edge: u32) -> [u32; 2] {
    let (t, k) = (half_edge as usize / 3, half_edge as usize % 3);
    let triangle = mesh.triangles[t];
    [triangle[k], triangle[(k + 1) % 3]]
}

pub(super) fn edge_place(mesh: &Mesh, [a, b]: [u32; 2]) -> EdgePlace {
    let [p, q] = [a, b].map(|v| mesh.vertices[v as usize]);
    EdgePlace { vertices: [a.min(b), a.max(b)], point_mm: midpoint(p, q) }
}

/// The middle of a triangle; of an unusable one the origin, for want of a better place.
pub(super) fn triangle_point(mesh: &Mesh, triangle: usize) -> Vec3 {
    usable_corners(mesh, mesh.triangles[triangle]).map_or([0.0; 3], centroid)
}
