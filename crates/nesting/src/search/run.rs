//! One call of [`super::nest::nest`]: the passes over the levels, from coarse to fine.

use super::exact_cover::exact_cover;
use super::incumbent::Incumbent;
use super::levels::{Level, common_step};
use super::moves::LocalSearch;
use super::state::build::BuildState;
use super::state::voxel_space::VoxelSpace;
use super::stop::Stopped;
use super::voxels::resolution::Rounding;
use crate::boxes::boxes_in_builds;
use crate::exact::separation::Goal;
use crate::model::{Item, Locked, NestError, Options, Space};

/// Random orders of the large parts that are tried on coarse voxels before the search refines the best
/// one: some tenths of a second each. By taste.
const FIRST_ORDERS: u32 = 24;

/// See the module.
pub(super) struct Run<'a> {
    pub(super) items: &'a [Item],
    pub(super) space: &'a Space,
    pub(super) options: &'a Options,
    pub(super) search: LocalSearch<'a>,
    pub(super) incumbent: Incumbent<'a>,
}

impl Run<'_> {
    /// Searches until it ends by itself.
    ///
    /// # Errors
    /// [`NestError::Cancelled`] if it ends early: what was found until then counts.
    pub(super) fn search(&mut self, locked: &[Locked], levels: &[Level]) -> Result<(), NestError> {
        let progress = self.search.progress;
        let mut space = VoxelSpace::new(self.items, locked, self.space, levels[0], progress)?;
        let mut builds = Vec::new();
        self.fill_all(&space, &mut builds)?;
        self.incumbent.offer(&builds)?;
        self.offer_boxes(locked)?;
        let last = levels.len() - 1;
        for (n, level) in levels.iter().enumerate() {
            self.incumbent.is_showing = n == 0 || n == last;
            if n > 0 {
                let next = VoxelSpace::new(self.items, locked, self.space, *level, progress)?;
                if space.rounding == Rounding::Nearest {
                    self.incumbent.offer(&builds)?;
                }
                // Conservative voxels give no start for voxels rounded to nearest: they are only there to
                // show something early.
                let carried = if next.rounding == space.rounding {
                    Some(self.transferred(&builds, &next, Goal::Separated)?)
                } else {
                    None
                };
                drop(builds);
                space = next;
                builds = Vec::new();
                match carried {
                    Some(placements) => {
                        if !self.put_back(&space, &mut builds, placements)? {
                            return Ok(()); // rounding undid a tight place: what was shown stays
                        }
                    }
                    None => self.fill_all(&space, &mut builds)?,
                }
                self.incumbent.offer(&builds)?;
            }
            if n == 0 && levels.iter().any(|l| l.rounding != space.rounding) {
                continue;
            }
            let ended = self.pass(&space, &mut builds, n == last);
            if ended.is_err() {
                // What was reached on the way may not have been shown yet.
                self.incumbent.take(&builds);
            }
            ended?;
        }
        Ok(())
    }

    /// Bounding boxes are placed by exact sums of their sizes, so they suit parts that are like boxes, or
    /// that fill a space to the brim, better than any voxels.
    fn offer_boxes(&mut self, locked: &[Locked]) -> Result<(), NestError> {
        let LocalSearch { copies, progress, .. } = &self.search;
        let most = self.options.max_builds;
        let (builds, unplaced) =
            boxes_in_builds(self.items, locked, copies, self.space, most, progress)?;
        Ok(self.incumbent.offer_exact(builds, unplaced)?)
    }

    /// Improves the builds on voxels of one size; `fine` for the last size.
    fn pass<'w>(
        &mut self,
        space: &'w VoxelSpace,
        builds: &mut Vec<BuildState<'w>>,
        fine: bool,
    ) -> Result<(), Stopped> {
        if fine {
            self.cover_exactly(space, builds)?;
        }
        if fine && space.rounding == Rounding::Nearest {
            self.lower_exactly(space, builds)?;
        } else {
            self.lower_by_voxels(space, builds, fine)?;
        }
        if fine && self.options.even_area {
            for build in builds.iter_mut() {
                self.search.even_out(build)?;
            }
            self.incumbent.offer_even(builds)?;
        }
        Ok(())
    }

    /// For a few parts made of cubes: an arrangement without gaps, if there is one.
    fn cover_exactly<'w>(
        &mut self,
        space: &'w VoxelSpace,
        builds: &mut Vec<BuildState<'w>>,
    ) -> Result<(), Stopped> {
        let copies = &self.search.copies;
        let are_cubes =
            common_step(self.items).is_some_and(|s| s.boxy && s.step_mm >= space.voxel_mm);
        let any_locked = !self.incumbent.refiner.locked.is_empty();
        if !are_cubes || self.space.clearance_mm > 0.0 || any_locked || copies.is_empty() {
            return Ok(());
        }
        let items: Vec<usize> = copies.iter().map(|c| c.item).collect();
        let all_in_one = builds.len() == 1 && self.incumbent.unplaced.is_empty();
        let below = if all_in_one { builds[0].height() } else { space.height() + 1 };
        let Some(placements) = exact_cover(space, &items, below, self.search.progress)? else {
            return Ok(());
        };
        let mut build = BuildState::new(space, copies.len(), true);
        for placement in placements {
            build.put(placement);
        }
        builds.clear();
        builds.push(build);
        self.incumbent.unplaced.clear();
        self.incumbent.offer(builds)
    }

    /// Lowers every build by voxels alone.
    fn lower_by_voxels<'w>(
        &mut self,
        space: &'w VoxelSpace,
        builds: &mut Vec<BuildState<'w>>,
        fine: bool,
    ) -> Result<(), Stopped> {
        self.pull_all_forward(space, builds)?;
        for (b, build) in builds.iter_mut().enumerate() {
            let Self { search, incumbent, .. } = self;
            let mut report = |build: &BuildState| incumbent.offer_one(b, build).is_ok();
            if !fine {
                search.arrange_large_first(build, FIRST_ORDERS)?;
            }
            search.lower(build, &mut report)?;
        }
        Ok(())
    }
}
