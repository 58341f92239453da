//! Filling builds, and emptying and refilling parts of them until nothing gets better.
//!
//! Bottom-left-fill gives the first arrangement. Then the ceiling is lowered, what sticks out is
//! taken out, and a neighbourhood after the other is emptied and refilled until everything fits
//! again (ruin and recreate: Schrimpf et al. 2000, J. Computational Physics 159, 139–171), where
//! parts that keep failing gain weight (guided local search: Voudouris & Tsang 1999, European J.
//! Operational Research 113, 469–499).

use crate::bed::{Bed, Spot, Wish, World};
use crate::model::NestError;
use crate::random::Random;
use crate::shape::Rounding;
use base::{Cancelled, Progress};
use std::collections::BTreeSet;

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

    /// Another search of the same, with luck of its own.
    pub(crate) fn fork<'q>(&mut self, progress: &'q Progress) -> Search<'q> {
        let random = Random::new(self.random.next());
        let (copies, weights) = (self.copies.clone(), self.weights.clone());
        Search { copies, weights, random, progress, patience: self.patience }
    }

    /// Puts in what fits below `limit`, in the order of [`fill_in_order`]. Returns the rest.
    pub(crate) fn fill(
        &self,
        bed: &mut Bed,
        pool: &[usize],
        limit: i32,
    ) -> Result<Vec<usize>, Cancelled> {
        let wish = Wish::lowest_top(limit);
        let insert = |copy, item| bed.insert(copy, item, &wish);
        fill_in_order(&self.copies, pool, |copy| copy.size, self.progress, insert)
    }

    /// Lowers the height of a build as far as it goes.
    ///
    /// The highest parts and those around some place are taken out and put back below the present
    /// height. What counts is that parts, large ones most, lie low; a little worse is accepted,
    /// less and less while nothing gets better (threshold accepting: Dueck & Scheuer 1990,
    /// J. Computational Physics 90, 161–175).
    pub(crate) fn lower(&mut self, bed: &mut Bed, report: Report) -> Result<(), Stop> {
        self.sink(bed, report)?;
        self.press(bed, report)
    }

    fn sink(&mut self, bed: &mut Bed, report: Report) -> Result<(), Stop> {
        /// Of the cost, accepted at first.
        const SLACK: f64 = 0.004;
        /// One in so many that are higher than the best by no more than one part in so many is told of,
        /// too: exact distances may make more of it.
        const EVERY: u32 = 20;
        const NEAR: i32 = 200;
        let mut near = 0;
        self.settle(bed)?;
        if !report(bed) {
            return Err(Stop);
        }
        let mut cost = self.weight_above(bed);
        let mut best = (bed.height(), cost, bed.spots.clone());
        let mut anchor = best.1;
        let mut idle = 0;
        let patience = self.rounds(bed);
        while idle < patience && bed.spots.len() > 1 {
            idle += 1;
            let before = bed.mark();
            let limit = bed.height();
            let mut pool = Vec::new();
            self.behead(bed, &mut pool);
            self.ruin(bed, &mut pool);
            self.refill(bed, &mut pool, limit);
            if self.progress.check().is_err() {
                bed.restore(&best.2);
                return Err(Stop);
            }
            let now = self.weight_above(bed);
            let slack = SLACK * (1.0 - f64::from(idle) / f64::from(patience));
            if !pool.is_empty() || now > cost * (1.0 + slack) {
                bed.go_back(&before);
                continue;
            }
            cost = now;
            let height = bed.height();
            if height <= best.0 + best.0 / NEAR {
                near += 1;
                if near % EVERY == 0 && !report(bed) {
                    bed.restore(&best.2);
                    return Err(Stop);
                }
            }
            if (height, cost) < (best.0, best.1) {
                let lower = height < best.0;
                best = (height, cost, bed.spots.clone());
                if lower || cost < 0.999 * anchor {
                    anchor = cost;
                    idle = 0;
                }
                if lower && !report(bed) {
                    return Err(Stop);
                }
            }
        }
        bed.restore(&best.2);
        self.settle(bed)?;
        if report(bed) { Ok(()) } else { Err(Stop) }
    }

    /// Lowers a ceiling step by step and puts what sticks out below it.
    fn press(&mut self, bed: &mut Bed, report: Report) -> Result<(), Stop> {
        // A voxel that is even holds more than one that is rounded up, and a step too long costs all
        // patience.
        let longest = match bed.world.rounding {
            Rounding::Up => (bed.height() / 20).max(1),
            Rounding::Even => 1,
        };
        let mut step = (bed.height() / 60).clamp(1, longest);
        while bed.height() > 1 {
            let best = bed.spots.clone();
            let target = bed.height() - step;
            let mut out = Vec::new();
            for i in (0..bed.spots.len()).rev() {
                if bed.top(&bed.spots[i]) > target {
                    out.push(bed.remove(i).copy);
                }
            }
            let rest = self.squeeze(bed, out, target, self.rounds(bed));
            if rest.as_ref().is_ok_and(Vec::is_empty) {
                step = (2 * step).min(longest);
                self.settle(bed)?;
                if !report(bed) {
                    return Err(Stop);
                }
                continue;
            }
            bed.restore(&best);
            rest?;
            if step == 1 {
                break;
            }
            step /= 2;
        }
        Ok(())
    }

    /// Rounds of patience: more where there are few parts and a round is quick.
    fn rounds(&self, bed: &Bed) -> u32 {
        let n = u32::try_from(bed.spots.len()).unwrap_or(u32::MAX).max(1);
        self.patience * (60 / n).clamp(1, 4)
    }

    /// Arranges the large parts for themselves, then adds the small ones; keeps it if it is lower.
    pub(crate) fn large_first(&mut self, bed: &mut Bed, tries: u32) -> Result<(), Stop> {
        /// Of the largest part's size: what finds room between the large ones anyway.
        const SMALL: f64 = 0.03;
        let before = (bed.height(), bed.spots.clone());
        let size = |search: &Self, copy: usize| search.copies[copy].size;
        let largest = bed.spots.iter().map(|s| size(self, s.copy)).fold(0.0, f64::max);
        let (large, small): (Vec<Spot>, Vec<Spot>) =
            bed.spots.iter().partition(|s| size(self, s.copy) >= SMALL * largest);
        bed.restore(&large);
        let ended = self
            .first_orders(bed, tries)
            .and_then(|()| if small.is_empty() { Ok(()) } else { self.sink(bed, &mut |_| true) });
        // Quick, so even when cancelled: the small ones make a valid arrangement of it.
        let mut small = small;
        small.sort_by(|a, b| {
            size(self, b.copy).total_cmp(&size(self, a.copy)).then(a.copy.cmp(&b.copy))
        });
        let wish = Wish::lowest_top(before.0);
        let all = small.iter().all(|s| bed.insert(s.copy, s.item, &wish));
        if !all || bed.height() >= before.0 {
            bed.restore(&before.1);
        }
        ended
    }

    /// Σ size × top³: low if parts lie low, the high ones first of all.
    fn weight_above(&self, bed: &Bed) -> f64 {
        bed.spots.iter().map(|s| self.copies[s.copy].size * f64::from(bed.top(s)).powi(3)).sum()
    }

    /// Takes out the highest part, or a few.
    fn behead(&mut self, bed: &mut Bed, pool: &mut Vec<usize>) {
        for _ in 0..self.random.below(4) {
            let top = (0..bed.spots.len()).max_by_key(|&i| (bed.top(&bed.spots[i]), i));
            if let Some(i) = top {
                pool.push(bed.remove(i).copy);
            }
        }
    }

    /// Puts in everything in several orders; leaves the lowest build, if one holds all.
    pub(crate) fn first_orders(&mut self, bed: &mut Bed, tries: u32) -> Result<(), Stop> {
        let mut best = (bed.height(), self.weight_above(bed), bed.spots.clone());
        for _ in 0..tries {
            let mut pool: Vec<usize> = best.2.iter().map(|s| s.copy).collect();
            pool.sort_unstable();
            bed.restore(&[]);
            self.refill(bed, &mut pool, best.0);
            if self.progress.check().is_err() {
                bed.restore(&best.2);
                return Err(Stop);
            }
            let now = (bed.height(), self.weight_above(bed));
            if pool.is_empty() && now < (best.0, best.1) {
                best = (now.0, now.1, bed.spots.clone());
            }
        }
        bed.restore(&best.2);
        Ok(())
    }

    /// Puts the pool in below `limit` by emptying and refilling, until so many rounds
    /// brought nothing. Returns what would not fit, the best that was found.
    pub(crate) fn squeeze(
        &mut self,
        bed: &mut Bed,
        mut pool: Vec<usize>,
        limit: i32,
        patience: u32,
    ) -> Result<Vec<usize>, Stop> {
        self.refill(bed, &mut pool, limit);
        let mut best = (self.cost(&pool, false), bed.spots.clone(), pool.clone());
        let mut idle = 0;
        while !pool.is_empty() && idle < patience {
            if self.progress.check().is_err() {
                bed.restore(&best.1);
                return Err(Stop);
            }
            idle += 1;
            let before = (self.cost(&pool, true), bed.mark(), pool.clone());
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
                bed.go_back(&before.1);
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
        // Small parts are many and near everything; moving only them changes little.
        let least = match self.random.below(2) {
            0 => 0.0,
            _ => self.copies[bed.spots[self.random.below(n)].copy].size,
        };
        let mut near: Vec<(f64, usize)> = (0..n)
            .filter(|&i| self.copies[bed.spots[i].copy].size >= least)
            .map(|i| {
                let m = middle(bed, i);
                let d: f64 = (0..2).map(|k| (m[k] - centre[k]).powi(2)).sum::<f64>() * flat
                    + (m[2] - centre[2]).powi(2);
                (d, i)
            })
            .collect();
        let take = (1 + self.random.below(7)).min(near.len());
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
        // Equal copies fail alike while nothing leaves.
        let mut failed = vec![false; bed.world.shapes.len()];
        for (_, copy) in order {
            let (wish, item) = (self.wish(limit), self.copies[copy].item);
            if failed[item] || self.progress.advance(1).is_err() || !bed.insert(copy, item, &wish) {
                failed[item] = true;
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
        let mut order: Vec<(i32, usize)> = bed.spots.iter().map(|s| (bed.top(s), s.copy)).collect();
        order.sort_unstable();
        for (_, copy) in order {
            if self.progress.check().is_err() {
                return Err(Stop);
            }
            let Some(i) = bed.spots.iter().position(|s| s.copy == copy) else { continue };
            let before = bed.mark();
            let top = bed.top(&bed.spots[i]);
            let spot = bed.remove(i);
            let wish = Wish { most: 16 * i64::from(top) - 1, ..Wish::lowest_top(top) };
            if !bed.insert(copy, spot.item, &wish) {
                bed.go_back(&before);
            }
        }
        Ok(())
    }

    /// Moves parts up and down below the present height until the area is as even as it gets.
    pub(crate) fn even_out(&mut self, bed: &mut Bed) -> Result<(), Stop> {
        let limit = bed.height();
        let mut best = bed.unevenness();
        let mut idle = 0;
        while idle < self.patience && !bed.spots.is_empty() {
            if self.progress.check().is_err() {
                return Err(Stop);
            }
            idle += 1;
            let before = bed.mark();
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
            } else {
                bed.go_back(&before);
            }
        }
        Ok(())
    }
}

/// Puts in what `insert` (copy, its item) takes, by due date and then the largest first. Returns the
/// rest; nothing is put in that is due after something in the rest.
pub(crate) fn fill_in_order(
    copies: &[Copy],
    pool: &[usize],
    size: impl Fn(&Copy) -> f64,
    progress: &Progress,
    mut insert: impl FnMut(usize, usize) -> bool,
) -> Result<Vec<usize>, Cancelled> {
    let mut order = pool.to_vec();
    order.sort_by(|&a, &b| {
        let (p, q) = (&copies[a], &copies[b]);
        p.due.cmp(&q.due).then(size(q).total_cmp(&size(p))).then(a.cmp(&b))
    });
    let mut rest: Vec<usize> = Vec::new();
    // Equal copies fail alike while nothing leaves.
    let mut failed = BTreeSet::new();
    for copy in order {
        progress.check()?;
        let Copy { item, due, .. } = copies[copy];
        let late = rest.first().is_some_and(|&r| copies[r].due < due);
        if late || failed.contains(&item) || !insert(copy, item) {
            failed.insert(item);
            rest.push(copy);
        }
    }
    Ok(rest)
}

/// The search was told to stop; the bed holds a valid arrangement of all that it held before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Stop;

impl From<Stop> for NestError {
    fn from(_: Stop) -> Self {
        Self::Cancelled(Cancelled)
    }
}

impl From<Cancelled> for Stop {
    fn from(_: Cancelled) -> Self {
        Self
    }
}

/// The same place on other voxels, moved by `by` mm on the way; whether it is free there is another
/// matter.
pub(crate) fn refined(from: &Bed, world: &World, spot: &Spot, by: [f64; 3]) -> Option<Spot> {
    let old = from.world.shape(spot);
    let turn = old.turns.first()?;
    let shape = world.shapes[spot.item].iter().position(|s| s.turns.contains(turn))?;
    let new = &world.shapes[spot.item][shape];
    // Voxels that are rounded up prove a place only where they are.
    let exact = world.rounding == Rounding::Even;
    let last = new.last(world.room, world.h);
    let (mut at, mut nudge_mm) = ([0; 3], [0.0; 3]);
    for k in 0..3 {
        // Twins of symmetric parts have their own offsets; their masks start where the old did.
        let offset = if new.turns.first() == Some(turn) {
            old.from_part.rows[k][3] - new.from_part.rows[k][3]
        } else {
            0.0
        };
        let from_mm = f64::from(spot.at[k]) * from.world.h + spot.nudge_mm.unwrap_or_default()[k];
        let moved = from_mm + offset + by[k];
        #[expect(clippy::cast_possible_truncation, reason = "within the grid")]
        let voxels = (moved / world.h).round() as i32;
        at[k] = voxels.clamp(0, last[k].max(0));
        nudge_mm[k] = moved - f64::from(at[k]) * world.h;
    }
    Some(Spot { shape, at, nudge_mm: exact.then_some(nudge_mm), ..*spot })
}
