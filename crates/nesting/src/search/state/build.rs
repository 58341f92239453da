//! One build while it is being arranged.

use super::blocking::BlockingGraph;
use super::candidate_rows::{CandidateRows, FreedLog};
use super::occupancy::{OccupancyGrid, ScanOrder};
use super::rule::PlacementRule;
use super::voxel_space::{VoxelPlacement, VoxelSpace};
use crate::search::voxels::mask::VoxelPos;
use crate::search::voxels::shape::{Shape, collide};
use base::Cancelled;
use rayon::prelude::*;
use std::sync::atomic::{AtomicI64, Ordering::Relaxed};

/// While another search runs, a search keeps to its own thread if there are no more threads than this:
/// the steps are too short for two threads to help each other.
const MAX_SHARED_THREADS: usize = 2;

/// A state of a build to go back to.
pub(crate) struct Snapshot {
    number: usize,
    placements: Vec<VoxelPlacement>,
}

/// The parts of one build. All of them can always be taken out, one after the other, each straight along
/// an axis.
#[derive(Clone)]
pub(crate) struct BuildState<'a> {
    pub(crate) space: &'a VoxelSpace,
    grid: OccupancyGrid,
    blocking: BlockingGraph,
    /// Number of copies to place; in `blocking` the locked placements have the indices from here on.
    copy_count: usize,
    /// Per item and shape.
    candidates: Vec<Vec<CandidateRows>>,
    freed: FreedLog,
    pub(crate) placements: Vec<VoxelPlacement>,
    /// Per copy where it was last taken out.
    last_places: Vec<Option<VoxelPlacement>>,
    /// Whether the locked placements are in this build: they are in the first.
    holds_locked: bool,
    /// Whether another search runs on another thread.
    pub(crate) another_search_runs: bool,
}

impl<'a> BuildState<'a> {
    /// An empty build, or one with the locked placements.
    pub(crate) fn new(space: &'a VoxelSpace, copy_count: usize, with_locked: bool) -> Self {
        let mut grid = OccupancyGrid::new(space.dims);
        if with_locked {
            space.locked.iter().for_each(|(shape, at)| grid.add(shape, *at));
        }
        let rows = |s: &Shape| CandidateRows::new(s, space.room_mm, space.voxel_mm, grid.dims);
        let candidates = space.shapes.iter().map(|v| v.iter().map(rows).collect()).collect();
        let mut build = Self {
            space,
            grid,
            blocking: BlockingGraph::new(copy_count + space.locked.len()),
            copy_count,
            candidates,
            freed: FreedLog::default(),
            placements: Vec::new(),
            last_places: vec![None; copy_count],
            holds_locked: false,
            another_search_runs: false,
        };
        if with_locked {
            for (i, (shape, at)) in space.locked.iter().enumerate() {
                // Locked placements are as they are: none blocks another.
                let (blockers, _) = build.blocking.blockers_of((shape, *at), std::iter::empty());
                build.blocking.add(copy_count + i, blockers);
            }
            build.holds_locked = true;
        }
        build
    }

    /// An empty build without locked placements that holds exactly these.
    pub(crate) fn with_placements(
        space: &'a VoxelSpace,
        copy_count: usize,
        placements: &[VoxelPlacement],
    ) -> Self {
        let mut build = Self::new(space, copy_count, false);
        for placement in placements {
            build.put(*placement);
        }
        build
    }

