//! Which rows of positions of a shape may still hold a free one.
//!
//! Most of a search goes into finding out that rows of positions are blocked. A row that was found blocked
//! stays blocked until voxels near it become free, so that nothing is tested twice. [`FreedLog`] lists
//! the boxes in which voxels became free; every shape works through it when it is next looked at.

use crate::search::voxels::mask::{VoxelPos, signed};
use crate::search::voxels::shape::Shape;

/// Rows of positions of one shape, each with a bit over y, then z: set while the row may hold a free
/// position.
#[derive(Clone, Debug)]
pub(crate) struct CandidateRows {
    /// Words per plane of equal z.
    pub(super) words: usize,
    pub(super) rows: Vec<u64>,
    /// The last position that keeps the part itself within the room.
    pub(super) last: VoxelPos,
    /// How many boxes of the log are taken into account.
    seen: usize,
    /// The rows as they were at the log's snapshot, if they have been looked at since.
    at_snapshot: Option<Vec<u64>>,
}

/// The boxes in which voxels became free, from, to (exclusive), in order.
#[derive(Clone, Debug, Default)]
pub(crate) struct FreedLog {
    boxes: Vec<(VoxelPos, VoxelPos)>,
    /// How many boxes there were at the last snapshot.
    snapshot_len: usize,
    /// Snapshots taken so far.
    snapshots: usize,
}

impl FreedLog {
    pub(super) fn push(&mut self, freed: (VoxelPos, VoxelPos)) {
        self.boxes.push(freed);
    }

    /// Takes a snapshot of all rows, in place of any earlier one; returns its number.
    pub(super) fn snapshot<'a>(
        &mut self,
        all_rows: impl Iterator<Item = &'a mut CandidateRows>,
    ) -> usize {
        self.snapshot_len = self.boxes.len();
        all_rows.for_each(|rows| rows.at_snapshot = None);
        self.snapshots += 1;
        self.snapshots
    }

    /// Called when the grid is again as it was at the snapshot of this number. Rows that were blocked then
    /// are blocked again; rows found blocked since stay so, except where voxels became free.
    pub(super) fn roll_back<'a>(
        &mut self,
        number: usize,
        all_rows: impl Iterator<Item = (&'a mut CandidateRows, &'a Shape)>,
    ) {
        if number != self.snapshots {
            return; // there is a later snapshot: the log stays as it is, which is always right
        }
        for (rows, shape) in all_rows {
            if let Some(then) = rows.at_snapshot.take() {
                rows.follow_to(shape, self, self.boxes.len());
                rows.rows.iter_mut().zip(then).for_each(|(row, then)| *row &= then);
                rows.seen = self.snapshot_len;
            }
        }
        self.boxes.truncate(self.snapshot_len);
    }
}

impl CandidateRows {
    /// All rows that keep the shape within the room; `grid_dims` are the voxels of the occupancy grid.
    pub(super) fn new(
        shape: &Shape,
        room_mm: [f64; 3],
        voxel_mm: f64,
        grid_dims: [usize; 3],
    ) -> Self {
        let last = shape.last_position(room_mm, voxel_mm);
        let words = grid_dims[1].div_ceil(64);
        let rows = vec![0; words * grid_dims[2]];
        let mut all = Self { words, rows, last, seen: 0, at_snapshot: None };
        all.set_rows([0; 3], last);
        all
    }

    /// Makes the rows from `lo` to `hi`, both included, candidates again, as far as they exist.
    fn set_rows(&mut self, lo: VoxelPos, hi: VoxelPos) {
        let (first, last) = (lo[1].max(0), hi[1].min(self.last[1]));
        if first > last {
            return;
        }
        let (first, last) = (first.unsigned_abs() as usize, last.unsigned_abs() as usize);
        for z in lo[2].max(0)..=hi[2].min(self.last[2]) {
            let start = z.unsigned_abs() as usize * self.words;
            for word in first / 64..=last / 64 {
                let from = if word == first / 64 { !0 << (first % 64) } else { !0 };
                let to = if word == last / 64 { !0 >> (63 - last % 64) } else { !0 };
                self.rows[start + word] |= from & to;
            }
        }
    }

    /// Takes the log into account, and keeps the rows as they were at its snapshot.
    pub(super) fn follow(&mut self, shape: &Shape, log: &FreedLog) {
        self.follow_to(shape, log, log.snapshot_len);
        if self.at_snapshot.is_none() {
            self.at_snapshot = Some(self.rows.clone());
        }
        self.follow_to(shape, log, log.boxes.len());
    }

    /// Takes the first `end` boxes of the log into account.
    fn follow_to(&mut self, shape: &Shape, log: &FreedLog, end: usize) {
        let size = shape.mask.dims.map(signed);
        for (lo, hi) in log.boxes.get(self.seen..end).unwrap_or_default() {
            self.set_rows([0, 1, 2].map(|k| lo[k] - size[k] + 1), hi.map(|c| c - 1));
        }
        self.seen = self.seen.max(end);
    }
}
