//! Filling builds, and emptying and refilling parts of them until nothing gets better.
//!
//! Bottom-left-fill gives the first arrangement. Then the ceiling is lowered, what sticks out is
//! taken out, and a neighbourhood after the other is emptied and refilled until everything fits
//! again (ruin and recreate: Schrimpf et al. 2000, J. Computational Physics 159, 139–171), where
//! parts that keep failing gain weight (guided local search: Voudouris & Tsang 1999, European J.
//! Operational Research 113, 469–499).

use crate::bed::{Bed, Spot, Wish, World};
use crate::random::Random;
use base::{Cancelled, Progress};

/// One copy of an item.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Copy {
    pub(crate) item: usize,
    pub(crate) number: u32,
    /// Rank of the due date; the last rank for none.
    pub(crate) due: u32,
    pub(crate) size: f64,
}

/// The state of the search that outlives a build and a voxel size.
pub(crate) struct Search<'p> {
    pub(crate) copies: Vec<Copy>,
    /// Grows with every failure to place the copy.
    weights: Vec<f64>,
    pub(crate) random: Random,
    pub(crate) progress: &'p Progress,
    pub(crate) patience: u32,
}

/// Asked after every improvement of a build; false to stop.
pub(crate) type Report<'r> = &'r mut dyn FnMut(&Bed) -> bool;

impl<'p> Search<'p> {
    pub(crate) fn new(copies: Vec<Copy>, seed: u64, patience: u32, progress: &'p Progress) -> Self {
        let weights = vec![1.0; copies.len()];
        Self { copies, weights, random: Random::new(seed), progress, patience }
    }

    /// Puts in what fits below `limit`, by due date and then the largest first. Returns the rest;
    /// nothing is put in that is due after something in the rest.
    pub(crate) fn fill(
        &mut self,
        bed: &mut Bed,
        pool: &[usize],
        limit: i32,
    ) -> Result<Vec<usize>, Cancelled> {
        let mut order = pool.to_vec();
        order.sort_by(|&a, &b| {
            let (p, q) = (&self.copies[a], &self.copies[b]);
            p.due.cmp(&q.due).then(q.size.total_cmp(&p.size)).then(a.cmp(&b))
        });
        let mut rest: Vec<usize> = Vec::new();
        // Equal copies fail alike while nothing leaves.
        let mut failed = vec![false; bed.world.shapes.len()];
        for copy in order {
            self.progress.check()?;
            let c = self.copies[copy];
            let late = rest.first().is_some_and(|&r| self.copies[r].due < c.due);
            if late || failed[c.item] || !bed.insert(copy, c.item, &Wish::lowest_top(limit)) {
                failed[c.item] = true;
                rest.push(copy);
            }
        }
        Ok(rest)
    }

    /// Lowers the height of a build as far as it goes.
    pub(crate) fn lower(&mut self, bed: &mut Bed, report: Report) -> Result<(), Stop> {
        self.settle(bed)?;
        if !report(bed) {
            return Err(Stop);
        }
        let mut step = (bed.height() / 12).max(1);
        let mut misses = 0;
        while misses < 2 && bed.height() > 1 {
            let best = bed.spots.clone();
            let target = bed.height() - step;
            let mut out = Vec::new();
            for i in (0..bed.spots.len()).rev() {
                if bed.top(&bed.spots[i]) > target {
                    out.push(bed.remove(i).copy);
                }
            }
            match self.squeeze(bed, out, target) {
                Ok(rest) if rest.is_empty() => {
                    misses = 0;
                    self.settle(bed)?;
                    if !report(bed) {
                        return Err(Stop);
                    }
                }
                other => {
                    bed.restore(&best);
                    other?;
                    if step == 1 {
                        misses += 1;
                    }
                    step = (step / 2).max(1);
                }
            }
        }
        Ok(())
    }

    /// Puts the pool in below `limit` by emptying and refilling. Returns what would not fit, the
    /// best that was found.
    pub(crate) fn squeeze(
        &mut self,
        bed: &mut Bed,
        mut pool: Vec<usize>,
        limit: i32,
    ) -> Result<Vec<usize>, Stop> {
        self.refill(bed, &mut pool, limit);
        let mut best = (self.cost(&pool, false), bed.spots.clone(), pool.clone());
        let mut idle = 0;
        while !pool.is_empty() && idle < self.patience {
            if self.progress.check().is_err() {
                bed.restore(&best.1);
                return Err(Stop);
            }
            idle += 1;
            let before = (self.cost(&pool, true), bed.spots.clone(), pool.clone());
            self.ruin(bed, &mut pool);
            self.refill(bed, &mut pool, limit);
            for &c in &pool {
                self.weights[c] += 0.05;
            }
            let cost = self.cost(&pool, false);
            if cost < best.0 {
                best = (cost, bed.spots.clone(), pool.clone());
                idle = 0;
            }
            // A little worse is taken now and then, or every valley would be final.
            let slack = 1.0 - 0.05 * self.random.unit().max(1e-9).ln();
            if self.cost(&pool, true) > before.0 * slack {
                bed.restore(&before.1);
                pool = before.2;
            }
        }
        if !pool.is_empty() {
            bed.restore(&best.1);
            pool = best.2;
        }
        Ok(pool)
    }

    fn cost(&self, pool: &[usize], weighted: bool) -> f64 {
        pool.iter()
            .map(|&c| self.copies[c].size * if weighted { self.weights[c] } else { 1.0 })
            .sum()
    }

