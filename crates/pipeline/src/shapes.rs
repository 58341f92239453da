//! The look at every shape of a job before it is built: powder that stays in, thin walls, narrow gaps.
//!
//! Sizes are those of the finished part, so that one look serves all copies, wherever they stand.

use crate::checks::{BedPowder, shape};
use crate::load::Loaded;
use base::{Cancelled, Finding, Kind, Progress};
use job::Recipe;
use job::recipe::Limits;
use mesh::powder::{Powder, Question, powder};
use mesh::thickness::{Balls, Side, Spacing, Thin};
use mesh::{HealthReport, Hierarchy, Mesh};
use std::collections::BTreeSet;

/// Powder comes out of passages narrower than the opening that are no deeper than this, in openings. Common
/// practice, no source.
const DEEPEST_OPENINGS: f64 = 5.0;
/// Some 150 MB while one mesh is looked at.
const MOST_VOXELS: usize = 12_000_000;
/// Half a millimetre apart; sparser on large parts.
const SAMPLES: Spacing = Spacing { wanted_mm: 0.5, most: 100_000 };
/// Hollows of a mesh that get a finding of their own, the largest first.
const MOST_POCKETS: usize = 10;

/// What was seen of one mesh, before anybody says what it means.
#[derive(Clone, Debug)]
pub struct ShapeLook {
    /// Powder that stays in; `None` if nobody asks for it.
    pub powder: Option<Powder>,
    /// Walls and gaps below the limits.
    pub thin: [Option<Thin>; 2],
}

/// Looks at a mesh, part frame. Of a mesh that is not closed nothing is told: its health report says so, and
/// what is inside of it is a guess.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn look_at_shape(
    mesh: &Mesh,
    tree: &Hierarchy,
    health: &HealthReport,
    limits: &Limits,
    progress: &Progress,
) -> Result<ShapeLook, Cancelled> {
    let mut look = ShapeLook { powder: None, thin: [None; 2] };
    if health.open_edges.count + health.inconsistent_edges.count > 0 {
        return Ok(look);
    }
    let opening_mm = limits.opening().mm;
    if opening_mm > 0.0 {
        let deepest_mm = DEEPEST_OPENINGS * opening_mm;
        let question = Question { opening_mm, deepest_mm, most_voxels: MOST_VOXELS };
        let mut found = powder(mesh, tree, &health.shells, &question, progress)?;
        found.pockets.truncate(MOST_POCKETS);
        look.powder = Some(found);
    }
    let balls = Balls::new(mesh, tree);
    for (k, (side, mm)) in
        [(Side::Inside, limits.wall().mm), (Side::Outside, limits.gap().mm)].into_iter().enumerate()
    {
        if mm > 0.0 {
            look.thin[k] = balls.thinner(side, mm, SAMPLES, progress)?;
        }
    }
    Ok(look)
}

/// Looks at a mesh that is no part of a job, for what is usual.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn look_at_shape_alone(
    mesh: &Mesh,
    health: &HealthReport,
    progress: &Progress,
) -> Result<ShapeLook, Cancelled> {
    look_at_shape(mesh, &Hierarchy::build(mesh), health, &Limits::default(), progress)
}

impl ShapeLook {
    /// What was seen, as findings of a part made with a recipe, whose limits were asked about, or of a mesh
    /// alone with what is usual; places in the part's own frame.
    pub fn findings(&self, recipe: Option<&Recipe>) -> Vec<Finding> {
        let limits = &recipe.map_or_else(Limits::default, |recipe| recipe.limits);
        let deepest_mm = DEEPEST_OPENINGS * limits.opening().mm;
        shape(limits, recipe.map(BedPowder::of), deepest_mm, self.powder.as_ref(), self.thin)
    }
}

/// Looks at every mesh of a job, once for each recipe that it is made with. Meshes come one after the other,
/// each on all threads, so that memory does not grow with their number.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn shape_findings(loaded: &Loaded, progress: &Progress) -> Result<Vec<Finding>, Cancelled> {
    let wanted: BTreeSet<(usize, usize)> = loaded.parts.iter().copied().collect();
    progress.add_total(wanted.len() as u64);
    let mut findings = Vec::new();
    let mut last: Option<(usize, Limits, ShapeLook)> = None;
    for (mesh, recipe) in wanted {
        let (of, recipe) = (&loaded.meshes[mesh], &loaded.recipes[recipe].recipe);
        let known = last.take().filter(|(m, limits, _)| *m == mesh && *limits == recipe.limits);
        let look = if let Some((_, _, look)) = known {
            look
        } else {
            let solid = of.solid();
            let tree = solid.surface().tree();
            look_at_shape(&of.mesh, tree, &of.health, &recipe.limits, progress)?
        };
        for finding in look.findings(Some(recipe)) {
            let finding = finding.at_part(&of.file);
            if !findings.contains(&finding) {
                findings.push(finding);
            }
        }
        last = Some((mesh, recipe.limits, look));
        progress.advance(1)?;
    }
    Ok(findings)
}

/// Adds what was found of shapes. Closed cavities that get findings of their own are no longer counted in one.
pub fn replace_with_shapes(findings: &mut Vec<Finding>, shapes: Vec<Finding>) {
    let trapped: BTreeSet<String> = shapes
        .iter()
        .filter(|finding| finding.kind() == Kind::TrappedPowder)
        .filter_map(|finding| finding.place.part.clone())
        .collect();
    findings.retain(|finding| {
        let part = finding.place.part.as_ref();
        finding.kind() != Kind::Cavities || !part.is_some_and(|part| trapped.contains(part))
    });
    findings.extend(shapes);
}
