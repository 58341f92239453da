//! What lies under the pointer.

use super::mesh_cache::MeshCache;
use crate::state::arrangement::{Arrangement, PosedPlacement, array, single, vec3};
use base::PlacementId;
use glam::Vec3;
use mesh::distance::Posed;
use render::Ray;

/// What lies under the pointer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Picked {
    pub(super) at: PlacementId,
    /// Of the mesh.
    pub(super) triangle: u32,
    /// mm, build space.
    pub(super) point: Vec3,
    /// Distance from the start of the ray, mm.
    pub(super) along_mm: f32,
}

impl MeshCache {
    /// The first surface along a ray that is not cut away.
    pub(super) fn pick(
        &self,
        arrangement: &Arrangement,
        ray: &Ray,
        section_mm: Option<f64>,
    ) -> Option<Picked> {
        let mut best: Option<Picked> = None;
        let mut reached: Vec<(f32, &PosedPlacement)> = arrangement
            .placed
            .iter()
            .filter_map(|a| Some((ray.through_box(vec3(a.low), vec3(a.high))?[0], a)))
            .collect();
        reached.sort_by(|a, b| a.0.total_cmp(&b.0));
        // What is cut away begins at the plane: start there when looking down through it.
        let ray_start = section_mm.and_then(|z| {
            let above = f64::from(ray.origin.z) > z;
            above.then(|| ray.at_height(single(z))).flatten()
        });
        let origin = ray_start.unwrap_or(ray.origin);
        for (entry, placed) in reached {
            if best.as_ref().is_some_and(|b| entry > b.along_mm) {
                break;
            }
            let Some(cached) = self.cached(&placed.loaded) else { continue };
            let posed = Posed { surface: cached.solid.surface(), pose: placed.pose };
            let Some(hit) = posed.first_hit(array(origin), array(ray.direction)) else { continue };
            let point = origin + ray.direction * single(hit.along);
            if section_mm.is_some_and(|z| f64::from(point.z) > z + 1e-3) {
                continue;
            }
            let along_mm = ray.origin.distance(point);
            if best.as_ref().is_none_or(|b| along_mm < b.along_mm) {
                best = Some(Picked { at: placed.at, triangle: hit.triangle, point, along_mm });
            }
        }
        best
    }
}
