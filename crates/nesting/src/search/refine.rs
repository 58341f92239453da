//! Makes builds of the search exact: poses that keep all clearances by distances of triangles.

use super::exact_build::{ExactBuild, is_removable, judged, pressed_together, separated};
use super::passes::Pass;
use super::state::build::BuildState;
use super::state::rule::PlacementRule;
use super::state::voxel_space::{VoxelPlacement, VoxelSpace};
use super::voxels::resolution::Rounding;
use crate::exact::separation::Goal;
use crate::exact::touching::{LAST_PATIENCE, sink_touching};
use crate::fill_order::CopyToPlace;
use crate::judge::figures::top_mm;
use crate::model::{CopyId, Item, Locked, Placed, Space};
use base::{Cancelled, Progress};
use std::cmp::Reverse;

/// So few parts that may touch are pressed together whenever they are reported: it takes some tenths of
/// a second. With many it is left for the end.
pub(super) const FEW_PARTS: usize = 12;

/// Rounds of sinking that bring nothing after which parts that may touch count as at rest while better
/// arrangements are still to come; in the end it is [`LAST_PATIENCE`].
const PATIENCE: u32 = 3;

/// A build as the search has it, without the locked placements.
#[derive(Clone, Debug)]
pub(super) struct VoxelBuild {
    pub(super) placements: Vec<Placed>,
    pub(super) rounding: Rounding,
}

/// See the module.
pub(super) struct Refiner<'a> {
    pub(super) items: &'a [Item],
    pub(super) space: &'a Space,
    /// The locked placements: they are in the first build.
    pub(super) locked: Vec<Placed>,
    pub(super) copies: Vec<CopyToPlace>,
    /// Edge of voxels for what must be put in anew, mm.
    voxel_mm: f64,
    /// Per build what was last made exact, as it was found, and what came of it.
    known: Vec<Option<(Vec<Placed>, ExactBuild)>>,
}

impl<'a> Refiner<'a> {
    pub(super) fn new(
        items: &'a [Item],
        space: &'a Space,
        locked: Vec<Placed>,
        copies: Vec<CopyToPlace>,
        voxel_mm: f64,
    ) -> Self {
        Self { items, space, locked, copies, voxel_mm, known: Vec::new() }
    }

    /// The locked placements of a build.
    pub(super) fn locked_in(&self, build: usize) -> &[Placed] {
        if build == 0 { &self.locked } else { &[] }
    }

    /// The index of a copy in the copies to place.
    pub(super) fn index_of(&self, id: CopyId) -> Option<usize> {
        self.copies.iter().position(|c| (c.item, c.copy) == (id.item, id.copy))
    }

    /// How high the build was, as it was found, that was last made exact, mm.
    pub(super) fn last_top_mm(&self, build: usize) -> Option<f64> {
        let (found, _) = self.known.get(build)?.as_ref()?;
        Some(top_mm(self.items, found))
    }

