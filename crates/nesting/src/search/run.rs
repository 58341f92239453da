//! One call of [`super::nest::nest`]: its passes, from coarse voxels to fine ones.

use super::cube_packing::pack_cubes;
use super::incumbent::Incumbent;
use super::moves::LocalSearch;
use super::passes::{Pass, common_step};
use super::state::build::BuildState;
use super::state::voxel_space::VoxelSpace;
use super::stop::Stopped;
use super::voxels::resolution::Rounding;
use crate::boxes::boxes_in_builds;
use crate::exact::separation::Goal;
use crate::model::{Item, Locked, NestError, Options, Space};
use crate::shelves::shelves;

/// Random orders of the large parts that are tried on coarse voxels before the search refines the best
/// one: some tenths of a second each. By taste.
const FIRST_ORDERS: u32 = 24;

/// More copies are arranged by their boxes alone: what blocks what is kept for all pairs, and a step of the
/// search looks at all parts.
const MOST_SEARCHED: usize = 4000;

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
    pub(super) fn search(&mut self, locked: &[Locked], passes: &[Pass]) -> Result<(), NestError> {
        let progress = self.search.progress;
        progress.check()?;
        self.report_shelves(locked)?;
        self.report_boxes(locked)?;
        if self.search.copies.len() > MOST_SEARCHED {
            return Ok(());
        }
        let mut space = VoxelSpace::new(self.items, locked, self.space, passes[0], progress)?;
        let mut builds = Vec::new();
        self.fill_all(&space, &mut builds)?;
        self.incumbent.report(&builds)?;
        let last = passes.len() - 1;
        for (n, pass) in passes.iter().enumerate() {
            self.incumbent.is_coarse = n != 0 && n != last;
            if n > 0 {
                let next = VoxelSpace::new(self.items, locked, self.space, *pass, progress)?;
                if space.rounding == Rounding::Nearest {
                    self.incumbent.report(&builds)?;
                }
                // Conservative voxels give no start for voxels rounded to nearest: they are only there to
                // report something early.
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
                        if !self.rebuild_from(&space, &mut builds, placements)? {
                            return Ok(()); // rounding undid a tight place: what was reported stays
                        }
                    }
                    None => self.fill_all(&space, &mut builds)?,
                }
                self.incumbent.report(&builds)?;
            }
            if n == 0 && passes.iter().any(|p| p.rounding != space.rounding) {
                continue;
            }
            let ended = self.improve(&space, &mut builds, n == last);
            if ended.is_err() {
                // What was reached on the way may not have been reported yet.
                self.incumbent.set_current(&builds);
            }
            ended?;
        }
        Ok(())
    }

    /// Something to hold at once, however many copies there are.
    fn report_shelves(&mut self, locked: &[Locked]) -> Result<(), NestError> {
        let most = self.options.max_builds;
        let (builds, unplaced) =
            shelves(self.items, locked, &self.search.copies, self.space, most)?;
        Ok(self.incumbent.report_first(builds, unplaced)?)
    }

    /// Bounding boxes are placed by exact sums of their sizes, so they suit parts that are like boxes, or
    /// that fill a space to the brim, better than any voxels.
    fn report_boxes(&mut self, locked: &[Locked]) -> Result<(), NestError> {
        let LocalSearch { copies, progress, .. } = &self.search;
        let most = self.options.max_builds;
        let (builds, unplaced) =
            boxes_in_builds(self.items, locked, copies, self.space, most, progress)?;
        Ok(self.incumbent.report_exact(builds, unplaced)?)
    }

    /// Improves the builds on voxels of one size; `fine` for the last size.
    fn improve<'w>(
        &mut self,
        space: &'w VoxelSpace,
        builds: &mut Vec<BuildState<'w>>,
        fine: bool,
    ) -> Result<(), Stopped> {
        if fine {
            self.pack_cubes(space, builds)?;
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
            self.incumbent.report_even(builds)?;
        }
        Ok(())
    }

    /// For a few parts made of cubes: an arrangement without gaps, if there is one.
    fn pack_cubes<'w>(
        &mut self,
        space: &'w VoxelSpace,
        builds: &mut Vec<BuildState<'w>>,
    ) -> Result<(), Stopped> {
        let copies = &self.search.copies;
        let are_cubes = common_step(self.items)
            .is_some_and(|s| s.is_axis_aligned && s.step_mm >= space.voxel_mm);
        let any_locked = !self.incumbent.refiner.locked.is_empty();
        if !are_cubes || self.space.clearance_mm > 0.0 || any_locked || copies.is_empty() {
            return Ok(());
        }
        let items: Vec<usize> = copies.iter().map(|c| c.item).collect();
        let all_in_one = builds.len() == 1 && self.incumbent.unplaced.is_empty();
        let below = if all_in_one { builds[0].height() } else { space.height() + 1 };
        let Some(placements) = pack_cubes(space, &items, below, self.search.progress)? else {
            return Ok(());
        };
        let mut build = BuildState::new(space, copies.len(), true);
        for placement in placements {
            build.put(placement);
        }
        builds.clear();
        builds.push(build);
        self.incumbent.unplaced.clear();
        self.incumbent.report(builds)
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
            let mut report = |build: &BuildState| incumbent.report_one(b, build).is_ok();
            if !fine {
                search.arrange_large_first(build, FIRST_ORDERS)?;
            }
            search.lower(build, &mut report)?;
        }
        Ok(())
    }
}
