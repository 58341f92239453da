//! Packing without gaps of a few parts made of cubes, by exhaustive search with a limit.
//!
//! The first empty cell in reading order is either covered by a part whose own first cell lies there, or
//! stays empty for good. So every arrangement is met at most once (backtracking as for polyominoes:
//! Golomb 1954, "Checker boards and polyominoes", American Mathematical Monthly 61, 675–682).

use super::state::build::BuildState;
use super::state::voxel_space::{VoxelPlacement, VoxelSpace};
use super::voxels::mask::VoxelPos;
use base::{Cancelled, Progress};

/// More cells or parts make the search hopeless.
const MAX_CELLS: usize = 4096;
const MAX_PARTS: usize = 32;

/// Steps per height. Puzzles that need more are left to the other moves. By taste.
const STEPS: u64 = 3_000_000;

/// Steps between two looks at the progress handle.
const STEPS_PER_CHECK: u64 = 1024;

/// Arranges all copies, given by their items, below the lowest height of the room at which they fit and
/// can be taken out again. Only heights below `below`, voxels, are tried.
///
/// # Errors
/// [`Cancelled`] on request.
pub(crate) fn pack_cubes(
    space: &VoxelSpace,
    items: &[usize],
    below: i32,
    progress: &Progress,
) -> Result<Option<Vec<VoxelPlacement>>, Cancelled> {
    let [nx, ny, nz] = space.whole_voxels();
    let below = usize::try_from(below).unwrap_or(0).min(nz + 1);
    let count = |item: &usize| space.shapes[*item].first().map_or(0, |s| s.count);
    let volume: usize = items.iter().map(count).sum();
    if items.len() > MAX_PARTS || items.iter().any(|i| space.shapes[*i].is_empty()) {
        return Ok(None);
    }
    for height in volume.div_ceil((nx * ny).max(1)).max(1)..below {
        let cells = nx * ny * height;
        if cells > MAX_CELLS {
            return Ok(None);
        }
        let mut search = Backtracking {
            space,
            dims: [nx, ny, height],
            full: vec![false; cells],
            copies: items.iter().map(|i| (*i, true)).collect(),
            may_stay_empty: cells - volume.min(cells),
            placements: Vec::new(),
            steps: 0,
            progress,
        };
        if search.fill_from(0)? {
            return Ok(Some(search.placements));
        }
    }
    Ok(None)
}

struct Backtracking<'a> {
    space: &'a VoxelSpace,
    dims: [usize; 3],
    full: Vec<bool>,
    /// Item of each copy, and whether it is yet to be placed.
    copies: Vec<(usize, bool)>,
    /// How many more cells may stay empty.
    may_stay_empty: usize,
    placements: Vec<VoxelPlacement>,
    steps: u64,
    progress: &'a Progress,
}

impl Backtracking<'_> {
    /// Fills the cells from this one on; true once all copies are placed and can be taken out.
    fn fill_from(&mut self, mut cell: usize) -> Result<bool, Cancelled> {
        while cell < self.full.len() && self.full[cell] {
            cell += 1;
        }
        if self.placements.len() == self.copies.len() {
            return Ok(self.is_removable());
        }
        self.steps += 1;
        if self.steps > STEPS || cell == self.full.len() {
            return Ok(false);
        }
        if self.steps.is_multiple_of(STEPS_PER_CHECK) {
            self.progress.check()?;
        }
        for copy in 0..self.copies.len() {
            let (item, unplaced) = self.copies[copy];
            // Of equal copies always the first that is yet to be placed.
            if !unplaced || self.copies[..copy].contains(&(item, true)) {
                continue;
            }
            for shape in 0..self.space.shapes[item].len() {
                if self.place_and_go_on(copy, shape, cell)? {
                    return Ok(true);
                }
            }
        }
        if self.may_stay_empty > 0 {
            self.may_stay_empty -= 1;
            self.full[cell] = true;
            if self.fill_from(cell)? {
                return Ok(true);
            }
            self.full[cell] = false;
            self.may_stay_empty += 1;
        }
        Ok(false)
    }

    /// Covers a cell with a copy and fills the rest; takes it back if that leads nowhere.
    fn place_and_go_on(
        &mut self,
        copy: usize,
        shape: usize,
        cell: usize,
    ) -> Result<bool, Cancelled> {
        let item = self.copies[copy].0;
        let Some((at, cells)) = self.cells(item, shape, cell) else { return Ok(false) };
        for c in &cells {
            self.full[*c] = true;
        }
        self.copies[copy].1 = false;
        self.placements.push(VoxelPlacement { copy_index: copy, item, shape, at, offset_mm: None });
        if self.fill_from(cell)? {
            return Ok(true);
        }
        self.placements.pop();
        self.copies[copy].1 = true;
        for c in &cells {
            self.full[*c] = false;
        }
        Ok(false)
    }

    /// Where a shape lies whose first cell is `cell`, and its cells, if all of them are empty.
    fn cells(&self, item: usize, shape: usize, cell: usize) -> Option<(VoxelPos, Vec<usize>)> {
        let mask = &self.space.shapes[item][shape].mask;
        let [nx, ny, _] = self.dims;
        let to = [cell % nx, cell / nx % ny, cell / (nx * ny)];
        let mut first = None;
        let mut cells = Vec::new();
        let mut is_empty = true;
        mask.for_each(|p| {
            let from = *first.get_or_insert(p);
            let mut q = [0; 3];
            for k in 0..3 {
                match (to[k] + p[k]).checked_sub(from[k]) {
                    Some(c) if c < self.dims[k] => q[k] = c,
                    _ => is_empty = false,
                }
            }
            let index = (q[2] * ny + q[1]) * nx + q[0];
            is_empty = is_empty && !self.full[index];
            cells.push(index);
        });
        let from = first?;
        let mut at = [0; 3];
        for k in 0..3 {
            at[k] = i32::try_from(to[k]).ok()? - i32::try_from(from[k]).ok()?;
        }
        // A mask may reach out of the room where it has no cell, but then the part would do so, too.
        (is_empty && at.iter().all(|c| *c >= 0)).then_some((at, cells))
    }

    /// Whether the parts can be taken out straight along the axes.
    fn is_removable(&self) -> bool {
        let build = BuildState::with_placements(self.space, self.copies.len(), &self.placements);
        build.removal_order().len() == self.placements.len()
    }
}
