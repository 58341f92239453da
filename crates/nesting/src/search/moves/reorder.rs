//! Fills a build anew in another order, moves single parts down, and evens out the area.

use super::{LocalSearch, tuning};
use crate::search::state::build::BuildState;
use crate::search::state::rule::PlacementRule;
use crate::search::state::voxel_space::VoxelPlacement;
use crate::search::stop::Stopped;

impl LocalSearch<'_> {
    /// Arranges the large parts alone, then adds the small ones; keeps that if it is lower.
    ///
    /// # Errors
    /// [`Stopped`] if cancelled; the build holds all its parts, as low as before or lower.
    pub(crate) fn arrange_large_first(
        &mut self,
        build: &mut BuildState,
        orders: u32,
    ) -> Result<(), Stopped> {
        let before = (build.height(), build.placements.clone());
        let largest = build.placements.iter().map(|p| self.size(p.copy_index)).fold(0.0, f64::max);
        let (large, mut small): (Vec<VoxelPlacement>, Vec<VoxelPlacement>) = build
            .placements
            .iter()
            .partition(|p| self.size(p.copy_index) >= tuning::SMALL * largest);
        build.restore(&large);
        let mut ended = self.try_orders(build, orders);
        if ended.is_ok() && !small.is_empty() {
            ended = self.lower_cost(build, &mut |_| true);
        }
        // This is quick, so it is done even if cancelled: the small ones make a valid build of it.
        small.sort_by(|a, b| {
            self.size(b.copy_index)
                .total_cmp(&self.size(a.copy_index))
                .then(a.copy_index.cmp(&b.copy_index))
        });
        let rule = PlacementRule::lowest_top(before.0);
        let all_fit = small.iter().all(|p| build.insert(p.copy_index, p.item, &rule));
        if !all_fit || build.height() >= before.0 {
            build.restore(&before.1);
        }
        ended
    }

    /// Fills the build with all its parts in several random orders; leaves the lowest build that holds
    /// all of them.
    fn try_orders(&mut self, build: &mut BuildState, orders: u32) -> Result<(), Stopped> {
        let mut best = (build.height(), self.height_cost(build), build.placements.clone());
        for _ in 0..orders {
            let mut pool: Vec<usize> = best.2.iter().map(|p| p.copy_index).collect();
            pool.sort_unstable();
            build.restore(&[]);
            self.recreate(build, &mut pool, best.0);
            if self.progress.check().is_err() {
                build.restore(&best.2);
                return Err(Stopped);
            }
            let now = (build.height(), self.height_cost(build));
            if pool.is_empty() && now < (best.0, best.1) {
                best = (now.0, now.1, build.placements.clone());
            }
        }
        build.restore(&best.2);
        Ok(())
    }

    /// Takes out every part once, the lowest first, and puts it where its top is lowest, or back.
    pub(super) fn reinsert_each(&mut self, build: &mut BuildState) -> Result<(), Stopped> {
        let mut order: Vec<(i32, usize)> =
            build.placements.iter().map(|p| (build.top(p), p.copy_index)).collect();
        order.sort_unstable();
        for (_, copy) in order {
            if self.progress.check().is_err() {
                return Err(Stopped);
            }
            let Some(i) = build.placements.iter().position(|p| p.copy_index == copy) else {
                continue;
            };
            let before = build.snapshot();
            let rule = PlacementRule::below_top(build.top(&build.placements[i]));
            let item = build.remove(i).item;
            if !build.insert(copy, item, &rule) {
                build.roll_back(&before);
            }
        }
        Ok(())
    }

    /// Moves parts up and down below the present height until the fused area of all layers,
    /// counted in voxels, is as even along Z as it gets.
    ///
    /// # Errors
    /// [`Stopped`] if cancelled; the build holds all its parts.
    pub(crate) fn even_out(&mut self, build: &mut BuildState) -> Result<(), Stopped> {
        let max_top = build.height();
        let mut best = build.unevenness();
        let mut idle = 0;
        while idle < self.patience && !build.placements.is_empty() {
            if self.progress.check().is_err() {
                return Err(Stopped);
            }
            idle += 1;
            let before = build.snapshot();
            let mut pool = Vec::new();
            for _ in 0..=self.random.below(tuning::MAX_EVENED) {
                if !build.placements.is_empty() {
                    let i = self.random.below(build.placements.len());
                    pool.push(build.remove(i).copy_index);
                }
            }
            let all_fit = pool.into_iter().all(|copy| {
                let lowest = self.random.below(max_top.unsigned_abs() as usize);
                let min_bottom = i32::try_from(lowest).unwrap_or(0);
                let rule = PlacementRule { min_bottom, ..self.random_rule(max_top) };
                build.insert(copy, self.copies[copy].item, &rule)
            });
            let now = build.unevenness();
            if all_fit && now < best {
                best = now;
                idle = 0;
            } else {
                build.roll_back(&before);
            }
        }
        Ok(())
    }
}
