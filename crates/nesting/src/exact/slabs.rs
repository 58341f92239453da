//! Many bodies moved slab by slab, since one program for all of them takes too long.

use super::placed_bodies::PlacedBodies;
use super::separation::{Goal, Hints, StepLimits, missing};
use base::{Cancelled, Progress};

/// Most bodies that move at once. The time for a program grows with the square of the bodies: a hundred take
/// some hundredths of a second, two thousand take minutes. More are moved slab by slab, from the platform up,
/// the others staying where they are.
const MOST_AT_ONCE: usize = 200;

/// Times that all slabs are gone through.
const SWEEPS: usize = 2;

impl PlacedBodies {
    /// In rounds over all bodies that may move, or, of many, over slabs of them.
    pub(super) fn separate_at(
        &mut self,
        may_move: &[bool],
        goal: Goal,
        rounds: u32,
        limits: &StepLimits,
        progress: &Progress,
    ) -> Result<f64, Cancelled> {
        let mut order: Vec<usize> = (0..self.bodies.len()).filter(|i| may_move[*i]).collect();
        if order.len() <= MOST_AT_ONCE {
            return self.separate_together(may_move, goal, rounds, limits, progress);
        }
        let mut missing_mm = 0.0;
        for sweep in 0..SWEEPS {
            let bottom = |i: usize| self.bounds[i].as_ref().map_or(0.0, |b| b.lo[2]);
            order.sort_by(|a, b| bottom(*a).total_cmp(&bottom(*b)).then(a.cmp(b)));
            // Every other sweep divides in the middle of the slabs of the one before.
            let first = if sweep.is_multiple_of(2) { 0 } else { MOST_AT_ONCE / 2 };
            let (lowest, rest) = order.split_at(first);
            missing_mm = 0.0;
            let slabs = std::iter::once(lowest).chain(rest.chunks(MOST_AT_ONCE));
            for slab in slabs.filter(|slab| !slab.is_empty()) {
                let mut mask = vec![false; may_move.len()];
                for i in slab {
                    mask[*i] = true;
                }
                if goal == Goal::Separated && self.missing_of(&mask, progress)? <= 0.0 {
                    continue;
                }
                missing_mm += self.separate_together(&mask, goal, rounds, limits, progress)?;
            }
            if goal == Goal::Separated && missing_mm <= 0.0 {
                break;
            }
        }
        Ok(missing_mm)
    }

    /// Clearance that bodies that may move miss where they are, mm, together.
    fn missing_of(&self, may_move: &[bool], progress: &Progress) -> Result<f64, Cancelled> {
        let clearance = self.space.clearance_mm;
        let still = vec![[0.0; 3]; self.bodies.len()];
        let pairs = self.pairs_within(may_move, clearance);
        let near = self.near_after(&still, &pairs, clearance, &Hints::new(), progress)?;
        Ok(missing(&near, clearance))
    }
}
