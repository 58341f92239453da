//! How thick a solid is, and how wide its gaps are, by balls that touch the surface.
//!
//! At a point of the surface, the largest ball that touches it from within, and that no surface facing the
//! point enters, is as thick as the wall there; from without, as wide as the gap. It is found by shrinking a
//! larger one: its new rim goes through the nearest point that enters it, until none does (Ma, Bae & Choi
//! 2012, "3D medial axis point approximation using nearest neighbors and the normal field", The Visual
//! Computer 28).
//!
//! Only surfaces that face the point count, so that walls are as thick at their edges as in the middle; else
//! every sharp edge would be a wall without thickness. An edge sharper than [`SHARPEST_DEG`] is one.

mod samples;

use crate::measures::usable_corners;
use crate::{Hierarchy, Mesh, Near};
use base::vec3::{Vec3, add, cross, dot, length, scale, sub};
use base::{Cancelled, Progress};
use rayon::prelude::*;
pub use samples::{Sample, Spacing};

/// Two sides of a wedge with less than this angle between them face each other, degrees: a judgement.
pub const SHARPEST_DEG: f64 = 36.0;

/// −cos of that angle: the scalar product of two normals that face each other is below.
const FACING: f64 = -0.809_016_994_374_947_5;

/// From which side of the surface a ball touches it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// From within the material: walls.
    Inside,
    /// From without: gaps.
    Outside,
}

/// Balls smaller than this are surfaces that touch, which the health report tells, mm.
const TOUCH_MM: f64 = 1e-6;

/// Less surface than this does not tell how thin a part is, mm²: where a rounding runs out into a flat face
/// there is always a place without thickness. A judgement.
pub const SPECK_MM2: f64 = 0.5;

/// Balls are shrunk until the surface enters no deeper than this, mm.
const EXACT_MM: f64 = 1e-9;

/// At most so many times: each goes most of the rest of the way.
const MOST_STEPS: usize = 200;

/// A mesh made ready for balls; it borrows the tree.
pub struct Balls<'a> {
    mesh: &'a Mesh,
    tree: &'a Hierarchy,
    /// Of each triangle, outwards, of length 1; 0 where there is none.
    normals: Vec<Vec3>,
}

/// What is thinner than a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thin {
    /// Diameter of the smallest ball, mm, but for those on the thinnest [`SPECK_MM2`].
    pub least_mm: f64,
    /// Where it touches, mm, part frame.
    pub at_mm: Vec3,
    /// Surface at which balls are smaller than the limit, mm², by the samples.
    pub area_mm2: f64,
}

impl<'a> Balls<'a> {
    /// O(n).
    pub fn new(mesh: &'a Mesh, tree: &'a Hierarchy) -> Self {
        let normal = |corners: &[u32; 3]| {
            let Some([a, b, c]) = usable_corners(mesh, *corners) else { return [0.0; 3] };
            let normal = cross(sub(b, a), sub(c, a));
            let long = length(normal);
            if long > 0.0 { scale(normal, 1.0 / long) } else { [0.0; 3] }
        };
        Self { mesh, tree, normals: mesh.triangles.par_iter().map(normal).collect() }
    }

    /// Diameter of the largest ball at a point of a triangle, mm; `None` if it is at least `most_mm`.
    ///
    /// Exact to a nanometre for flat walls. Of curved ones the facets are measured, and a facet that looks δ
    /// past the middle of a curve makes the ball smaller by up to the share δ, in radians.
    pub fn diameter(&self, triangle: u32, at_mm: Vec3, side: Side, most_mm: f64) -> Option<f64> {
        Some(self.touching(triangle, at_mm, side, most_mm)?.0)
    }

    /// The same, and what the ball touches on the other side.
    fn touching(
        &self,
        triangle: u32,
        at_mm: Vec3,
        side: Side,
        most_mm: f64,
    ) -> Option<(f64, Near)> {
        let outward = *self.normals.get(triangle as usize)?;
        let normal = if side == Side::Inside { scale(outward, -1.0) } else { outward };
        let faces = |other: u32| {
            self.normals.get(other as usize).is_some_and(|n| dot(*n, outward) <= FACING)
        };
        let mut radius = 0.5 * most_mm;
        let mut touched = None;
        for _ in 0..MOST_STEPS {
            let centre = add(at_mm, scale(normal, radius));
            let near = self.tree.nearest(self.mesh, centre, radius - EXACT_MM, faces);
            let Some(near) = near else { break };
            let way = sub(near.point_mm, at_mm);
            let (along, square) = (dot(way, normal), dot(way, way));
            if along <= 0.0 {
                break;
            }
            radius = (0.5 * square / along).min(radius);
            touched = Some(near);
            if 2.0 * radius < TOUCH_MM {
                break;
            }
        }
        Some((2.0 * radius, touched?)).filter(|(diameter, _)| *diameter < most_mm)
    }

    /// What is thinner than `limit_mm`, from one side. `None` if no more than [`SPECK_MM2`] is. Surfaces within the material of another solid,
    /// or within none, bound nothing and are left out, and so are surfaces that touch.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn thinner(
        &self,
        side: Side,
        limit_mm: f64,
        spacing: Spacing,
        progress: &Progress,
    ) -> Result<Option<Thin>, Cancelled> {
        const CHUNK: u32 = 64;
        let count = u32::try_from(self.mesh.triangles.len()).unwrap_or(u32::MAX);
        let spacing_mm = spacing.mm(self.mesh);
        let chunks = count.div_ceil(CHUNK);
        let found: Vec<Vec<Thin>> = (0..chunks)
            .into_par_iter()
            .map(|chunk| {
                progress.check()?;
                let mut thin = Vec::new();
                for triangle in chunk * CHUNK..count.min((chunk + 1) * CHUNK) {
                    for sample in samples::of(self.mesh, triangle, spacing_mm) {
                        thin.extend(self.thin(triangle, sample, side, limit_mm));
                    }
                }
                Ok(thin)
            })
            .collect::<Result<_, Cancelled>>()?;
        Ok(summed(found.concat()))
    }

    fn thin(&self, triangle: u32, sample: Sample, side: Side, limit_mm: f64) -> Option<Thin> {
        let (least_mm, other) = self.touching(triangle, sample.at_mm, side, limit_mm)?;
        let bounds = least_mm >= TOUCH_MM
            && self.is_boundary(triangle, sample.at_mm, least_mm)
            && self.is_boundary(other.triangle, other.point_mm, least_mm);
        bounds.then_some(Thin { least_mm, at_mm: sample.at_mm, area_mm2: sample.area_mm2 })
    }

    /// Whether there is material on the inner side of a point and none on the outer, close to it.
    fn is_boundary(&self, triangle: u32, at_mm: Vec3, size_mm: f64) -> bool {
        let step = scale(self.normals[triangle as usize], 1e-3 * size_mm);
        let winding = |p| self.tree.winding(self.mesh, p);
        winding(sub(at_mm, step)).is_some_and(|w| w != 0) && winding(add(at_mm, step)) == Some(0)
    }
}

/// All that is thin in one: the specks of the thinnest surface do not count.
fn summed(mut found: Vec<Thin>) -> Option<Thin> {
    let all_mm2 = found.iter().map(|thin| thin.area_mm2).sum();
    found.sort_by(|a, b| a.least_mm.total_cmp(&b.least_mm)); // stable
    let mut below_mm2 = 0.0;
    for Thin { least_mm, at_mm, area_mm2 } in found {
        below_mm2 += area_mm2;
        if below_mm2 >= SPECK_MM2 {
            return Some(Thin { least_mm, at_mm, area_mm2: all_mm2 });
        }
    }
    None
}
