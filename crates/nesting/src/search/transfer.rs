//! Takes placements from one resolution to another, or to where exact distances have put them.

use super::state::build::BuildState;
use super::state::voxel_space::{VoxelPlacement, VoxelSpace};
use super::voxels::resolution::Rounding;

/// The same placement on the voxels of `to`, moved by `by_mm` on the way. Whether it is free there is
/// not asked. `None` if its orientation does not fit the room there.
pub(crate) fn transferred(
    from: &BuildState,
    to: &VoxelSpace,
    placement: &VoxelPlacement,
    by_mm: [f64; 3],
) -> Option<VoxelPlacement> {
    let old = from.space.shape(placement);
    let orientation = old.orientations.first()?;
    let shapes = &to.shapes[placement.item];
    let shape = shapes.iter().position(|s| s.orientations.contains(orientation))?;
    let new = &shapes[shape];
    let last = new.last_position(to.room_mm, to.voxel_mm);
    let (mut at, mut offset_mm) = ([0; 3], [0.0; 3]);
    for k in 0..3 {
        // Where a symmetric part has the mask of another orientation, its masks start at the same place,
        // but the moves from the part frame differ and must not be compared.
        let shift = if new.orientations.first() == Some(orientation) {
            old.from_part.rows[k][3] - new.from_part.rows[k][3]
        } else {
            0.0
        };
        let offset = placement.offset_mm.unwrap_or_default()[k];
        let from_mm = f64::from(placement.at[k]) * from.space.voxel_mm + offset;
        let moved = from_mm + shift + by_mm[k];
        #[expect(clippy::cast_possible_truncation, reason = "within the room")]
        let voxels = (moved / to.voxel_mm).round() as i32;
        at[k] = voxels.clamp(0, last[k].max(0));
        offset_mm[k] = moved - f64::from(at[k]) * to.voxel_mm;
    }
    // Conservative voxels guarantee clearance only at whole voxel positions, so no offset is kept.
    let offset_mm = (to.rounding == Rounding::Nearest).then_some(offset_mm);
    Some(VoxelPlacement { shape, at, offset_mm, ..*placement })
}
