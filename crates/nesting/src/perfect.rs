//! Gapless packing of a few parts made of cubes, by exhaustive search with a limit.
//!
//! The first empty cell in reading order is either covered by a part whose own first cell lies
//! there, or stays empty for good; so every arrangement is met at most once (backtracking as in
//! Golomb's polyominoes, 1954).

use crate::bed::{Bed, Spot, World};
use base::{Cancelled, Progress};

/// More cells or parts make the search hopeless.
const MOST_CELLS: usize = 4096;
const MOST_PARTS: usize = 32;

/// Steps per height.
const STEPS: u64 = 3_000_000;

/// Arranges all copies, given by their items, below the lowest height of the room at which it
/// finds a way that comes apart again. Only heights below
/// `below` are tried.
pub(crate) fn perfect(
    world: &World,
    copies: &[usize],
    below: i32,
    progress: &Progress,
) -> Result<Option<Vec<Spot>>, Cancelled> {
    let [nx, ny, nz] = world.cells();
    let below = usize::try_from(below).unwrap_or(0).min(nz + 1);
    let count = |item: &usize| world.shapes[*item].first().map_or(0, |s| s.count);
    let volume: usize = copies.iter().map(count).sum();
    if copies.len() > MOST_PARTS || copies.iter().any(|i| world.shapes[*i].is_empty()) {
        return Ok(None);
    }
    for height in volume.div_ceil((nx * ny).max(1)).max(1)..below {
        let cells = nx * ny * height;
        if cells > MOST_CELLS {
            return Ok(None);
        }
        let mut search = Search {
            world,
            dims: [nx, ny, height],
            full: vec![false; cells],
            left: copies.iter().map(|i| (*i, true)).collect(),
            waste: cells - volume.min(cells),
            spots: Vec::new(),
            steps: 0,
            progress,
        };
        if search.fill(0)? {
            return Ok(Some(search.spots));
        }
    }
    Ok(None)
}

struct Search<'a> {
    world: &'a World,
    dims: [usize; 3],
    full: Vec<bool>,
    /// Item of each copy, and whether it is still to be placed.
    left: Vec<(usize, bool)>,
    /// Cells that may yet stay empty.
    waste: usize,
    spots: Vec<Spot>,
    steps: u64,
    progress: &'a Progress,
}

impl Search<'_> {
    fn fill(&mut self, mut cell: usize) -> Result<bool, Cancelled> {
        while cell < self.full.len() && self.full[cell] {
            cell += 1;
        }
        if self.spots.len() == self.left.len() {
            return Ok(self.comes_apart());
        }
        self.steps += 1;
        if self.steps > STEPS || cell == self.full.len() {
            return Ok(false);
        }
        if self.steps.is_multiple_of(1024) {
            self.progress.check()?;
        }
        let world = self.world;
        for copy in 0..self.left.len() {
            let (item, free) = self.left[copy];
            // Of equal copies always the first that is left.
            if !free || self.left[..copy].contains(&(item, true)) {
                continue;
            }
            for shape in 0..world.shapes[item].len() {
                let Some((at, cells)) = self.cells(item, shape, cell) else { continue };
                for c in &cells {
                    self.full[*c] = true;
                }
                self.left[copy].1 = false;
                self.spots.push(Spot { copy, item, shape, at, nudge_mm: None });
                if self.fill(cell)? {
                    return Ok(true);
                }
                self.spots.pop();
                self.left[copy].1 = true;
                for c in &cells {
                    self.full[*c] = false;
                }
            }
        }
        if self.waste > 0 {
            self.waste -= 1;
            self.full[cell] = true;
            if self.fill(cell)? {
                return Ok(true);
            }
            self.full[cell] = false;
            self.waste += 1;
        }
        Ok(false)
    }

    /// Where a shape lies whose first cell is `cell`, and its cells, if all are empty.
    fn cells(&self, item: usize, shape: usize, cell: usize) -> Option<([i32; 3], Vec<usize>)> {
        let mask = &self.world.shapes[item][shape].mask;
        let [nx, ny, _] = self.dims;
        let to = [cell % nx, cell / nx % ny, cell / (nx * ny)];
        let mut first = None;
        let mut cells = Vec::new();
        let mut ok = true;
        mask.for_each(|p| {
            let from = *first.get_or_insert(p);
            let mut q = [0; 3];
            for k in 0..3 {
                match (to[k] + p[k]).checked_sub(from[k]) {
                    Some(c) if c < self.dims[k] => q[k] = c,
                    _ => ok = false,
                }
            }
            let index = (q[2] * ny + q[1]) * nx + q[0];
            ok = ok && !self.full[index];
            cells.push(index);
        });
        let from = first?;
        let mut at = [0; 3];
        for k in 0..3 {
            at[k] = i32::try_from(to[k]).ok()? - i32::try_from(from[k]).ok()?;
        }
        // A mask may stick out where it has no cell, but then the part would too.
        (ok && at.iter().all(|c| *c >= 0)).then_some((at, cells))
    }

    /// Whether the parts can be taken apart straight along the axes.
    fn comes_apart(&self) -> bool {
        let mut bed = Bed::new(self.world, self.left.len(), false);
        for s in &self.spots {
            bed.put(*s);
        }
        let order = bed.leaving_order();
        order.len() == self.spots.len()
    }
}
