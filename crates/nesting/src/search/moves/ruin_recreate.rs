//! Takes parts out of a build and puts them back elsewhere.

use super::{LocalSearch, tuning};
use crate::search::state::build::BuildState;
use crate::search::state::rule::PlacementRule;

impl LocalSearch<'_> {
    /// Takes out the highest part, or a few, or none.
    pub(super) fn remove_highest(&mut self, build: &mut BuildState, pool: &mut Vec<usize>) {
        for _ in 0..self.random.below(tuning::HIGHEST_TAKEN) {
            let highest =
                (0..build.placements.len()).max_by_key(|&i| (build.top(&build.placements[i]), i));
            if let Some(i) = highest {
                pool.push(build.remove(i).copy_index);
            }
        }
    }

    /// Takes out some parts around the middle of a random one.
    pub(super) fn ruin(&mut self, build: &mut BuildState, pool: &mut Vec<usize>) {
        let n = build.placements.len();
        if n == 0 {
            return;
        }
        let middle = |build: &BuildState, i: usize| {
            let p = &build.placements[i];
            let dims = build.space.shape(p).mask.dims;
            [0, 1, 2].map(|k| f64::from(p.at[k]) + 0.5 * dims[k] as f64)
        };
        let centre = middle(build, self.random.below(n));
        let flat = self.random.below(tuning::FLAT_ONE_OF) == 0;
        let flatness = if flat { tuning::FLAT_FACTOR } else { 1.0 };
        let small_too = self.random.below(tuning::SMALL_TOO_ONE_OF) == 0;
        let least = if small_too {
            0.0
        } else {
            let i = self.random.below(n);
            self.size(build.placements[i].copy_index)
        };
        let mut near: Vec<(f64, usize)> = (0..n)
            .filter(|&i| self.size(build.placements[i].copy_index) >= least)
            .map(|i| {
                let m = middle(build, i);
                let square: f64 = (0..2).map(|k| (m[k] - centre[k]).powi(2)).sum::<f64>()
                    * flatness
                    + (m[2] - centre[2]).powi(2);
                (square, i)
            })
            .collect();
        let count = (1 + self.random.below(tuning::MAX_RUINED)).min(near.len());
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut out: Vec<usize> = near[..count].iter().map(|p| p.1).collect();
        out.sort_unstable();
        for i in out.into_iter().rev() {
            pool.push(build.remove(i).copy_index);
        }
    }

    /// Puts back what fits below `max_top`, by size and weight with some chance in the order; the rest
    /// stays in the pool.
    pub(super) fn recreate(&mut self, build: &mut BuildState, pool: &mut Vec<usize>, max_top: i32) {
        let mut order: Vec<(f64, usize)> = pool
            .iter()
            .map(|&c| {
                let chance =
                    tuning::MIN_ORDER_FACTOR + tuning::ORDER_FACTOR_RANGE * self.random.unit();
                (self.size(c) * self.weights[c] * chance, c)
            })
            .collect();
        order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        pool.clear();
        // Where one copy does not fit, an equal one does not either: parts are only added meanwhile.
        let mut failed = vec![false; build.space.shapes.len()];
        for (_, copy) in order {
            let (rule, item) = (self.random_rule(max_top), self.copies[copy].item);
            if failed[item] || self.progress.advance(1).is_err() || !build.insert(copy, item, &rule)
            {
                failed[item] = true;
                pool.push(copy);
            }
        }
    }

    /// A random corner to prefer, and a random weight of the height.
    pub(super) fn random_rule(&mut self, max_top: i32) -> PlacementRule {
        let bits = self.random.next();
        PlacementRule {
            height_weight: tuning::HEIGHT_WEIGHTS[(bits >> 8 & 3) as usize],
            prefer_right: bits & 1 == 1,
            prefer_back: bits & 2 == 2,
            ..PlacementRule::lowest_top(max_top)
        }
    }
}