    /// A build made exact. The placements are without the locked ones, the offenders are counted with
    /// them.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub(super) fn refine(
        &mut self,
        build: usize,
        found: VoxelBuild,
        goal: Goal,
        progress: &Progress,
    ) -> Result<ExactBuild, Cancelled> {
        let VoxelBuild { placements: found, rounding } = found;
        if self.space.clearance_mm <= 0.0 {
            let placements = self.sunk_and_pressed(build, found, goal, progress)?;
            return Ok(ExactBuild { placements, offenders: Vec::new() });
        }
        if rounding == Rounding::Conservative && goal == Goal::Separated {
            return Ok(ExactBuild { placements: found, offenders: Vec::new() });
        }
        self.known.resize((build + 1).max(self.known.len()), None);
        if goal == Goal::Separated
            && let Some((before, exact)) = &self.known[build]
            && *before == found
        {
            return Ok(exact.clone());
        }
        let whole = with_locked(self.locked_in(build), &found);
        let exact = separated(self.items, &whole, self.space, goal, progress)?;
        let mut exact = self.offenders_reinserted(exact, progress)?;
        exact.placements.drain(..self.locked_in(build).len());
        self.known[build] = Some((found, exact.clone()));
        Ok(exact)
    }

    /// A build whose parts may touch, with the gaps that voxels left between them closed.
    fn sunk_and_pressed(
        &self,
        build: usize,
        found: Vec<Placed>,
        goal: Goal,
        progress: &Progress,
    ) -> Result<Vec<Placed>, Cancelled> {
        if goal == Goal::LowestTop {
            return Ok(found);
        }
        let patience = if goal == Goal::Compact { LAST_PATIENCE } else { PATIENCE };
        let sunk = self.sunk(build, found, patience, progress)?;
        if goal == Goal::Separated && sunk.len() > FEW_PARTS {
            return Ok(sunk);
        }
        let whole = with_locked(self.locked_in(build), &sunk);
        let ExactBuild { placements: mut lower, offenders } =
            pressed_together(self.items, &whole, self.space, progress)?;
        if !offenders.is_empty() || top_mm(self.items, &lower) >= top_mm(self.items, &whole) {
            return Ok(sunk);
        }
        lower.drain(..self.locked_in(build).len());
        self.sunk(build, lower, patience, progress)
    }

    /// A build after sinking; as it was if then something could not be taken out: what slid into place
    /// straight may not come out straight.
    fn sunk(
        &self,
        build: usize,
        placements: Vec<Placed>,
        patience: u32,
        progress: &Progress,
    ) -> Result<Vec<Placed>, Cancelled> {
        let locked = self.locked_in(build);
        let mut sunk = placements.clone();
        sink_touching(self.items, locked, &mut sunk, self.space, patience, progress)?;
        let removable = is_removable(self.items, &with_locked(locked, &sunk), progress)?;
        Ok(if removable { sunk } else { placements })
    }

    /// A build whose offenders were taken out and put in again where conservative voxels find room around
    /// the rest; as it was if they find none.
    fn offenders_reinserted(
        &self,
        exact: ExactBuild,
        progress: &Progress,
    ) -> Result<ExactBuild, Cancelled> {
        if exact.offenders.is_empty() {
            return Ok(exact);
        }
        let (mut out, mut placements) = (Vec::new(), Vec::new());
        for (n, p) in exact.placements.iter().enumerate() {
            if exact.offenders.contains(&n) { &mut out } else { &mut placements }.push(*p);
        }
        let rest: Vec<Locked> =
            placements.iter().map(|p| Locked { item: p.item, pose: p.pose }).collect();
        let pass = Pass { voxel_mm: self.voxel_mm, rounding: Rounding::Conservative };
        let space = VoxelSpace::new(self.items, &rest, self.space, pass, progress)?;
        let mut build = BuildState::new(&space, self.copies.len(), true);
        for p in out {
            let rule = PlacementRule::lowest_top(space.height());
            let index = self.index_of(p.id());
            if !index.is_some_and(|copy| build.insert(copy, p.item, &rule)) {
                return Ok(exact);
            }
        }
        placements.extend(placements_of(&self.copies, &build));
        let again = judged(self.items, &placements, self.space, progress)?;
        Ok(if again.offenders.is_empty() { again } else { exact })
    }
}

fn with_locked(locked: &[Placed], placements: &[Placed]) -> Vec<Placed> {
    locked.iter().chain(placements).copied().collect()
}

/// The placements of a build with their poses, such that each can be taken out past those before it.
pub(super) fn placements_of(copies: &[CopyToPlace], build: &BuildState) -> Vec<Placed> {
    let placed = |p: &VoxelPlacement| Placed {
        item: p.item,
        copy: copies[p.copy_index].copy,
        pose: build.space.pose(p),
        locked: false,
    };
    let mut rank = vec![None; copies.len()];
    for (n, copy) in build.removal_order().into_iter().enumerate() {
        rank[copy] = Some(n);
    }
    let mut placements: Vec<&VoxelPlacement> = build.placements.iter().collect();
    placements.sort_by_key(|p| Reverse(rank.get(p.copy_index).copied().flatten()));
    placements.into_iter().map(placed).collect()
}
