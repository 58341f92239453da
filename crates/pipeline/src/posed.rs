//! Placements, posed in the build space and indexed by layer.

use crate::load::LoadedMesh;
use base::{Affine, PlacementId, Progress};
use job::{Placement, Recipe};
use mesh::Mesh;
use slicing::{Slicer, SlicingError};
use std::sync::Arc;

/// One placement, posed in the build space and indexed by layer.
pub(crate) struct Placed {
    pub(crate) id: PlacementId,
    pub(crate) recipe: usize,
    pub(crate) posed: Arc<Posed>,
    /// Layers that the laser may not reach down into, below every overhang.
    pub(crate) growth_layers: u32,
}

/// What is dear to make, and depends on nothing but these four: mesh, placement, scale, layers.
pub(crate) struct Posed {
    mesh: Arc<LoadedMesh>,
    placement: Placement,
    scale: [f64; 3],
    thickness_mm: f64,
    /// From part to build space.
    pub(crate) pose: Affine,
    /// Smallest and largest corner, mm.
    pub(crate) bounds_mm: ([f64; 3], [f64; 3]),
    pub(crate) slicer: Slicer,
}

impl Posed {
    /// Poses a mesh and indexes it by layer. `None` for a mesh without vertices.
    pub(crate) fn new(
        mesh: &Arc<LoadedMesh>,
        placement: &Placement,
        recipe: &Recipe,
        progress: &Progress,
    ) -> Result<Option<Self>, SlicingError> {
        let (scale, thickness_mm) = (recipe.scale(), recipe.layer_thickness_mm);
        let pose = placement.pose(mesh.mesh.vertices.iter().copied(), scale);
        let Some(bounds_mm) = bounds_under(&mesh.mesh, &pose) else { return Ok(None) };
        let slicer = Slicer::new(&mesh.mesh, &mesh.topology, &pose, thickness_mm, progress)?;
        let (mesh, placement) = (Arc::clone(mesh), *placement);
        Ok(Some(Self { mesh, placement, scale, thickness_mm, pose, bounds_mm, slicer }))
    }

    /// Whether it is what [`Self::new`] would make.
    pub(crate) fn is_of(
        &self,
        mesh: &Arc<LoadedMesh>,
        placement: &Placement,
        scale: [f64; 3],
        t_mm: f64,
    ) -> bool {
        let bits = |v: [f64; 3]| v.map(f64::to_bits);
        Arc::ptr_eq(&self.mesh, mesh)
            && self.placement == *placement
            && bits(self.scale) == bits(scale)
            && self.thickness_mm.to_bits() == t_mm.to_bits()
    }
}

/// Smallest and largest coordinate of a mesh after an affine map, mm.
pub(crate) fn bounds_under(mesh: &Mesh, map: &Affine) -> Option<([f64; 3], [f64; 3])> {
    let mut bounds: Option<([f64; 3], [f64; 3])> = None;
    for vertex in &mesh.vertices {
        let p = map.apply(*vertex);
        let (low, high) = bounds.get_or_insert((p, p));
        for k in 0..3 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    bounds
}
