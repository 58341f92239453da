//! The look at every shape of a job before it is built: powder that stays in, thin walls, narrow gaps.
//!
//! Sizes are those of the finished part, so that one look serves all copies, wherever they stand.

use crate::checks::{BedPowder, shape};
use crate::load::{Loaded, LoadedMesh};
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

impl LoadedMesh {
    /// Looks at the shape; see [`look_at_shape`].
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn look_at_shape(
        &self,
        limits: &Limits,
        progress: &Progress,
    ) -> Result<ShapeLook, Cancelled> {
        let solid = self.solid();
        look_at_shape(&self.mesh, solid.surface().tree(), &self.health, limits, progress)
    }
}

/// The meshes of a job, by number, each with the limits that it is to be looked at for, once.
pub fn shapes_to_look_at(loaded: &Loaded) -> Vec<(usize, Limits)> {
    let mut wanted = Vec::new();
    for (mesh, recipe) in loaded.parts.iter().copied().collect::<BTreeSet<_>>() {
        let look = (mesh, loaded.recipes[recipe].recipe.limits);
        if !wanted.contains(&look) {
            wanted.push(look);
        }
    }
    wanted
}

/// Looks at every mesh of a job, once for the limits of each recipe that it is made with. Meshes come one after
/// the other, each on all threads, so that memory does not grow with their number.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn shape_findings(loaded: &Loaded, progress: &Progress) -> Result<Vec<Finding>, Cancelled> {
    let wanted = shapes_to_look_at(loaded);
    progress.add_total(wanted.len() as u64);
    let mut looks = Vec::new();
    for (mesh, limits) in wanted {
        looks.push(((mesh, limits), loaded.meshes[mesh].look_at_shape(&limits, progress)?));
        progress.advance(1)?;
    }
    let known = |mesh, limits: &Limits| {
        let is_it = |((m, l), _): &&((usize, Limits), ShapeLook)| (*m, l) == (mesh, limits);
        looks.iter().find(is_it).map(|(_, look)| look)
    };
    Ok(known_shape_findings(loaded, known))
}

/// What is known of the shapes of a job, by the number of the mesh and the limits that it was looked at for.
pub fn known_shape_findings<'a>(
    loaded: &Loaded,
    look_of: impl Fn(usize, &Limits) -> Option<&'a ShapeLook>,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (mesh, recipe) in loaded.parts.iter().copied().collect::<BTreeSet<_>>() {
        let (file, recipe) = (&loaded.meshes[mesh].file, &loaded.recipes[recipe].recipe);
        let Some(look) = look_of(mesh, &recipe.limits) else { continue };
        for finding in look.findings(Some(recipe)) {
            let finding = finding.at_part(file);
            if !findings.contains(&finding) {
                findings.push(finding);
            }
        }
    }
    findings
}

/// Whether a finding about a mesh is said anew, and better, by those of shapes: cavities, one by one.
pub fn is_told_by_shapes(finding: &Finding, shapes: &[Finding]) -> bool {
    let (kind, part) = (finding.kind(), finding.place.part.as_ref());
    let is_of_it = |f: &Finding| f.kind() == Kind::TrappedPowder && f.place.part.as_ref() == part;
    kind == Kind::Cavities && part.is_some() && shapes.iter().any(is_of_it)
}

/// Adds what was found of shapes. Closed cavities that get findings of their own are no longer counted in one.
pub fn replace_with_shapes(findings: &mut Vec<Finding>, shapes: Vec<Finding>) {
    findings.retain(|finding| !is_told_by_shapes(finding, &shapes));
    findings.extend(shapes);
}
