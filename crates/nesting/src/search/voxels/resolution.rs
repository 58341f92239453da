//! How large voxels are, and how a part is rounded to them.

use super::mask::{Mask, padding};
use super::voxelise::{fill_hollows, voxelise, voxels_along};
use base::vec3::Vec3;

/// The fine voxels that [`voxelise`] sets hold, on average, a part that is larger by so much on every
/// side, in edges of fine voxels, because every voxel that is met is set. It is taken off again. With
/// less the distances come out too large on average and density is lost, with more too many parts
/// come out too near and have to be moved apart. Found by trial.
const VOXELISATION_OVERSIZE: f64 = 0.9;

/// Fine voxels per voxel and axis for rounding to nearest; odd, so that one of them has the same middle.
/// With more the rounding is more precise, and the time grows with the third power. By taste.
const SUBDIVISION: usize = 3;

/// Which voxels a part takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rounding {
    /// All that the part meets; and all that come nearer to it than the clearance are kept free of other
    /// parts. What fits by voxels fits in fact.
    Conservative,
    /// Those whose middle is within half the clearance of the part. Distances come out right on
    /// average, some of them too small: [`crate::exact::separation`] puts these right.
    Nearest,
}

/// How parts turn into voxels.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Resolution {
    /// Edge of a voxel, mm.
    pub(crate) voxel_mm: f64,
    pub(crate) rounding: Rounding,
    /// Least distance between parts, mm.
    pub(crate) clearance_mm: f64,
}

impl Resolution {
    /// How far the mask of a part reaches beyond it on every side, mm.
    pub(crate) fn margin_mm(&self) -> f64 {
        match self.rounding {
            Rounding::Conservative => 0.0,
            Rounding::Nearest => 0.5 * self.clearance_mm,
        }
    }

    /// How far around a mask no other mask may lie, voxel edges.
    pub(super) fn keep_out_reach(&self) -> f64 {
        match self.rounding {
            Rounding::Conservative => self.clearance_mm / self.voxel_mm,
            Rounding::Nearest => 0.0,
        }
    }

    /// The voxels of a part, from `start` to `end` or a little beyond; and, where they hold a margin, the
    /// voxels that the part itself meets.
    pub(super) fn masks(
        &self,
        corners: &[[Vec3; 3]],
        start: Vec3,
        end: Vec3,
    ) -> (Mask, Option<Mask>) {
        let met = voxelise(corners, start, end, self.voxel_mm);
        match self.rounding {
            Rounding::Conservative => (met, None),
            Rounding::Nearest => (self.nearest_mask(corners, start, end), Some(met)),
        }
    }

    fn nearest_mask(&self, corners: &[[Vec3; 3]], start: Vec3, end: Vec3) -> Mask {
        let fine_mm = self.voxel_mm / SUBDIVISION as f64;
        let dims = [0, 1, 2].map(|k| voxels_along(end[k] - start[k], self.voxel_mm));
        let end = [0, 1, 2].map(|k| start[k] + dims[k] as f64 * self.voxel_mm);
        let reach = (self.margin_mm() / fine_mm - VOXELISATION_OVERSIZE).max(0.0);
        let near = voxelise(corners, start, end, fine_mm).dilated(reach);
        let middle = padding(reach) + SUBDIVISION / 2;
        let mut mask = Mask::new(dims);
        for z in 0..dims[2] {
            for y in 0..dims[1] {
                for x in 0..dims[0] {
                    if near.get([x, y, z].map(|c| middle + SUBDIVISION * c)) {
                        mask.set([x, y, z]);
                    }
                }
            }
        }
        fill_hollows(&mut mask);
        mask
    }
}
