//! The placements as the chamber sees them: posed, with their boxes and meshes, for one frame.

use super::stock::{Ready, Stock};
use crate::model::{Model, PlacementRef};
use crate::results::MeshState;
use base::Affine;
use glam::Vec3;
use job::Placement;
use mesh::distance::Posed;
use pipeline::LoadedMesh;
use render::Ray;
use std::collections::HashMap;
use std::sync::Arc;

/// A placement whose mesh is there.
pub(super) struct Actor {
    pub(super) at: PlacementRef,
    pub(super) placement: Placement,
    pub(super) loaded: Arc<LoadedMesh>,
    /// Drawn and picked from, once it is made ready.
    pub(super) ready: Option<Ready>,
    /// From part frame to build space.
    pub(super) pose: Affine,
    /// Its box in the build space, mm.
    pub(super) low: [f64; 3],
    pub(super) high: [f64; 3],
}

impl Actor {
    /// The corners of its box.
    pub(super) fn corners(&self) -> [Vec3; 8] {
        render::camera::corners(vec3(self.low), vec3(self.high))
    }

    /// Whether the health check found fault with its mesh.
    pub(super) fn is_faulty(&self) -> bool {
        !self.loaded.health.is_sound()
    }
}

/// In single precision.
pub(super) fn vec3(p: [f64; 3]) -> Vec3 {
    glam::DVec3::from(p).as_vec3()
}

/// In single precision, which is all that drawing and looking take.
#[expect(clippy::cast_possible_truncation, reason = "meant")]
pub(crate) fn single(value: f64) -> f32 {
    value as f32
}

/// In double precision.
pub(super) fn array(p: Vec3) -> [f64; 3] {
    p.as_dvec3().to_array()
}

/// A pose at the origin and half the extent of what it poses: what turning and scaling say, without
/// the place.
#[derive(Clone, Copy)]
struct Posture {
    pose: Affine,
    half: [f64; 3],
}

/// Mesh address, bits of turns and of scale. The stock keeps the mesh, so its address is its own.
type PostureKey = (usize, [u64; 3], [u64; 3]);

/// Postures computed so far: moving a heavy part must not walk its vertices again.
#[derive(Default)]
pub(super) struct Postures(HashMap<PostureKey, Posture>);

impl Postures {
    /// More than a job has, few enough to forget all when turning filled them up.
    const MOST: usize = 2048;

    fn of(&mut self, loaded: &Arc<LoadedMesh>, turns_deg: [f64; 3], scale: [f64; 3]) -> Posture {
        let key =
            (Arc::as_ptr(loaded).addr(), turns_deg.map(f64::to_bits), scale.map(f64::to_bits));
        if self.0.len() > Self::MOST {
            self.0.clear();
        }
        *self.0.entry(key).or_insert_with(|| {
            let vertices = &loaded.mesh.vertices;
            let placement = Placement { location_mm: [0.0; 3], turns_deg };
            let pose = placement.pose(vertices.iter().copied(), scale);
            let mut half = [0.0_f64; 3];
            for vertex in vertices {
                let p = pose.apply(*vertex);
                half = [0, 1, 2].map(|k| half[k].max(p[k].abs()));
            }
            Posture { pose, half }
        })
    }

    /// Half the extent of a mesh under these turns and scale, mm.
    pub(super) fn half_extent(
        &mut self,
        loaded: &Arc<LoadedMesh>,
        turns_deg: [f64; 3],
        scale: [f64; 3],
    ) -> [f64; 3] {
        self.of(loaded, turns_deg, scale).half
    }

    /// Forgets all: meshes came or went.
    pub(super) fn clear(&mut self) {
        self.0.clear();
    }
}

/// All placements of a frame.
#[derive(Default)]
pub(super) struct Stage {
    pub(super) actors: Vec<Actor>,
    /// Placements whose mesh is being read.
    pub(super) loading: usize,
    /// Placements whose mesh is not to be had, and where they would stand.
    pub(super) missing: Vec<(PlacementRef, [f64; 3])>,
}

impl Stage {
    pub(super) fn new(model: &Model, stock: &Stock, postures: &mut Postures) -> Self {
        let mut stage = Self::default();
        let Some(content) = model.content() else { return stage };
        for (at, placement) in model.placements() {
            let loaded = match model.mesh(at.part) {
                Some(MeshState::Ready(loaded)) if !loaded.mesh.triangles.is_empty() => loaded,
                Some(MeshState::Ready(_) | MeshState::Failed(_)) => {
                    stage.missing.push((at, placement.location_mm));
                    continue;
                }
                _ => {
                    stage.loading += 1;
                    continue;
                }
            };
            let scale = content.recipe_of(at.part).map_or([1.0; 3], job::Recipe::scale);
            let posture = postures.of(loaded, placement.turns_deg, scale);
            let location = placement.location_mm;
            stage.actors.push(Actor {
                at,
                placement,
                ready: stock.ready(loaded).cloned(),
                loaded: Arc::clone(loaded),
                pose: Affine::translation(location) * posture.pose,
                low: [0, 1, 2].map(|k| location[k] - posture.half[k]),
                high: [0, 1, 2].map(|k| location[k] + posture.half[k]),
            });
        }
        stage
    }

    /// The placement of this reference, if its mesh is there.
    pub(super) fn actor(&self, at: PlacementRef) -> Option<&Actor> {
        self.actors.iter().find(|actor| actor.at == at)
    }

    /// The chosen ones whose meshes are there.
    pub(super) fn chosen<'a>(&'a self, model: &'a Model) -> impl Iterator<Item = &'a Actor> {
        self.actors.iter().filter(|actor| model.selection.contains(&actor.at))
    }

    /// A box around some placements, mm.
    pub(super) fn bounds<'a>(actors: impl Iterator<Item = &'a Actor>) -> Option<(Vec3, Vec3)> {
        actors
            .map(|actor| (vec3(actor.low), vec3(actor.high)))
            .reduce(|(low, high), (l, h)| (low.min(l), high.max(h)))
    }

    /// The first surface along a ray that is not cut away.
    pub(super) fn pick(&self, ray: &Ray, section_mm: Option<f64>) -> Option<Picked> {
        let mut best: Option<Picked> = None;
        let mut reached: Vec<(f32, &Actor)> = self
            .actors
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
        for (entry, actor) in reached {
            if best.as_ref().is_some_and(|b| entry > b.along_mm) {
                break;
            }
            let Some(ready) = &actor.ready else { continue };
            let posed = Posed { surface: &ready.surface, pose: actor.pose };
            let Some(hit) = posed.first_hit(array(origin), array(ray.direction)) else { continue };
            let point = origin + ray.direction * single(hit.along);
            if section_mm.is_some_and(|z| f64::from(point.z) > z + 1e-3) {
                continue;
            }
            let along_mm = ray.origin.distance(point);
            if best.as_ref().is_none_or(|b| along_mm < b.along_mm) {
                best = Some(Picked { at: actor.at, triangle: hit.triangle, point, along_mm });
            }
        }
        best
    }
}

/// What lies under the pointer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Picked {
    pub(super) at: PlacementRef,
    /// Of the mesh.
    pub(super) triangle: u32,
    /// mm, build space.
    pub(super) point: Vec3,
    /// Distance from the start of the ray, mm.
    pub(super) along_mm: f32,
}
