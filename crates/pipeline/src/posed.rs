//! Placements, posed in the build space and indexed by layer.
//!
//! Copies in the same orientation that stand whole nanometres and whole layers apart share what is posed:
//! it is made near the origin, and moved. All placements are posed so, those without copies too; hence a
//! part has the same sections wherever it stands.

use crate::load::LoadedMesh;
use base::{Affine, GRID_LIMIT_NM, NM_PER_MM, PlacementId, Progress};
use job::{Placement, Recipe};
use mesh::Mesh;
use slicing::{Slicer, SlicingError};
use std::collections::BTreeMap;
use std::sync::Arc;

/// One placement, posed in the build space and indexed by layer.
pub(crate) struct Placed {
    pub(crate) id: PlacementId,
    pub(crate) recipe: usize,
    pub(crate) posed: Arc<Posed>,
    /// Layers that the laser may not reach down into, below every overhang.
    pub(crate) growth_layers: u32,
    /// Row of the first placement that has the same sections, but for a way in the plane, and the same recipe.
    pub(crate) like: usize,
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
    shape: Option<Shape>,
}

/// What copies have in common that share what is posed: the mesh by its address, then the bits of
/// rotation, scale, layer thickness and of what is left of the location.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Shape {
    mesh: usize,
    numbers: [u64; 10],
}

/// What is posed already.
pub(crate) type Shapes = BTreeMap<Shape, Slicer>;

/// A location in whole nm and layers, and what is left.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Location {
    plane_nm: [i32; 2],
    layers: i32,
    rest_mm: [f64; 3],
}

impl Location {
    /// `None` if it is far off the grid.
    fn new(mm: [f64; 3], thickness_mm: f64) -> Option<Self> {
        let [(x, rest_x), (y, rest_y)] = [whole(mm[0], 1.0)?, whole(mm[1], 1.0)?];
        let (layers, rest_z) = whole(mm[2], thickness_mm * NM_PER_MM)?;
        Some(Self { plane_nm: [x, y], layers, rest_mm: [rest_x, rest_y, rest_z] })
    }
}

/// A length in whole steps, to the nearest, and what is left, mm. That is rounded to 2⁻²⁰ nm, as fine as
/// sections tell places apart: a decimal fraction is then no other in the next layer.
fn whole(mm: f64, step_nm: f64) -> Option<(i32, f64)> {
    const FINENESS: f64 = (1_u32 << 20) as f64;
    let nm = mm * NM_PER_MM;
    let steps = (nm / step_nm).round();
    let is_on_grid = steps.abs() < f64::from(GRID_LIMIT_NM); // NaN is not
    if !is_on_grid {
        return None;
    }
    let rest_nm = ((nm - steps * step_nm) * FINENESS).round() / FINENESS;
    #[expect(clippy::cast_possible_truncation, reason = "checked above")]
    let steps = steps as i32;
    Some((steps, rest_nm / NM_PER_MM + 0.0)) // no negative zero
}

impl Posed {
    /// Poses a mesh and indexes it by layer, or moves what is in `shapes`, to which what is new is added.
    /// `None` for a mesh without vertices.
    pub(crate) fn new(
        mesh: &Arc<LoadedMesh>,
        placement: &Placement,
        recipe: &Recipe,
        shapes: &mut Shapes,
        progress: &Progress,
    ) -> Result<Option<Self>, SlicingError> {
        let (scale, thickness_mm) = (recipe.scale(), recipe.layer_thickness_mm);
        let pose = placement.pose(mesh.mesh.vertices.iter().copied(), scale);
        let Some(bounds_mm) = bounds_under(&mesh.mesh, &pose) else { return Ok(None) };
        let location = Location::new(placement.location_mm, thickness_mm);
        let shared = location
            .map(|location| shared_slicer(mesh, (placement, location), recipe, shapes, progress));
        let (slicer, shape) = match shared {
            Some(Ok((slicer, shape))) => (slicer, Some(shape)),
            Some(Err(cancelled @ SlicingError::Cancelled(_))) => return Err(cancelled),
            // what leaves the grid is told in its own place
            Some(Err(_)) | None => {
                let (mesh, topology) = (&mesh.mesh, &mesh.topology);
                (Slicer::new(mesh, topology, &pose, thickness_mm, progress)?, None)
            }
        };
        let (mesh, placement) = (Arc::clone(mesh), *placement);
        Ok(Some(Self { mesh, placement, scale, thickness_mm, pose, bounds_mm, slicer, shape }))
    }

    /// What it has in common with copies, and how many layers up from there it stands; `None` if it shares nothing.
    pub(crate) fn shape_and_lift(&self) -> Option<(Shape, i32)> {
        let (_, lift) = self.slicer.moved_by();
        self.shape.map(|shape| (shape, lift))
    }

    /// Lets copies share what this one is made of.
    pub(crate) fn share(&self, shapes: &mut Shapes) {
        if let Some(shape) = self.shape {
            shapes.entry(shape).or_insert_with(|| self.slicer.clone());
        }
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

/// A copy's slicer, from that of another copy if there is one.
fn shared_slicer(
    mesh: &Arc<LoadedMesh>,
    (placement, location): (&Placement, Location),
    recipe: &Recipe,
    shapes: &mut Shapes,
    progress: &Progress,
) -> Result<(Slicer, Shape), SlicingError> {
    let (scale, thickness_mm) = (recipe.scale(), recipe.layer_thickness_mm);
    let numbers = placement.rotation_deg.into_iter().chain(scale).chain([thickness_mm]);
    let mut shape = Shape { mesh: Arc::as_ptr(mesh).addr(), numbers: [0; 10] };
    for (kept, number) in shape.numbers.iter_mut().zip(numbers.chain(location.rest_mm)) {
        *kept = number.to_bits();
    }
    let known = shapes.get(&shape).cloned();
    let slicer = known.map_or_else(
        || {
            let near = Placement { location_mm: location.rest_mm, ..*placement };
            let pose = near.pose(mesh.mesh.vertices.iter().copied(), scale);
            Slicer::new(&mesh.mesh, &mesh.topology, &pose, thickness_mm, progress)
        },
        Ok,
    )?;
    let ([x, y], up) = slicer.moved_by();
    let [to_x, to_y] = location.plane_nm;
    let moved = slicer.moved(to_x - x, to_y - y, location.layers - up)?;
    shapes.entry(shape).or_insert(slicer);
    Ok((moved, shape))
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Places typed in decimals are whole, whatever is above the point; others keep what is left.
    #[test]
    fn locations_are_whole_nanometres_and_layers_and_a_rest() {
        for (z, layers) in [(0.3, 3), (12.7, 127), (99.9, 999), (-0.1, -1)] {
            let location = Location::new([4.1, -56.000_001, z], 0.1).unwrap();
            let plane_nm = [4_100_000, -56_000_001];
            assert_eq!(location, Location { plane_nm, layers, rest_mm: [0.0; 3] }, "{z}");
        }
        let [a, b] = [3.03, 17.53].map(|z| Location::new([0.000_000_25, 0.0, z], 0.1).unwrap());
        assert_eq!(a.rest_mm.map(f64::to_bits), b.rest_mm.map(f64::to_bits));
        assert!((a.rest_mm[0] - 2.5e-7).abs() < 1e-12 && (a.rest_mm[2] - 0.03).abs() < 1e-12);
        assert!(Location::new([f64::NAN, 0.0, 0.0], 0.1).is_none());
        assert!(Location::new([1e9, 0.0, 0.0], 0.1).is_none());
    }
}
