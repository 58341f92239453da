//! Searches on voxels rounded to nearest from where exact distances put the parts, again and again.

use super::builds::Transferred;
use super::run::Run;
use super::state::build::BuildState;
use super::state::voxel_space::{VoxelPlacement, VoxelSpace};
use super::stop::Stopped;
use super::transfer::transferred;
use super::voxels::resolution::Rounding;
use crate::exact::separation::Goal;

/// Smallest improvement of a round that counts, as a fraction of the height: a tenth of a millimetre of a
/// chamber. Smaller, the search goes on for minutes for what nobody sees.
const GAIN: f64 = 5e-4;

/// Rounds in a row without such an improvement after which the search has converged. With one, a single
/// unlucky round ends it; each takes as long as all its moves. By taste.
const GAINLESS_ROUNDS: u32 = 2;

impl Run<'_> {
    /// Lowers all builds until that brings nothing. Each round two searches start from the same builds;
    /// the lower one, by exact distances, is the next start.
    pub(super) fn lower_exactly<'w>(
        &mut self,
        space: &'w VoxelSpace,
        builds: &mut Vec<BuildState<'w>>,
    ) -> Result<(), Stopped> {
        self.pull_all_forward(space, builds)?;
        let mut gainless = 0;
        let mut start = placements(builds);
        while gainless < GAINLESS_ROUNDS {
            let before = self.incumbent.height_mm();
            let others = self.search_in_pair(builds)?;
            let mut next = None;
            for found in [&*builds, &others] {
                let best = self.incumbent.height_mm();
                let exact = self.transferred(found, space, self.incumbent.last_goal)?;
                self.incumbent.report(found)?;
                if self.incumbent.height_mm() < best {
                    next = Some(exact);
                }
            }
            let gained = self.incumbent.height_mm() <= (1.0 - GAIN) * before;
            gainless = if gained { 0 } else { gainless + 1 };
            let mut lower = Vec::new();
            if let Some(exact) = next
                && self.rebuild_from(space, &mut lower, exact)?
            {
                start = placements(&lower);
                *builds = lower;
            } else {
                builds.iter_mut().zip(&start).for_each(|(build, start)| build.restore(start));
            }
        }
        Ok(())
    }

    /// Two searches from the same start, each on a thread of its own: returns the builds of the second.
    /// If the first is stopped, `builds` become the lower ones of the two.
    fn search_in_pair<'w>(
        &mut self,
        builds: &mut Vec<BuildState<'w>>,
    ) -> Result<Vec<BuildState<'w>>, Stopped> {
        let Self { search, incumbent, .. } = self;
        let mut others = builds.clone();
        let progress = search.progress.stage();
        let mut other_search = search.fork(&progress);
        let mut other_ended = Ok(());
        builds.iter_mut().chain(&mut others).for_each(|build| build.another_search_runs = true);
        let ended = rayon::in_place_scope(|scope| {
            let (others, other_ended) = (&mut others, &mut other_ended);
            scope.spawn(move |_| {
                *other_ended =
                    others.iter_mut().try_for_each(|b| other_search.lower(b, &mut |_| true));
            });
            let mut own = builds.iter_mut().enumerate();
            let ended = own.try_for_each(|(b, build)| {
                let mut report = |build: &BuildState| incumbent.report_one(b, build).is_ok();
                search.lower(build, &mut report)
            });
            if ended.is_err() {
                progress.cancel();
            }
            ended
        });
        builds.iter_mut().chain(&mut others).for_each(|build| build.another_search_runs = false);
        let ended = ended.and(other_ended);
        if ended.is_err() {
            let height = |builds: &[BuildState]| builds.iter().map(BuildState::height).sum::<i32>();
            if height(&others) < height(builds) {
                std::mem::swap(builds, &mut others);
            }
        }
        ended.map(|()| others)
    }

    /// The placements of all builds on the voxels of this or another space; by exact distances if voxels
    /// alone do not keep the clearance.
    pub(super) fn transferred(
        &mut self,
        builds: &[BuildState],
        space: &VoxelSpace,
        goal: Goal,
    ) -> Result<Vec<Vec<Transferred>>, Stopped> {
        self.incumbent.set_current(builds);
        let nearest = builds.first().is_some_and(|b| b.space.rounding == Rounding::Nearest);
        let moves = if nearest { Some(self.incumbent.exact_moves(goal)?) } else { None };
        let each = |(b, build): (usize, &BuildState)| {
            let by_mm = |copy: usize| match &moves {
                Some(moves) => moves[b].get(&copy).copied(),
                None => Some([0.0; 3]),
            };
            let one = |p: &VoxelPlacement| transferred(build, space, p, by_mm(p.copy_index)?);
            build.placements.iter().map(|p| one(p).ok_or(p.copy_index)).collect()
        };
        Ok(builds.iter().enumerate().map(each).collect())
    }
}

fn placements(builds: &[BuildState]) -> Vec<Vec<VoxelPlacement>> {
    builds.iter().map(|build| build.placements.clone()).collect()
}