    fn locked(&self) -> &'a [(Shape, VoxelPos)] {
        if self.holds_locked { self.space.locked.as_slice() } else { &[] }
    }

    /// Shape and position of everything that is in.
    fn shapes(&self) -> impl Iterator<Item = (&'a Shape, VoxelPos)> + use<'_, 'a> {
        let space = self.space;
        let movable = self.placements.iter().map(move |p| (space.shape(p), p.at));
        movable.chain(self.locked().iter().map(|(shape, at)| (shape, *at)))
    }

    /// The same with the indices of the parts in `blocking`.
    fn parts(&self) -> impl Iterator<Item = (usize, &'a Shape, VoxelPos)> + use<'_, 'a> {
        let indices = self.placements.iter().map(|p| p.copy_index).chain(self.copy_count..);
        indices.zip(self.shapes()).map(|(index, (shape, at))| (index, shape, at))
    }

    /// The copies in an order in which each can be taken out straight past those after it; not all of
    /// them if some cannot.
    pub(crate) fn removal_order(&self) -> Vec<usize> {
        self.blocking.removal_order().into_iter().filter(|n| *n < self.copy_count).collect()
    }

    /// Puts a copy where the rule likes it best, in the orientation that the rule likes best. False if
    /// there is no position, or if the search is cancelled meanwhile: then nothing has changed.
    pub(crate) fn insert(&mut self, copy: usize, item: usize, rule: &PlacementRule) -> bool {
        // Its last place will do if no other is better, so that only better ones are looked for.
        let old =
            self.last_places[copy].filter(|old| old.item == item && self.is_allowed_by(rule, old));
        let max_score =
            old.map_or(rule.max_score, |old| rule.score(self.space.shape(&old), old.at));
        let Ok(found) = self.best_position(item, rule, max_score) else { return false };
        let new = found.map(|(_, shape, at)| VoxelPlacement {
            copy_index: copy,
            item,
            shape,
            at,
            offset_mm: None,
        });
        // The old place may have an exact offset, which the same position found anew has not.
        let is_old = |new: &VoxelPlacement| {
            old.is_some_and(|old| (old.shape, old.at) == (new.shape, new.at))
        };
        let Some(placement) = new.filter(|new| !is_old(new)).or(old) else { return false };
        self.put(placement);
        true
    }

    /// Where a copy of an item scores best, no worse than `max_score`: the score, the shape and the position.
    ///
    /// # Errors
    /// [`Cancelled`] on request, also in the middle.
    fn best_position(
        &mut self,
        item: usize,
        rule: &PlacementRule,
        max_score: i64,
    ) -> Result<Option<(i64, usize, VoxelPos)>, Cancelled> {
        let best = AtomicI64::new(max_score);
        let (grid, blocking, freed) = (&self.grid, &self.blocking, &self.freed);
        let parts: Vec<(usize, &'a Shape, VoxelPos)> = self.parts().collect();
        let (shapes, progress) = (&self.space.shapes[item], &self.space.progress);
        let find = |(i, (candidates, shape)): (usize, (&mut CandidateRows, &Shape))| {
            let order = ScanOrder {
                from_z: rule.min_bottom,
                to_z: rule.highest_bottom(shape, best.load(Relaxed)),
                from_right: rule.prefer_right,
                from_back: rule.prefer_back,
            };
            candidates.follow(shape, freed);
            let mut ended = progress.check().is_err();
            if ended {
                return None;
            }
            let at = grid.lowest_free(shape, candidates, &order, &mut |at| {
                ended = progress.check().is_err();
                if ended {
                    return true; // the shortest way out
                }
                let (blockers, is_threaded) =
                    blocking.blockers_of((shape, at), parts.iter().copied());
                !is_threaded && blocking.stays_removable_with(&blockers)
            });
            let at = at.filter(|_| !ended)?;
            let score = rule.score(shape, at);
            best.fetch_min(score, Relaxed);
            Some((score, i, at))
        };
        // What another thread has found cuts the search short, but loses nothing: an orientation that is
        // at least as good as the best is always searched through. So the result is always the same.
        let one_thread = shapes.len() == 1
            || self.another_search_runs && rayon::current_num_threads() <= MAX_SHARED_THREADS;
        let candidates = &mut self.candidates[item];
        let found = if one_thread {
            candidates.iter_mut().zip(shapes).enumerate().filter_map(find).min()
        } else {
            candidates.par_iter_mut().zip(shapes).enumerate().filter_map(find).min()
        };
        progress.check()?;
        Ok(found)
    }

    /// Whether a placement that lies within the room obeys the rule, collides with nothing and leaves
    /// every part removable.
    fn is_allowed_by(&self, rule: &PlacementRule, placement: &VoxelPlacement) -> bool {
        let shape = self.space.shape(placement);
        let obeys = placement.at[2] >= rule.min_bottom
            && self.top(placement) <= rule.max_top
            && rule.score(shape, placement.at) <= rule.max_score;
        // Two copies that exact distances have placed are clear of each other, whatever their voxels say.
        let exact = |p: &VoxelPlacement| p.offset_mm.is_some();
        let mut movable =
            self.placements.iter().filter(|other| !(exact(placement) && exact(other)));
        let mut locked = self.locked().iter().filter(|_| !exact(placement));
        let part = (shape, placement.at);
        obeys
            && !movable.any(|p| collide(part, (self.space.shape(p), p.at)))
            && !locked.any(|(other, at)| collide(part, (other, *at)))
            && {
                let (blockers, is_threaded) = self.blocking.blockers_of(part, self.parts());
                !is_threaded && self.blocking.stays_removable_with(&blockers)
            }
    }

    /// Puts a copy where it is known to be free.
    pub(crate) fn put(&mut self, placement: VoxelPlacement) {
        let shape = self.space.shape(&placement);
        self.grid.add(shape, placement.at);
        let (blockers, _) = self.blocking.blockers_of((shape, placement.at), self.parts());
        self.blocking.add(placement.copy_index, blockers);
        self.placements.push(placement);
    }

    /// Whether a placement is within the room and free.
    pub(crate) fn is_free(&self, placement: &VoxelPlacement) -> bool {
        let shape = self.space.shape(placement);
        let last = shape.last_position(self.space.room_mm, self.space.voxel_mm);
        let inside = (0..3).all(|k| (0..=last[k]).contains(&placement.at[k]));
        inside && self.grid.is_free(shape, placement.at)
    }

    /// Takes out the copy at `index` of the placements.
    pub(crate) fn remove(&mut self, index: usize) -> VoxelPlacement {
        let placement = self.placements.remove(index);
        self.last_places[placement.copy_index] = Some(placement);
        self.blocking.remove(placement.copy_index);
        let space = self.space;
        let movable = self.placements.iter().map(|p| (space.shape(p), p.at));
        let stay = movable.chain(self.locked().iter().map(|(shape, at)| (shape, *at)));
        self.freed.push(self.grid.remove(space.shape(&placement), placement.at, stay));
        placement
    }

    /// Remembers the present state, in place of any earlier one.
    pub(crate) fn snapshot(&mut self) -> Snapshot {
        let number = self.freed.snapshot(self.candidates.iter_mut().flatten());
        Snapshot { number, placements: self.placements.clone() }
    }

    /// Like [`Self::restore`], but what was known of blocked rows at the snapshot need not be found out
    /// again.
    pub(crate) fn roll_back(&mut self, snapshot: &Snapshot) {
        self.restore(&snapshot.placements);
        let shapes = self.space.shapes.iter().flatten();
        let rows = self.candidates.iter_mut().flatten().zip(shapes);
        self.freed.roll_back(snapshot.number, rows);
    }

    /// Makes the build hold exactly these, in this order.
    pub(crate) fn restore(&mut self, placements: &[VoxelPlacement]) {
        let mut i = 0;
        while i < self.placements.len() {
            if placements.contains(&self.placements[i]) {
                i += 1;
            } else {
                self.remove(i);
            }
        }
        for placement in placements {
            if !self.placements.contains(placement) {
                self.put(*placement);
            }
        }
        self.placements = placements.to_vec();
    }

    /// Top of the mask of a placement, voxels.
    pub(crate) fn top(&self, placement: &VoxelPlacement) -> i32 {
        placement.at[2] + self.space.shape(placement).height()
    }

    /// Highest top of the parts that may move, voxels.
    pub(crate) fn height(&self) -> i32 {
        self.placements.iter().map(|p| self.top(p)).max().unwrap_or(0)
    }

    /// Σ area² over the layers, voxels: what an even area makes smallest.
    pub(crate) fn unevenness(&self) -> f64 {
        let mut area = vec![0u64; self.space.dims[2] + 2];
        for (shape, at) in self.shapes() {
            for (layer, count) in (at[2]..).zip(&shape.layers) {
                if let Some(a) = usize::try_from(layer).ok().and_then(|z| area.get_mut(z)) {
                    *a += u64::from(*count);
                }
            }
        }
        area.iter().map(|a| (*a as f64).powi(2)).sum()
    }
}

#[cfg(test)]
mod tests;
