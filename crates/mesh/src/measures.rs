//! Volume, area, centre of mass and bounding box of a mesh.

use crate::Mesh;
use base::vec3::{Vec3, add, cross, dot, length, scale, sub};
use serde::Serialize;

/// What can be measured of a mesh, part frame.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Measures {
    /// Enclosed volume, mm³; negative where the triangles face inwards. Overlapping solids count
    /// as often as they overlap. Of a mesh that is not closed, the volume of the cone over its
    /// triangles with its apex in the centre of the bounding box.
    pub volume_mm3: f64,
    /// Sum of the areas of the triangles, mm², whichever way they face.
    pub area_mm2: f64,
    /// Centre of mass at uniform density, mm; `None` if no volume is enclosed.
    pub centre_of_mass_mm: Option<[f64; 3]>,
    /// Smallest and largest coordinate of the corners of triangles, mm; vertices that no triangle
    /// uses do not count. `None` without triangles.
    pub bounds_mm: Option<([f64; 3], [f64; 3])>,
}

/// Measures a mesh. O(n).
///
/// Volume by the divergence theorem, `V = Σ a·(b × c) / 6` over the triangles, and the centre of
/// mass as the mean of the centroids of the tetrahedra, weighted by their signed volume. Positions
/// are taken relative to the centre of the bounding box, so that a part far from the origin loses
/// no digits.
///
/// Triangles with a corner that does not exist or is not finite are left out.
pub fn measures(mesh: &Mesh) -> Measures {
    let usable = || mesh.triangles.iter().filter_map(|t| usable_corners(mesh, *t));
    let mut sum = Sum::new(usable().flatten());
    usable().for_each(|corners| sum.add(corners));
    sum.finish()
}

/// The corners of a triangle, unless one does not exist or is not finite.
pub(crate) fn usable_corners(mesh: &Mesh, triangle: [u32; 3]) -> Option<[Vec3; 3]> {
    let corner = |v: u32| mesh.vertices.get(v as usize).filter(|p| p.iter().all(|c| c.is_finite()));
    let [a, b, c] = triangle;
    Some([*corner(a)?, *corner(b)?, *corner(c)?])
}

/// The running sums over triangles; serves whole meshes and single shells.
pub(crate) struct Sum {
    bounds: Option<(Vec3, Vec3)>,
    origin: Vec3,
    twice_area: f64,
    /// Six times the signed volume, and the same with every tetrahedron taken positive: the scale
    /// of the rounding error.
    six_volume: f64,
    six_volume_abs: f64,
    moment: Vec3,
    count: usize,
}

impl Sum {
    /// Takes all corners of the triangles to come, for the bounding box.
    pub(crate) fn new(mut corners: impl Iterator<Item = Vec3>) -> Self {
        let bounds = corners.next().map(|first| {
            corners.fold((first, first), |(mut lo, mut hi), p| {
                for k in 0..3 {
                    lo[k] = lo[k].min(p[k]);
                    hi[k] = hi[k].max(p[k]);
                }
                (lo, hi)
            })
        });
        let origin = bounds.map_or([0.0; 3], |(lo, hi)| base::vec3::midpoint(lo, hi));
        Self {
            bounds,
            origin,
            twice_area: 0.0,
            six_volume: 0.0,
            six_volume_abs: 0.0,
            moment: [0.0; 3],
            count: 0,
        }
    }

    pub(crate) fn add(&mut self, corners: [Vec3; 3]) {
        let [a, b, c] = corners.map(|p| sub(p, self.origin));
        self.twice_area += length(cross(sub(b, a), sub(c, a)));
        let six_volume = dot(a, cross(b, c));
        self.six_volume += six_volume;
        self.six_volume_abs += six_volume.abs();
        self.moment = add(self.moment, scale(add(add(a, b), c), six_volume));
        self.count += 1;
    }

    pub(crate) fn finish(&self) -> Measures {
        // A sum of n terms is off by less than n·ε times the sum of their magnitudes (Higham,
        // Accuracy and Stability of Numerical Algorithms, §4.2); each term adds a few ε of its own.
        let rounding = (self.count + 8) as f64 * f64::EPSILON * self.six_volume_abs;
        let centre = (self.six_volume.abs() > rounding)
            .then(|| add(self.origin, scale(self.moment, 0.25 / self.six_volume)))
            .filter(|centre| centre.iter().all(|c| c.is_finite()));
        Measures {
            volume_mm3: self.six_volume / 6.0,
            area_mm2: self.twice_area / 2.0,
            centre_of_mass_mm: centre,
            bounds_mm: self.bounds,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The corner tetrahedron of a cube of side `a`: volume a³/6, centre of mass at a/4.
    fn corner(a: f64, at: f64) -> Mesh {
        let vertices = [[0., 0., 0.], [a, 0., 0.], [0., a, 0.], [0., 0., a]];
        Mesh {
            vertices: vertices.map(|p| p.map(|c| c + at)).to_vec(),
            triangles: vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]],
        }
    }

    #[test]
    fn a_tetrahedron_is_measured_exactly_also_far_from_the_origin() {
        for at in [0.0, 1024.0] {
            let m = measures(&corner(4.0, at));
            assert!((m.volume_mm3 - 64.0 / 6.0).abs() < 1e-12, "{m:?}");
            assert!((m.area_mm2 - (24.0 + 8.0 * 3.0_f64.sqrt())).abs() < 1e-12);
            let centre = m.centre_of_mass_mm.unwrap();
            assert!(centre.iter().all(|c| (c - at - 1.0).abs() < 1e-9), "{centre:?}");
            assert_eq!(m.bounds_mm, Some(([at; 3], [at + 4.0; 3])));
        }
    }

    #[test]
    fn an_inside_out_mesh_has_the_opposite_volume_and_the_same_centre() {
        let mut mesh = corner(4.0, 3.0);
        let right = measures(&mesh);
        mesh.triangles.iter_mut().for_each(|t| t.reverse());
        let turned = measures(&mesh);
        assert!((right.volume_mm3 + turned.volume_mm3).abs() < 1e-12);
        let (p, q) = (right.centre_of_mass_mm.unwrap(), turned.centre_of_mass_mm.unwrap());
        assert!(length(sub(p, q)) < 1e-12);
    }

    #[test]
    fn what_encloses_nothing_has_no_centre_of_mass() {
        assert_eq!(measures(&Mesh::default()), Measures::default());
        let mut sheet = corner(1.0, 0.1);
        sheet.triangles = vec![[0, 1, 2], [0, 2, 1]];
        let m = measures(&sheet);
        assert_eq!(m.centre_of_mass_mm, None);
        assert!((m.area_mm2 - 1.0).abs() < 1e-15);
    }

    #[test]
    fn triangles_that_cannot_be_used_and_vertices_that_are_not_used_change_nothing() {
        let mut mesh = corner(4.0, 0.0);
        let clean = measures(&mesh);
        mesh.vertices.extend([[f64::NAN, 0.0, 0.0], [99.0; 3]]);
        mesh.triangles.extend([[0, 1, 4], [0, 1, 77]]);
        assert_eq!(measures(&mesh), clean);
    }
}
