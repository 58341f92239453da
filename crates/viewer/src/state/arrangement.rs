//! The placements as they stand: posed, with their boxes and meshes. Made anew when the document
//! changes; what takes time is kept from one revision to the next.

use crate::state::document::Document;
use crate::state::results::{MeshState, Results};
use base::{Affine, PlacementId};
use glam::Vec3;
use job::Placement;
use pipeline::LoadedMesh;
use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

/// A placement whose mesh is there.
pub(crate) struct PosedPlacement {
    pub(crate) at: PlacementId,
    pub(crate) placement: Placement,
    pub(crate) loaded: Arc<LoadedMesh>,
    /// Factors along X, Y, Z against shrinkage.
    pub(crate) scale: [f64; 3],
    /// From part frame to build space.
    pub(crate) pose: Affine,
    /// Its box in the build space, mm.
    pub(crate) low: [f64; 3],
    pub(crate) high: [f64; 3],
}

impl PosedPlacement {
    /// The corners of its box.
    pub(crate) fn corners(&self) -> [Vec3; 8] {
        render::camera::corners(vec3(self.low), vec3(self.high))
    }

    /// Whether the health check found fault with its mesh.
    pub(crate) fn is_faulty(&self) -> bool {
        !self.loaded.health.is_sound()
    }
}

/// In single precision.
pub(crate) fn vec3(p: [f64; 3]) -> Vec3 {
    glam::DVec3::from(p).as_vec3()
}

/// In single precision, which is all that drawing and looking take.
#[expect(clippy::cast_possible_truncation, reason = "meant")]
pub(crate) fn single(value: f64) -> f32 {
    value as f32
}

/// In double precision.
pub(crate) fn array(p: Vec3) -> [f64; 3] {
    p.as_dvec3().to_array()
}

/// A mesh rotated and scaled, with the middle of its box at the origin.
#[derive(Clone, Copy)]
struct CentredPose {
    pose: Affine,
    /// Half the size of its box, mm.
    half: [f64; 3],
}

/// Address of the mesh, bits of angles and of scale. The model keeps the mesh, so its address is its
/// own.
type PoseKey = (usize, [u64; 3], [u64; 3]);

/// Poses computed so far: moving a heavy part must not walk its vertices again.
#[derive(Default)]
struct PoseCache(HashMap<PoseKey, CentredPose>);

impl PoseCache {
    /// More than a job has, few enough to forget all when rotating has filled them up.
    const MOST: usize = 2048;

    fn of(
        &mut self,
        loaded: &Arc<LoadedMesh>,
        rotation_deg: [f64; 3],
        scale: [f64; 3],
    ) -> CentredPose {
        let key =
            (Arc::as_ptr(loaded).addr(), rotation_deg.map(f64::to_bits), scale.map(f64::to_bits));
        if self.0.len() > Self::MOST {
            self.0.clear();
        }
        *self.0.entry(key).or_insert_with(|| centred_pose(loaded, rotation_deg, scale))
    }
}

fn centred_pose(loaded: &LoadedMesh, rotation_deg: [f64; 3], scale: [f64; 3]) -> CentredPose {
    let vertices = &loaded.mesh.vertices;
    let placement = Placement { location_mm: [0.0; 3], rotation_deg };
    let pose = placement.pose(vertices.iter().copied(), scale);
    let mut half = [0.0_f64; 3];
    for vertex in vertices {
        let p = pose.apply(*vertex);
        half = [0, 1, 2].map(|k| half[k].max(p[k].abs()));
    }
    CentredPose { pose, half }
}

/// Half the size of the box of a mesh under these angles and scale, mm.
pub(crate) fn half_extent(
    loaded: &LoadedMesh,
    rotation_deg: [f64; 3],
    scale: [f64; 3],
) -> [f64; 3] {
    centred_pose(loaded, rotation_deg, scale).half
}

/// Revision of the model, generation of its meshes, how many of them are there or have failed.
#[derive(Clone, Copy, PartialEq)]
struct Seen {
    revision: u64,
    generation: u64,
    meshes: [usize; 2],
}

/// All placements of a revision.
#[derive(Default)]
pub(crate) struct Arrangement {
    pub(crate) placed: Vec<PosedPlacement>,
    /// Placements whose mesh is being read.
    pub(crate) loading: usize,
    /// Placements whose mesh is not to be had, and where they would stand.
    pub(crate) missing: Vec<(PlacementId, [f64; 3])>,
    poses: PoseCache,
    /// What this was made from.
    seen: Option<Seen>,
}

impl Arrangement {
    /// Brings the arrangement up to what the document says; whatever took time is kept.
    pub(crate) fn update(&mut self, document: Option<&Document>, results: &Results) {
        let count =
            |is: fn(&MeshState) -> bool| results.meshes.values().filter(|mesh| is(mesh)).count();
        let meshes = [
            count(|mesh| matches!(mesh, MeshState::Ready(_))),
            count(|mesh| matches!(mesh, MeshState::Failed(_))),
        ];
        let revision = results.generation + document.map_or(0, Document::revision);
        let now = Seen { revision, generation: results.generation, meshes };
        if self.seen == Some(now) {
            return;
        }
        let alike = |seen: Seen| seen.generation == now.generation && seen.meshes == now.meshes;
        if !self.seen.is_some_and(alike) {
            self.poses.0.clear(); // a mesh that came may lie where another was
        }
        self.fill(document, results);
        self.seen = Some(now);
    }

    fn fill(&mut self, document: Option<&Document>, results: &Results) {
        self.placed.clear();
        self.missing.clear();
        self.loading = 0;
        let Some(content) = document.map(Document::content) else { return };
        for (at, &placement) in content.job.placements() {
            let mesh = content.job.parts.get(at.part).and_then(|part| results.mesh(part));
            let loaded = match mesh {
                Some(MeshState::Ready(loaded)) if !loaded.mesh.triangles.is_empty() => loaded,
                Some(MeshState::Ready(_) | MeshState::Failed(_)) => {
                    self.missing.push((at, placement.location_mm));
                    continue;
                }
                _ => {
                    self.loading += 1;
                    continue;
                }
            };
            let scale = content.recipe_of(at.part).map_or([1.0; 3], job::Recipe::scale);
            let centred = self.poses.of(loaded, placement.rotation_deg, scale);
            let location = placement.location_mm;
            self.placed.push(PosedPlacement {
                at,
                placement,
                loaded: Arc::clone(loaded),
                scale,
                pose: Affine::translation(location) * centred.pose,
                low: [0, 1, 2].map(|k| location[k] - centred.half[k]),
                high: [0, 1, 2].map(|k| location[k] + centred.half[k]),
            });
        }
    }

    /// The placement of this reference, if its mesh is there.
    pub(crate) fn placement(&self, at: PlacementId) -> Option<&PosedPlacement> {
        self.placed.iter().find(|placed| placed.at == at)
    }

    /// The selected ones whose meshes are there.
    pub(crate) fn selected<'a>(
        &'a self,
        selection: &'a BTreeSet<PlacementId>,
    ) -> impl Iterator<Item = &'a PosedPlacement> {
        self.placed.iter().filter(|placed| selection.contains(&placed.at))
    }

    /// A box around some placements, mm.
    pub(crate) fn bounds<'a>(
        placed: impl Iterator<Item = &'a PosedPlacement>,
    ) -> Option<(Vec3, Vec3)> {
        placed
            .map(|placed| (vec3(placed.low), vec3(placed.high)))
            .reduce(|(low, high), (l, h)| (low.min(l), high.max(h)))
    }
}
