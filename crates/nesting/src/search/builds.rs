//! Fills builds, and moves parts from later builds into earlier ones.

use super::run::Run;
use super::state::build::BuildState;
use super::state::voxel_space::{VoxelPlacement, VoxelSpace};
use super::stop::Stopped;
use super::voxels::resolution::Rounding;
use base::Cancelled;

/// A placement on other voxels, or the index of a copy that has none there.
pub(super) type Transferred = Result<VoxelPlacement, usize>;

/// The whole patience is divided by this for moving parts into an earlier build: that is tried for every
/// build, and mostly fails. Smaller, it takes most of the time; larger, it hardly ever succeeds. By taste.
const FORWARD_DIVISOR: u32 = 4;

impl Run<'_> {
    /// Fills builds with everything.
    pub(super) fn fill_all<'w>(
        &mut self,
        space: &'w VoxelSpace,
        builds: &mut Vec<BuildState<'w>>,
    ) -> Result<(), Cancelled> {
        let all: Vec<usize> = (0..self.search.copies.len()).collect();
        builds.clear();
        self.incumbent.unplaced = self.fill_further(space, builds, &all)?;
        Ok(())
    }

    /// Fills further builds; returns what fits none.
    fn fill_further<'w>(
        &mut self,
        space: &'w VoxelSpace,
        builds: &mut Vec<BuildState<'w>>,
        pool: &[usize],
    ) -> Result<Vec<usize>, Cancelled> {
        let (mut pool, never): (Vec<usize>, Vec<usize>) =
            pool.iter().partition(|c| !space.shapes[self.search.copies[**c].item].is_empty());
        let most = self.options.max_builds.max(1);
        while (!pool.is_empty() || builds.is_empty()) && builds.len() < most {
            let mut build = BuildState::new(space, self.search.copies.len(), builds.is_empty());
            let before = pool.len();
            pool = self.search.fill(&mut build, &pool, space.height())?;
            // What does not fit an empty build fits no other empty build. The first holds what is locked.
            if pool.len() == before && !builds.is_empty() {
                break;
            }
            builds.push(build);
        }
        pool.extend(never);
        pool.sort_unstable();
        Ok(pool)
    }

    /// Fills builds with transferred placements. Keeps a placement if it is free, or if rounding is
    /// [`Rounding::Nearest`]; the others are inserted again. Returns whether all copies have a place.
    pub(super) fn rebuild_from<'w>(
        &mut self,
        space: &'w VoxelSpace,
        builds: &mut Vec<BuildState<'w>>,
        placements: Vec<Vec<Transferred>>,
    ) -> Result<bool, Cancelled> {
        let mut pool = Vec::new();
        for (b, placements) in placements.into_iter().enumerate() {
            let mut build = BuildState::new(space, self.search.copies.len(), b == 0);
            for placement in placements {
                match placement {
                    // Voxels rounded to nearest may overlap where exact distances have put parts.
                    Ok(placement)
                        if space.rounding == Rounding::Nearest || build.is_free(&placement) =>
                    {
                        build.put(placement);
                    }
                    Ok(placement) => pool.push(placement.copy_index),
                    Err(copy) => pool.push(copy),
                }
            }
            pool = self.search.fill(&mut build, &pool, space.height())?;
            builds.push(build);
        }
        Ok(pool.is_empty() || self.fill_further(space, builds, &pool)?.is_empty())
    }

    /// Tries to bring parts of later builds into earlier ones.
    pub(super) fn pull_all_forward<'w>(
        &mut self,
        space: &'w VoxelSpace,
        builds: &mut Vec<BuildState<'w>>,
    ) -> Result<(), Stopped> {
        for b in 0..builds.len() {
            // There may be fewer builds by now.
            if b + 1 < builds.len() {
                self.pull_forward(space, builds, b)?;
            }
        }
        Ok(())
    }

    /// Tries to bring parts of later builds into build `b`: of those that are due next, the largest sum of
    /// sizes. If that succeeds, the later builds are filled anew.
    fn pull_forward<'w>(
        &mut self,
        space: &'w VoxelSpace,
        builds: &mut Vec<BuildState<'w>>,
        b: usize,
    ) -> Result<(), Stopped> {
        let later: Vec<usize> = builds[b + 1..]
            .iter()
            .flat_map(|build| build.placements.iter().map(|p| p.copy_index))
            .collect();
        let Some(next_due) = later.iter().map(|&c| self.due(c)).min() else { return Ok(()) };
        let (pool, not_yet): (Vec<usize>, Vec<usize>) =
            later.iter().partition(|&&c| self.due(c) == next_due);
        let before = builds[b].placements.clone();
        let size_before = self.size(&pool);
        let patience = self.options.patience / FORWARD_DIVISOR;
        let mut rest = self.search.fit_below(&mut builds[b], pool, space.height(), patience)?;
        let latest = builds[b].placements.iter().map(|p| self.due(p.copy_index)).max().unwrap_or(0);
        let in_order = rest.iter().all(|&c| self.due(c) >= latest);
        if self.size(&rest) >= size_before || !in_order {
            builds[b].restore(&before);
            return Ok(());
        }
        rest.extend(not_yet);
        let saved: Vec<Vec<VoxelPlacement>> =
            builds[b + 1..].iter().map(|build| build.placements.clone()).collect();
        builds.truncate(b + 1);
        let unplaced = self.fill_further(space, builds, &rest)?;
        if !unplaced.is_empty() || builds.len() > b + 1 + saved.len() {
            // Filled anew, the later builds came out worse.
            builds.truncate(b + 1);
            builds[b].restore(&before);
            let copies = self.search.copies.len();
            builds.extend(
                saved.iter().map(|saved| BuildState::with_placements(space, copies, saved)),
            );
            return Ok(());
        }
        self.incumbent.report(builds)
    }

    fn due(&self, copy: usize) -> u32 {
        self.search.copies[copy].due
    }

    fn size(&self, copies: &[usize]) -> f64 {
        copies.iter().map(|&c| self.search.copies[c].size_mm3).sum()
    }
}
