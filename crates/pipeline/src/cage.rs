//! Puts placements into a cage of thin bars, so that none of them is lost when the part cake is
//! broken out: cage and contents become one part, which nesting and proof take as one body.

use crate::clearance::{poses, space};
use crate::inputs::Inputs;
use crate::load::Loaded;
use crate::write::{OutputError, write_atomically};
use base::{Affine, Cancelled, PlacementId, PlacementName, Progress};
use job::{Job, PartEntry, Placement};
use mesh::Mesh;
use nesting::{Body, CageShape, NestError, cage, proof};
use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use std::path::Path;

/// Why there is no cage.
#[derive(Debug, thiserror::Error)]
pub enum CageError {
    /// None of the placements exists or has a mesh.
    #[error("there is nothing to put into a cage; select parts whose meshes can be read")]
    Nothing,
    /// A cage is one part, and a part has one recipe.
    #[error("{0} and {1} have different recipes; put parts of one recipe into a cage")]
    Recipes(PlacementName, PlacementName),
    /// They would be fused inside the cage, where no proof looks any more.
    #[error("{0} and {1} are nearer to each other than {2} mm; move them apart first")]
    TooNear(PlacementName, PlacementName, f64),
    /// Bars or openings that cannot be.
    #[error(transparent)]
    Shape(#[from] NestError),
    /// Not a failure.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// A cage with its contents.
#[derive(Clone, Debug)]
pub struct Caged {
    /// Both in one, mm, where they stood in the build space, not scaled against shrinkage.
    pub mesh: Mesh,
    /// The job with one placement of it in place of what went in.
    pub job: Job,
}

/// Puts placements into a cage where they stand. The new part is called `name`, and its mesh is to
/// be written to `file`, as the job's folder sees it. Contents and bars keep the clearance of the
/// job.
///
/// # Errors
/// [`CageError`]: nothing to put in, contents too near to each other or of different recipes, bars
/// that cannot be; or on cancellation.
pub fn cage_placements(
    loaded: &Loaded,
    gathered: &BTreeSet<PlacementId>,
    [bar_mm, opening_mm]: [f64; 2],
    name: &str,
    file: &str,
    progress: &Progress,
) -> Result<Caged, CageError> {
    let inside: Vec<(PlacementId, Affine)> =
        poses(loaded).filter(|(id, _)| gathered.contains(id)).collect();
    let Some(&(first, _)) = inside.first() else { return Err(CageError::Nothing) };
    check_contents(loaded, first, &inside, progress)?;
    let mut mesh = contents(loaded, &inside);
    let bounds = mesh.bounds().ok_or(CageError::Nothing)?;
    let clearance_mm = loaded.job.clearances.parts_mm;
    let shape = CageShape { opening_mm, bar_mm, clearance_mm };
    append(&mut mesh, &cage(bounds, &shape)?, &Affine::IDENTITY);
    let (low, high) = mesh.bounds().unwrap_or_default();

    let mut job = loaded.job.clone();
    job.remove_placements(gathered);
    let recipe = loaded.job.parts[first.part].recipe.clone();
    job.parts.push(PartEntry {
        name: job::free_name(name, |name| job.parts.iter().any(|part| part.name == name)),
        mesh: file.to_owned(),
        object: None,
        unit: None,
        recipe,
        nest: None,
        placements: vec![Placement {
            location_mm: [0, 1, 2].map(|k| f64::midpoint(low[k], high[k])),
            rotation_deg: [0.0; 3],
        }],
        exposure_changes: BTreeMap::new(),
        accepted: Vec::new(),
    });
    Ok(Caged { mesh, job })
}

/// Whether the contents have the recipe of the first and keep the clearance of the job.
fn check_contents(
    loaded: &Loaded,
    first: PlacementId,
    inside: &[(PlacementId, Affine)],
    progress: &Progress,
) -> Result<(), CageError> {
    let name = |id: PlacementId| loaded.named(id).name;
    let recipe = |id: PlacementId| loaded.parts[id.part].1;
    let mut others = inside.iter().map(|&(id, _)| id);
    if let Some(other) = others.find(|id| recipe(*id) != recipe(first)) {
        return Err(CageError::Recipes(name(first), name(other)));
    }
    let bodies: Vec<Body> = inside
        .iter()
        .map(|&(id, pose)| Body { solid: loaded.meshes[loaded.parts[id.part].0].solid(), pose })
        .collect();
    let space = space(loaded);
    if let Some(near) = proof(&bodies, &space, progress)?.pairs.iter().find(|pair| pair.violates) {
        let [a, b] = near.bodies.map(|n| name(inside[n].0));
        return Err(CageError::TooNear(a, b, space.clearance_mm));
    }
    Ok(())
}

/// The contents in one mesh, not scaled: the new part is scaled as a whole, so distances inside
/// grow a little, too.
fn contents(loaded: &Loaded, inside: &[(PlacementId, Affine)]) -> Mesh {
    let mut whole = Mesh::default();
    for (id, _) in inside {
        let mesh = &loaded.meshes[loaded.parts[id.part].0].mesh;
        let placement = &loaded.job.parts[id.part].placements[id.copy];
        append(&mut whole, mesh, &placement.pose(mesh.vertices.iter().copied(), [1.0; 3]));
    }
    whole
}

fn append(whole: &mut Mesh, mesh: &Mesh, pose: &Affine) {
    let first = u32::try_from(whole.vertices.len()).unwrap_or(u32::MAX);
    whole.vertices.extend(mesh.vertices.iter().map(|v| pose.apply(*v)));
    whole.triangles.extend(mesh.triangles.iter().map(|t| t.map(|v| v.saturating_add(first))));
}

/// Writes a mesh as OBJ, every coordinate to its last digit: to a temporary file beside `path`, then
/// renamed. `inputs` are the files of the job that it was made from.
///
/// # Errors
/// If the file cannot be written.
pub fn write_mesh(mesh: &Mesh, path: &Path, inputs: &Inputs) -> Result<(), OutputError> {
    write_atomically(path, inputs, |out| {
        let mut write = || {
            writeln!(out, "# millimetres")?;
            for [x, y, z] in &mesh.vertices {
                writeln!(out, "v {x} {y} {z}")?;
            }
            for [a, b, c] in &mesh.triangles {
                writeln!(
                    out,
                    "f {} {} {}",
                    u64::from(*a) + 1,
                    u64::from(*b) + 1,
                    u64::from(*c) + 1
                )?;
            }
            Ok(())
        };
        write().map_err(|source| OutputError::Io { path: path.to_owned(), source })
    })
}
