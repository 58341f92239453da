//! What of a mesh will not come out as it is drawn, in findings.

use base::Finding;
use base::finding::{Asked, ShapeProblem};
use job::Recipe;
use job::recipe::{Limit, Limits};
use mesh::powder::Powder;
use mesh::thickness::Thin;

/// The powder around a finished part's size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct BedPowder {
    /// Mass of the powder in the bed where the finished part has 1 mm³, g: parts are built larger.
    g_mm3: f64,
}

impl BedPowder {
    pub(crate) fn of(recipe: &Recipe) -> Self {
        let [x, y, z] = recipe.scale();
        Self { g_mm3: recipe.material.bed_density_g_cm3 * x * y * z / 1000.0 }
    }
}

fn asked(limit: Limit) -> Asked {
    Asked { mm: limit.mm, by_recipe: limit.by_recipe }
}

/// Findings of one mesh, in its own frame: powder, thin walls, narrow gaps.
pub(crate) fn shape(
    limits: &Limits,
    bed: Option<BedPowder>,
    deepest_mm: f64,
    powder: Option<&Powder>,
    thin: [Option<Thin>; 2],
) -> Vec<Finding> {
    let opening = asked(limits.opening());
    let mut findings = Vec::new();
    for pocket in powder.iter().flat_map(|powder| &powder.pockets) {
        let problem = ShapeProblem::TrappedPowder {
            volume_mm3: pocket.volume_mm3,
            uncertainty_mm3: pocket.uncertainty_mm3,
            mass_g: bed.map(|bed| pocket.volume_mm3 * bed.g_mm3),
            is_closed: pocket.is_closed,
            opening,
            hole: pocket.hole.map(|hole| (hole.outside_mm, hole.length_mm)),
        };
        findings.push(Finding::new(problem).at_point(pocket.at_mm));
    }
    if let Some(passage) = powder.and_then(|powder| powder.passage) {
        let problem = ShapeProblem::DeepPassage {
            depth_mm: passage.depth_mm,
            volume_mm3: passage.volume_mm3,
            allowed_mm: deepest_mm,
            opening,
        };
        findings.push(Finding::new(problem).at_point(passage.at_mm));
    }
    let [wall, gap] = thin;
    if let Some(Thin { least_mm, at_mm, area_mm2 }) = wall {
        let wanted = asked(limits.wall());
        let problem = ShapeProblem::WeakWall { least_mm, area_mm2, wanted };
        findings.push(Finding::new(problem).at_point(at_mm));
    }
    if let Some(Thin { least_mm, at_mm, area_mm2 }) = gap {
        let wanted = asked(limits.gap());
        let problem = ShapeProblem::NarrowGap { least_mm, area_mm2, wanted };
        findings.push(Finding::new(problem).at_point(at_mm));
    }
    findings
}
