//! What the check of one layer found, and what it looks at.

use crate::build::Build;
use base::finding::VectorsProblem;
use base::{Finding, NM_PER_MM, Point};
use job::Recipe;
use scan_path::{Block, ExposureKind};

/// What one layer's check found.
#[derive(Clone, Debug, Default)]
pub(super) struct Outcome {
    pub(super) findings: Vec<Finding>,
    pub(super) points_tested: u64,
    pub(super) thin_unexposed_mm2: f64,
}

/// The marks of one placement in one layer.
pub(super) struct Marks<'a> {
    pub(super) blocks: Vec<&'a Block>,
}

impl Marks<'_> {
    /// The marks of one kind, or all; from and to.
    pub(super) fn segments(
        &self,
        kind: Option<ExposureKind>,
    ) -> impl Iterator<Item = (Point, Point)> {
        self.blocks
            .iter()
            .filter(move |block| kind.is_none_or(|kind| block.kind == kind))
            .flat_map(|block| block.paths.iter())
            .flat_map(|path| path.windows(2).map(|mark| (mark[0], mark[1])))
    }
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
    /// The recipe of the placement.
    pub(super) fn recipe(&self) -> &Recipe {
        self.build.recipe(&self.build.placed[self.row])
    }

    pub(super) fn fault(&mut self, at_nm: [f64; 2], problem: VectorsProblem) {
        let z = self.build.height_mm(self.layer);
        let finding = Finding::new(problem)
            .at_placement(self.build.named(self.row))
            .at_layers(self.layer, self.layer)
            .at_point([at_nm[0] / NM_PER_MM, at_nm[1] / NM_PER_MM, z]);
        self.outcome.findings.push(finding);
    }
}
