//! What the check of one layer found, and what it looks at.

use super::grid::Xy;
use crate::build::Build;
use crate::checks::LayerReport;
use base::finding::VectorsProblem;
use base::{Finding, NM_PER_MM};
use scan_path::Block;

/// What one layer's check found.
#[derive(Clone, Debug, Default)]
pub(super) struct Outcome {
    pub(super) findings: Vec<Finding>,
    pub(super) points_tested: u64,
    pub(super) thin_unexposed_mm2: f64,
    /// Which placements overlap.
    pub(super) report: LayerReport,
}

/// The marks of one placement in one layer.
#[derive(Default)]
pub(super) struct Marks<'a> {
    pub(super) blocks: Vec<&'a Block>,
    /// Where each block stands in the layer.
    pub(super) numbers: Vec<usize>,
}

/// One placement in one layer, and where to say what is wrong with it.
pub(super) struct Check<'a> {
    pub(super) build: &'a Build,
    pub(super) layer: u32,
    /// Row of the placement table.
    pub(super) row: usize,
    pub(super) outcome: &'a mut Outcome,
}

impl Check<'_> {
    pub(super) fn fault(&mut self, at_nm: [f64; 2], problem: VectorsProblem) {
        let z = self.build.height_mm(self.layer);
        let finding = Finding::new(problem)
            .at_placement(self.build.named(self.row))
            .at_layers(self.layer, self.layer)
            .at_point([at_nm[0] / NM_PER_MM, at_nm[1] / NM_PER_MM, z]);
        self.outcome.findings.push(finding);
    }
}

/// Faults of one kind: how many or how much, and where the first is.
#[derive(Default)]
pub(super) struct Tally {
    pub(super) amount: f64,
    pub(super) count: u64,
    first: Option<Xy>,
}

impl Tally {
    pub(super) fn add(&mut self, at: Xy, amount: f64) {
        self.amount += amount;
        self.count += 1;
        self.first.get_or_insert(at);
    }

    pub(super) fn report(&self, check: &mut Check, problem: impl FnOnce(&Self) -> VectorsProblem) {
        if let Some(at) = self.first {
            check.fault(at, problem(self));
        }
    }
}
