//! The proof of a job's arrangement: clearance between parts and to the walls, and whether every
//! part can be taken out.

use crate::load::Loaded;
use base::{Affine, Cancelled, Finding, Progress};
use nesting::{Body, Proof, Removal, Solid, Space, proof, removal};
use std::sync::Arc;

/// What was found of an arrangement.
#[derive(Clone, Debug)]
pub struct Clearance {
    /// The clearances asked for and the build space.
    pub space: Space,
    /// What is near what. Parts are numbered as the placements of the job, from 0.
    pub proof: Proof,
    /// How the parts come out; `None` if they overlap.
    pub removal: Option<Removal>,
    /// Names of the parts, by placement.
    pub names: Vec<String>,
    /// What is wrong.
    pub findings: Vec<Finding>,
}

impl Clearance {
    /// Whether a finding about a build or its layers is among the clearance's own: out of the build
    /// space, or overlapping.
    pub fn says(&self, finding: &Finding) -> bool {
        let Some(placement) = finding.place.placement.map(|number| number as usize) else {
            return false;
        };
        match finding.kind.as_ref() {
            "outside_build_space" => {
                self.proof.walls.iter().any(|w| w.body == placement && w.distance_mm < 0.0)
            }
            "placements_overlap" => self.proof.pairs.iter().any(|pair| {
                pair.contact == nesting::Contact::Overlap && pair.bodies.contains(&placement)
            }),
            _ => false,
        }
    }
}

/// Proves that the arrangement of a job keeps the job's clearances, exactly and without voxels. The
/// poses are those that are built: turned, scaled against shrinkage, moved.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn prove_clearance(loaded: &Loaded, progress: &Progress) -> Result<Clearance, Cancelled> {
    let space = space(loaded);
    let solids: Vec<Arc<Solid>> = loaded.meshes.iter().map(|mesh| mesh.solid()).collect();
    let mut bodies = Vec::new();
    let mut names = Vec::new();
    for (part, _, pose) in placements(loaded) {
        let solid = Arc::clone(&solids[loaded.parts[part].0]);
        bodies.push(Body { solid, pose });
        names.push(loaded.job.parts[part].name.clone());
    }
    let name = |number: usize| names.get(number).cloned().unwrap_or_default();
    let proof = proof(&bodies, &space, progress)?;
    let mut findings = proof.findings(&space, name);
    let overlaps = proof.pairs.iter().any(|p| p.contact == nesting::Contact::Overlap);
    // Of parts that overlap, none is ahead of the other.
    let removal = if overlaps { None } else { Some(removal(&bodies, progress)?) };
    findings.extend(removal.iter().flat_map(|r| r.findings(name)));
    Ok(Clearance { space, proof, removal, names, findings })
}

/// Whether the proof of one arrangement is the proof of another: the same surfaces at the same places
/// in the same space, to be kept apart as far.
pub fn is_arranged_alike(a: &Loaded, b: &Loaded) -> bool {
    let part = |of: &Loaded, part: usize| {
        let (mesh, recipe) = of.parts[part];
        (Arc::as_ptr(&of.meshes[mesh]), of.recipes[recipe].recipe.scale().map(f64::to_bits))
    };
    space(a) == space(b)
        && a.job.parts.len() == b.job.parts.len()
        && a.job.parts.iter().zip(&b.job.parts).enumerate().all(|(k, (p, q))| {
            part(a, k) == part(b, k) && p.name == q.name && p.placements == q.placements
        })
}

/// The build space, with the clearances that the job asks for.
pub(crate) fn space(loaded: &Loaded) -> Space {
    let job::Clearances { parts_mm, walls_mm } = loaded.job.clearances;
    let size_mm = loaded.machine.build_space_mm;
    Space { size_mm, wall_clearance_mm: walls_mm, clearance_mm: parts_mm }
}

/// Part, number within the part and pose of every placement, in the order of their numbers.
pub(crate) fn placements(loaded: &Loaded) -> impl Iterator<Item = (usize, usize, Affine)> {
    loaded.job.parts.iter().enumerate().flat_map(move |(part, entry)| {
        let (mesh, recipe) = loaded.parts[part];
        let (mesh, scale) = (&loaded.meshes[mesh].mesh, loaded.recipes[recipe].recipe.scale());
        entry
            .placements
            .iter()
            .enumerate()
            .filter(move |_| !mesh.vertices.is_empty())
            .map(move |(number, p)| (part, number, p.pose(mesh.vertices.iter().copied(), scale)))
    })
}
