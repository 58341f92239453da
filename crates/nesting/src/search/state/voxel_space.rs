//! The room and all items as voxels of one size.

use super::occupancy::MAX_WORDS;
use crate::model::{Item, Locked, Space};
use crate::search::passes::Pass;
use crate::search::voxels::mask::{VoxelPos, signed};
use crate::search::voxels::resolution::{Resolution, Rounding};
use crate::search::voxels::shape::{Shape, locked_shape, shapes_of};
use crate::search::voxels::voxelise::ROUNDING;
use base::{Affine, Cancelled, Progress};

/// Most voxels along an axis: a probe has 16 bits for each coordinate.
const MAX_VOXELS: f64 = 65_535.0;

/// The items as voxels of one size, and the room for them. It does not change during a search.
pub(crate) struct VoxelSpace {
    pub(crate) voxel_mm: f64,
    pub(crate) rounding: Rounding,
    /// The room is the build space less the clearance to the walls, wider where masks hold a margin. Its
    /// lowest corner, build space, and its size, mm.
    pub(crate) origin: [f64; 3],
    pub(crate) room_mm: [f64; 3],
    /// Voxels that cover the room.
    pub(super) dims: [usize; 3],
    /// Per item the shapes that fit the room.
    pub(crate) shapes: Vec<Vec<Shape>>,
    /// The placements that stay where they are.
    pub(super) locked: Vec<(Shape, VoxelPos)>,
    /// Ends the search for a place in the middle.
    pub(super) progress: Progress,
}

/// Where a copy lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct VoxelPlacement {
    /// Index into the copies to place.
    pub(crate) copy_index: usize,
    pub(crate) item: usize,
    /// Index into the item's shapes.
    pub(crate) shape: usize,
    pub(crate) at: VoxelPos,
    /// From there to where exact distances have put it, mm; `None` if they have not.
    pub(crate) offset_mm: Option<[f64; 3]>,
}

impl VoxelSpace {
    /// Makes the shapes of all items and of what is locked. Advances `progress` by one per item.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub(crate) fn new(
        items: &[Item],
        locked: &[Locked],
        space: &Space,
        pass: Pass,
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let Pass { voxel_mm, rounding } = pass;
        let resolution = Resolution { voxel_mm, rounding, clearance_mm: space.clearance_mm };
        // As far as a mask reaches beyond its part, it may reach beyond the room.
        let (origin, room) = space.room();
        let margin = resolution.margin_mm();
        let origin = origin.map(|c| c - margin);
        let room_mm = room.map(|c| c + 2.0 * margin);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let dims =
            room_mm.map(|r| (r / voxel_mm - ROUNDING).ceil().clamp(1.0, MAX_VOXELS) as usize);
        let mut shapes = Vec::with_capacity(items.len());
        for item in items {
            shapes.push(shapes_of(item, &resolution, room_mm, progress)?);
            progress.advance(1)?;
        }
        let locked_one = |l: &Locked| {
            progress.check()?;
            Ok(locked_shape(&items[l.item], &l.pose, &resolution, origin))
        };
        let locked = locked.iter().map(locked_one).collect::<Result<_, Cancelled>>()?;
        let progress = progress.clone();
        let dims = [dims[0].min(64 * MAX_WORDS), dims[1], dims[2]];
        Ok(Self { voxel_mm, rounding, origin, room_mm, dims, shapes, locked, progress })
    }

    /// Whole voxels that the room holds per axis.
    pub(crate) fn whole_voxels(&self) -> [usize; 3] {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "below dims")]
        self.room_mm.map(|r| (r / self.voxel_mm + ROUNDING).floor() as usize)
    }

    /// Height of the room, voxels.
    pub(crate) fn height(&self) -> i32 {
        signed(self.dims[2])
    }

    pub(crate) fn shape(&self, placement: &VoxelPlacement) -> &Shape {
        &self.shapes[placement.item][placement.shape]
    }

    /// Build space from part frame, mm.
    pub(crate) fn pose(&self, placement: &VoxelPlacement) -> Affine {
        let offset_mm = placement.offset_mm.unwrap_or_default();
        let move_mm = [0, 1, 2]
            .map(|k| self.origin[k] + f64::from(placement.at[k]) * self.voxel_mm + offset_mm[k]);
        Affine::translation(move_mm) * self.shape(placement).from_part
    }
}
