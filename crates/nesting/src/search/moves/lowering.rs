//! Lowers a build: first its cost, by small changes, then its ceiling, step by step.

use super::{LocalSearch, Report, tuning};
use crate::search::state::build::BuildState;
use crate::search::stop::Stopped;
use crate::search::voxels::resolution::Rounding;

impl LocalSearch<'_> {
    /// Takes out the highest parts and those around some place, and puts them back below the present
    /// height, again and again. What counts is that parts, large ones most, lie low. A little worse is
    /// accepted, less and less while nothing gets better (threshold accepting: Dueck & Scheuer 1990,
    /// J. Computational Physics 90, 161–175).
    pub(super) fn lower_cost(
        &mut self,
        build: &mut BuildState,
        report: Report,
    ) -> Result<(), Stopped> {
        self.reinsert_each(build)?;
        if !report(build) {
            return Err(Stopped);
        }
        let mut cost = self.height_cost(build);
        let mut best = (build.height(), cost, build.placements.clone());
        let mut cost_at_gain = cost;
        let (mut idle, mut almost_best) = (0, 0);
        let patience = self.patience_with(build);
        while idle < patience && build.placements.len() > 1 {
            idle += 1;
            let before = build.snapshot();
            let pool = self.ruin_and_recreate(build); // copies that found no place
            if self.progress.check().is_err() {
                build.restore(&best.2);
                return Err(Stopped);
            }
            let now = self.height_cost(build);
            let threshold = tuning::FIRST_THRESHOLD * (1.0 - f64::from(idle) / f64::from(patience));
            if !pool.is_empty() || now > cost * (1.0 + threshold) {
                build.roll_back(&before);
                continue;
            }
            cost = now;
            let height = build.height();
            if height <= best.0 + best.0 / tuning::ALMOST_BEST {
                almost_best += 1;
                if almost_best % tuning::REPORT_ONE_OF == 0 && !report(build) {
                    build.restore(&best.2);
                    return Err(Stopped);
                }
            }
            if (height, cost) < (best.0, best.1) {
                let lower = height < best.0;
                best = (height, cost, build.placements.clone());
                if lower || cost < tuning::GAIN_FACTOR * cost_at_gain {
                    cost_at_gain = cost;
                    idle = 0;
                }
                if lower && !report(build) {
                    return Err(Stopped);
                }
            }
        }
        build.restore(&best.2);
        self.reinsert_each(build)?;
        if report(build) { Ok(()) } else { Err(Stopped) }
    }

    /// One round: returns what found no place.
    fn ruin_and_recreate(&mut self, build: &mut BuildState) -> Vec<usize> {
        let max_top = build.height();
        let mut pool = Vec::new();
        self.remove_highest(build, &mut pool);
        self.ruin(build, &mut pool);
        self.recreate(build, &mut pool, max_top);
        pool
    }

    /// Lowers a ceiling step by step, takes out what reaches above it and fits that in below.
    pub(super) fn lower_ceiling(
        &mut self,
        build: &mut BuildState,
        report: Report,
    ) -> Result<(), Stopped> {
        let longest = match build.space.rounding {
            Rounding::Conservative => (build.height() / tuning::LONGEST_STEP).max(1),
            Rounding::Nearest => tuning::LONGEST_STEP_NEAREST,
        };
        let mut step = (build.height() / tuning::FIRST_STEP).clamp(1, longest);
        while build.height() > 1 {
            let best = build.placements.clone();
            let ceiling = build.height() - step;
            let mut out = Vec::new();
            for i in (0..build.placements.len()).rev() {
                if build.top(&build.placements[i]) > ceiling {
                    out.push(build.remove(i).copy_index);
                }
            }
            let patience = self.patience_with(build);
            let rest = self.fit_below(build, out, ceiling, patience);
            if rest.as_ref().is_ok_and(Vec::is_empty) {
                step = (2 * step).min(longest);
                self.reinsert_each(build)?;
                if !report(build) {
                    return Err(Stopped);
                }
                continue;
            }
            build.restore(&best);
            rest?;
            if step == 1 {
                break;
            }
            step /= 2;
        }
        Ok(())
    }

    /// Fits the pool in below `max_top` by ruin and recreate, until `patience` rounds in a row have
    /// brought nothing. Returns what would not fit, and leaves the best build that was found.
    ///
    /// # Errors
    /// [`Stopped`] if cancelled; the best build so far stays.
    pub(crate) fn fit_below(
        &mut self,
        build: &mut BuildState,
        mut pool: Vec<usize>,
        max_top: i32,
        patience: u32,
    ) -> Result<Vec<usize>, Stopped> {
        self.recreate(build, &mut pool, max_top);
        let mut best = (self.pool_size(&pool), build.placements.clone(), pool.clone());
        let mut idle = 0;
        while !pool.is_empty() && idle < patience {
            if self.progress.check().is_err() {
                build.restore(&best.1);
                return Err(Stopped);
            }
            idle += 1;
            let before = (self.pool_cost(&pool), build.snapshot(), pool.clone());
            self.ruin(build, &mut pool);
            self.recreate(build, &mut pool, max_top);
            for &c in &pool {
                self.weights[c] += tuning::WEIGHT_GAIN;
            }
            let size = self.pool_size(&pool);
            if size < best.0 {
                best = (size, build.placements.clone(), pool.clone());
                idle = 0;
            }
            let chance = self.random.unit().max(tuning::MIN_CHANCE);
            let accepted = 1.0 - tuning::MEAN_WORSENING * chance.ln();
            if self.pool_cost(&pool) > before.0 * accepted {
                build.roll_back(&before.1);
                pool = before.2;
            }
        }
        if !pool.is_empty() {
            build.restore(&best.1);
            pool = best.2;
        }
        Ok(pool)
    }

    fn pool_size(&self, pool: &[usize]) -> f64 {
        pool.iter().map(|&c| self.size(c)).sum()
    }

    /// The same with the weights of the copies.
    fn pool_cost(&self, pool: &[usize]) -> f64 {
        pool.iter().map(|&c| self.size(c) * self.weights[c]).sum()
    }
}