    /// Takes out some parts around a place.
    fn ruin(&mut self, bed: &mut Bed, pool: &mut Vec<usize>) {
        let n = bed.spots.len();
        if n == 0 {
            return;
        }
        let middle = |bed: &Bed, i: usize| {
            let s = &bed.spots[i];
            let d = bed.world.shape(s).mask.dims;
            [0, 1, 2].map(|k| f64::from(s.at[k]) + 0.5 * d[k] as f64)
        };
        let centre = middle(bed, self.random.below(n));
        let flat = if self.random.below(3) == 0 { 0.2 } else { 1.0 };
        let take = (1 + self.random.below(7)).min(n);
        let mut near: Vec<(f64, usize)> = (0..n)
            .map(|i| {
                let m = middle(bed, i);
                let d: f64 = (0..2).map(|k| (m[k] - centre[k]).powi(2)).sum::<f64>() * flat
                    + (m[2] - centre[2]).powi(2);
                (d, i)
            })
            .collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut out: Vec<usize> = near[..take].iter().map(|p| p.1).collect();
        out.sort_unstable();
        for i in out.into_iter().rev() {
            pool.push(bed.remove(i).copy);
        }
    }

    /// Puts back what fits, by size and weight with some chance in the order.
    fn refill(&mut self, bed: &mut Bed, pool: &mut Vec<usize>, limit: i32) {
        let mut order: Vec<(f64, usize)> = pool
            .iter()
            .map(|&c| {
                let chance = 0.4 + 1.2 * self.random.unit();
                (self.copies[c].size * self.weights[c] * chance, c)
            })
            .collect();
        order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        pool.clear();
        for (_, copy) in order {
            let wish = self.wish(limit);
            if self.progress.advance(1).is_err() || !bed.insert(copy, self.copies[copy].item, &wish) {
                pool.push(copy);
            }
        }
    }

    fn wish(&mut self, limit: i32) -> Wish {
        let bits = self.random.next();
        let weight = [16, 16, 12, 8][(bits >> 8 & 3) as usize];
        Wish { weight, right: bits & 1 == 1, back: bits & 2 == 2, ..Wish::lowest_top(limit) }
    }

    /// Takes out every part once, lowest first, and puts it where its top is lowest.
    pub(crate) fn settle(&mut self, bed: &mut Bed) -> Result<(), Stop> {
        let mut order: Vec<(i32, usize)> =
            bed.spots.iter().map(|s| (bed.top(s), s.copy)).collect();
        order.sort_unstable();
        for (_, copy) in order {
            if self.progress.check().is_err() {
                return Err(Stop);
            }
            let Some(i) = bed.spots.iter().position(|s| s.copy == copy) else { continue };
            let before = bed.spots.clone();
            let top = bed.top(&bed.spots[i]);
            let spot = bed.remove(i);
            let wish = Wish { most: 16 * i64::from(top) - 1, ..Wish::lowest_top(top) };
            if !bed.insert(copy, spot.item, &wish) {
                bed.restore(&before);
            }
        }
        Ok(())
    }

    /// Moves parts up and down below the present height until the area is as even as it gets.
    pub(crate) fn even_out(&mut self, bed: &mut Bed, report: Report) -> Result<(), Stop> {
        let limit = bed.height();
        let mut best = bed.unevenness();
        let mut idle = 0;
        while idle < self.patience && !bed.spots.is_empty() {
            if self.progress.check().is_err() {
                return Err(Stop);
            }
            idle += 1;
            let before = bed.spots.clone();
            let mut pool = Vec::new();
            for _ in 0..=self.random.below(2) {
                if !bed.spots.is_empty() {
                    let i = self.random.below(bed.spots.len());
                    pool.push(bed.remove(i).copy);
                }
            }
            let all = pool.into_iter().all(|copy| {
                let from = self.random.below(limit.unsigned_abs() as usize);
                let wish = Wish { from: i32::try_from(from).unwrap_or(0), ..self.wish(limit) };
                bed.insert(copy, self.copies[copy].item, &wish)
            });
            let now = bed.unevenness();
            if all && now < best {
                best = now;
                idle = 0;
                if !report(bed) {
                    return Err(Stop);
                }
            } else {
                bed.restore(&before);
            }
        }
        Ok(())
    }
}

/// The search was told to stop; the bed holds a valid arrangement of all that it held before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Stop;

impl From<Cancelled> for Stop {
    fn from(_: Cancelled) -> Self {
        Self
    }
}

/// The same arrangement on voxels of half the size: finer voxels lie within the coarser ones.
pub(crate) fn refined(coarse: &Bed, world: &World, spot: &Spot) -> Option<Spot> {
    let old = coarse.world.shape(spot);
    let turn = old.turns.first()?;
    let shape = world.shapes[spot.item].iter().position(|s| s.turns.contains(turn))?;
    let new = &world.shapes[spot.item][shape];
    let mut at = [0; 3];
    for (k, at) in at.iter_mut().enumerate() {
        let moved = f64::from(spot.at[k]) * coarse.world.h
            + (old.from_part.rows[k][3] - new.from_part.rows[k][3]);
        // Twins of symmetric parts have their own offsets; their masks start where the old did.
        let aligned = if new.turns.first() == Some(turn) { moved } else { f64::from(spot.at[k]) * coarse.world.h };
        #[expect(clippy::cast_possible_truncation, reason = "within the grid")]
        let voxels = (aligned / world.h).round() as i32;
        *at = voxels;
    }
    Some(Spot { shape, at, ..*spot })
}
