//! What makes a position a good one.

use crate::search::voxels::mask::VoxelPos;
use crate::search::voxels::shape::Shape;

/// Scores are counted in fractions of a voxel: so many make one.
const FRACTIONS: i64 = 16;

/// Which positions are allowed for a copy, and which of them is the best.
#[derive(Clone, Copy, Debug)]
pub(crate) struct PlacementRule {
    /// The copy may not reach above this height, voxels.
    pub(crate) max_top: i32,
    /// Least height of its bottom, voxels.
    pub(crate) min_bottom: i32,
    /// The score is the height of the bottom plus this many 16ths of the height of the part: with 16 the
    /// lowest top wins, with less a tall part that stands low wins over a flat one that lies higher.
    pub(crate) height_weight: i64,
    /// Of equally low positions, whether to prefer the right to the left, and the back to the front.
    pub(crate) prefer_right: bool,
    pub(crate) prefer_back: bool,
    /// The score must not be more than this, 16ths of a voxel.
    pub(crate) max_score: i64,
}

impl PlacementRule {
    /// The lowest top below a height wins.
    pub(crate) fn lowest_top(max_top: i32) -> Self {
        Self {
            max_top,
            min_bottom: 0,
            height_weight: FRACTIONS,
            prefer_right: false,
            prefer_back: false,
            max_score: i64::MAX,
        }
    }

    /// The lowest top below that of a copy that is to come down.
    pub(crate) fn below_top(top: i32) -> Self {
        Self { max_score: FRACTIONS * i64::from(top) - 1, ..Self::lowest_top(top) }
    }

    /// What a position counts, 16ths of a voxel, the less the better.
    pub(super) fn score(&self, shape: &Shape, at: VoxelPos) -> i64 {
        FRACTIONS * i64::from(at[2]) + self.height_weight * i64::from(shape.height())
    }

    /// The highest bottom of a shape that scores no more than `max_score`.
    pub(super) fn highest_bottom(&self, shape: &Shape, max_score: i64) -> i32 {
        let score = max_score.saturating_sub(self.height_weight * i64::from(shape.height()));
        let by_score = i32::try_from(score.div_euclid(FRACTIONS)).unwrap_or(i32::MAX);
        by_score.min(self.max_top.saturating_sub(shape.height()))
    }
}
