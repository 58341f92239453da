//! The proof of a job's arrangement: clearance between parts and to the walls, and whether every
//! part can be taken out.

use crate::checks;
use crate::load::{
    LoadError, Loaded, load_job_file, load_machine_file, load_part_mesh, load_recipe_file,
};
use base::{Affine, Cancelled, Finding, Kind, NamedPlacement, PlacementId, Progress};
use nesting::{Body, Contact, Proof, Removal, Space, proof, removal};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

/// What was found of an arrangement.
#[derive(Clone, Debug)]
pub struct Clearance {
    /// The clearances asked for and the build space.
    pub space: Space,
    /// What is near what. Bodies are numbered as `placements` are listed.
    pub proof: Proof,
    /// How the parts come out; `None` if they overlap.
    pub removal: Option<Removal>,
    /// The placements that were proven: those whose meshes have a vertex.
    pub placements: Vec<NamedPlacement>,
    /// What is wrong.
    pub findings: Vec<Finding>,
}

impl Clearance {
    /// Whether a finding about a build or its layers is among the clearance's own: out of the build
    /// space, or overlapping.
    pub fn says(&self, finding: &Finding) -> bool {
        let Some(placement) = finding.place.placement.as_ref() else { return false };
        let is_it = |body: usize| self.placements.get(body).is_some_and(|p| p.id == placement.id);
        match finding.kind() {
            Kind::OutsideBuildSpace => {
                self.proof.walls.iter().any(|w| is_it(w.body) && w.distance_mm < 0.0)
            }
            Kind::PlacementsOverlap => {
                self.proof.pairs.iter().any(|pair| {
                    pair.contact == Contact::Overlap && pair.bodies.into_iter().any(is_it)
                })
            }
            _ => false,
        }
    }
}

/// Proves that the arrangement of a job keeps the job's clearances, exactly and without voxels. The
/// poses are those that are built: rotated, scaled against shrinkage, moved.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn prove_clearance(loaded: &Loaded, progress: &Progress) -> Result<Clearance, Cancelled> {
    let space = space(loaded);
    let mut bodies = Vec::new();
    let mut placements = Vec::new();
    for (id, pose) in poses(loaded) {
        bodies.push(Body { solid: loaded.meshes[loaded.parts[id.part].0].solid(), pose });
        placements.push(loaded.named(id));
    }
    let proof = proof(&bodies, &space, progress)?;
    let mut findings = checks::clearance(&proof, &space, &placements);
    let overlaps = proof.pairs.iter().any(|p| p.contact == Contact::Overlap);
    // Of parts that overlap, none is ahead of the other.
    let removal = if overlaps { None } else { Some(removal(&bodies, progress)?) };
    findings.extend(removal.iter().flat_map(|found| checks::removal(found, &placements)));
    Ok(Clearance { space, proof, removal, placements, findings })
}

/// Indexes the meshes of a job for exact distances, which otherwise happens when the first of them is asked
/// for: a search with a time limit should not begin with it, since it cannot be ended in the middle. A
/// million triangles take a second or two.
///
/// # Errors
/// [`Cancelled`] on request; asked before each mesh.
pub fn index_meshes(loaded: &Loaded, progress: &Progress) -> Result<(), Cancelled> {
    progress.add_total(loaded.meshes.len() as u64);
    loaded.meshes.par_iter().try_for_each(|mesh| {
        progress.check()?;
        mesh.solid().surface();
        progress.advance(1)
    })
}

/// Proves the arrangement of a job that was written from `loaded`, read back from its file: poses, machine and
/// recipes are those of the files. Meshes are not read again; each part has that of the part of its name.
///
/// # Errors
/// [`LoadError`] if the file or one that it names cannot be read, or on cancellation.
pub fn prove_written_job(
    path: &Path,
    loaded: &Loaded,
    progress: &Progress,
) -> Result<Clearance, LoadError> {
    let folder = path.parent().unwrap_or(Path::new(""));
    let job = load_job_file(path)?;
    let machine = load_machine_file(&folder.join(&job.machine))?;
    let known: BTreeMap<&str, usize> = loaded
        .job
        .parts
        .iter()
        .zip(&loaded.parts)
        .map(|(part, (mesh, _))| (part.name.as_str(), *mesh))
        .collect();
    let written = Loaded::assemble(
        job,
        machine,
        |file| load_recipe_file(&folder.join(file)),
        |part| match known.get(part.name.as_str()) {
            Some(mesh) => Ok(Arc::clone(&loaded.meshes[*mesh])),
            None => load_part_mesh(folder, part, progress).map(Arc::new),
        },
    )?;
    Ok(prove_clearance(&written, progress)?)
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

/// The pose of every placement whose mesh has a vertex, part by part and copy by copy.
pub(crate) fn poses(loaded: &Loaded) -> impl Iterator<Item = (PlacementId, Affine)> {
    loaded.job.placements().filter_map(|(id, placement)| {
        let (mesh, recipe) = loaded.parts[id.part];
        let (mesh, scale) = (&loaded.meshes[mesh].mesh, loaded.recipes[recipe].recipe.scale());
        let pose = || placement.pose(mesh.vertices.iter().copied(), scale);
        (!mesh.vertices.is_empty()).then(|| (id, pose()))
    })
}
