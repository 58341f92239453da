//! The moves of the search: parts are taken out of a build and put in again, until nothing gets better.
//!
//! [`ruin_recreate`] takes out the parts around a place and puts them back where they fit (ruin and
//! recreate: Schrimpf et al. 2000, J. Computational Physics 159, 139–171). [`lowering`] repeats that
//! with a cost that falls, then below a ceiling that comes down, where copies that keep failing gain
//! weight (guided local search: Voudouris & Tsang 1999, European J. Operational Research 113, 469–499).
//! [`reorder`] changes the order in which a whole build is filled, and evens out its area. All numbers
//! are in [`tuning`].

mod lowering;
mod reorder;
mod ruin_recreate;
mod tuning;

use super::state::build::BuildState;
use super::state::rule::PlacementRule;
use super::stop::Stopped;
use crate::fill_order::{CopyToPlace, fill_in_order};
use crate::random::Random;
use base::{Cancelled, Progress};

/// What the search keeps from one build to the next and from coarse voxels to fine ones.
pub(crate) struct LocalSearch<'p> {
    pub(crate) copies: Vec<CopyToPlace>,
    /// Per copy; rises with every failure to place it.
    weights: Vec<f64>,
    random: Random,
    pub(crate) progress: &'p Progress,
    /// Rounds without a gain after which a search gives up.
    pub(crate) patience: u32,
}

/// Called with every improvement of a build; false stops the search.
pub(crate) type Report<'r> = &'r mut dyn FnMut(&BuildState) -> bool;

impl<'p> LocalSearch<'p> {
    pub(crate) fn new(
        copies: Vec<CopyToPlace>,
        seed: u64,
        patience: u32,
        progress: &'p Progress,
    ) -> Self {
        let weights = vec![1.0; copies.len()];
        Self { copies, weights, random: Random::new(seed), progress, patience }
    }

    /// Another search with the same weights and random numbers of its own.
    pub(crate) fn fork<'q>(&mut self, progress: &'q Progress) -> LocalSearch<'q> {
        let random = Random::new(self.random.next());
        let (copies, weights) = (self.copies.clone(), self.weights.clone());
        LocalSearch { copies, weights, random, progress, patience: self.patience }
    }

    /// Puts in what fits below `max_top`, in the order of [`fill_in_order`] (bottom-left fill). Returns
    /// the rest.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub(crate) fn fill(
        &self,
        build: &mut BuildState,
        pool: &[usize],
        max_top: i32,
    ) -> Result<Vec<usize>, Cancelled> {
        let rule = PlacementRule::lowest_top(max_top);
        let insert = |copy, item| build.insert(copy, item, &rule);
        fill_in_order(&self.copies, pool, |copy| copy.size_mm3, self.progress, insert)
    }

    /// Lowers the height of a build as far as the search gets.
    ///
    /// # Errors
    /// [`Stopped`] if cancelled or if `report` says so; the best build reached so far stays.
    pub(crate) fn lower(&mut self, build: &mut BuildState, report: Report) -> Result<(), Stopped> {
        self.lower_cost(build, report)?;
        self.lower_ceiling(build, report)
    }

    /// Rounds of patience with a build.
    fn patience_with(&self, build: &BuildState) -> u32 {
        let n = u32::try_from(build.placements.len()).unwrap_or(u32::MAX).max(1);
        self.patience * (tuning::PATIENT_PARTS / n).clamp(1, tuning::MAX_PATIENCE)
    }

    fn size(&self, copy: usize) -> f64 {
        self.copies[copy].size_mm3
    }

    /// Σ size × top³: low if parts lie low, the high ones first of all.
    fn height_cost(&self, build: &BuildState) -> f64 {
        let cost = |top: i32| f64::from(top).powi(tuning::HEIGHT_POWER);
        build.placements.iter().map(|p| self.size(p.copy_index) * cost(build.top(p))).sum()
    }
}
