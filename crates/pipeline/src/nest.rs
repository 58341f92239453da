//! Arranges the parts of a job: copies into the build space, and what does not fit into further
//! jobs.

use crate::clearance::{placements, space};
use crate::load::Loaded;
use crate::write::{OutputError, write_atomically};
use base::{Affine, Cancelled, Finding, Progress, Severity};
use job::{AllowedTurns, Job, NestRules, PartEntry, Placement};
use mesh::Mesh;
use nesting::{
    Arrangement, Figures, Item, Locked, NestError, Options, Placed, Space, Turns, boxes_baseline,
    figures, nest, settle,
};
use std::io::Write;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

/// What came of nesting a job.
#[derive(Clone, Debug)]
pub struct Nested {
    /// The builds in the order in which they should run; paths as in the job that was nested.
    pub jobs: Vec<Job>,
    /// Figures of each build.
    pub figures: Vec<Figures>,
    /// Layers of the arrangement that the job had, or, if it had none, of the parts' bounding boxes
    /// packed in the same way.
    pub before: Before,
    /// Whether the search ended by itself.
    pub converged: bool,
    /// What did not fit.
    pub findings: Vec<Finding>,
}

/// What nesting is compared with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Before {
    /// The placements that the job had, so many layers.
    Placements(u32),
    /// Bottom-left-fill of bounding boxes with the same turns and clearances, so many layers.
    Boxes(u32),
    /// Some part is too wide.
    Nothing,
}

/// Arranges all copies that the job asks for, with the job's clearances. `on_better` is told of every better arrangement;
/// false stops the search, as cancelling `progress` does: what there is then is returned.
///
/// # Errors
/// [`NestError`] for parts or a space that cannot be, or if stopped before the first arrangement.
pub fn nest_job(
    loaded: &Loaded,
    options: &Options,
    progress: &Progress,
    on_better: &mut dyn FnMut(&Arrangement) -> bool,
) -> Result<Nested, NestError> {
    let space = space(loaded);
    let bases: Vec<Affine> = loaded.job.parts.iter().map(base_turn).collect();
    let items: Vec<Item> = (0..bases.len()).map(|part| item(loaded, part, &bases[part])).collect();
    let mut locked = Vec::new();
    for (part, number, pose) in placements(loaded) {
        let rules = loaded.job.parts[part].nest.as_ref();
        if rules.is_some_and(|r| r.locked.iter().any(|l| *l as usize == number)) {
            locked.push(Locked { item: part, pose: pose * transposed(&bases[part]) });
        }
    }
    let mut arrangement = nest(&items, &locked, &space, options, progress, on_better)?;
    let thickness = loaded.recipes[0].recipe.layer_thickness_mm;
    // Some seconds at most, and wanted of a search that was stopped, too.
    let quiet = Progress::default();
    if !arrangement.converged {
        for build in &mut arrangement.builds {
            settle(&items, build, &space, 10, &quiet)?;
        }
    }
    let each = |build: &Vec<Placed>| figures(&items, build, &space, thickness, &quiet);
    let figures = arrangement.builds.iter().map(each).collect::<Result<Vec<_>, Cancelled>>()?;
    let jobs =
        arrangement.builds.iter().enumerate().map(|(number, build)| {
            job_of(loaded, &bases, build, (number, arrangement.builds.len()))
        });
    Ok(Nested {
        jobs: jobs.collect(),
        figures,
        before: before(loaded, &items, &space, thickness)?,
        converged: arrangement.converged,
        findings: unplaced(loaded, &arrangement),
    })
}

/// Writes a job to a temporary file beside `path`, then renames it. Its paths, relative to `from`,
/// the folder of the job that it was made of, are made relative to the folder of `path`.
///
/// # Errors
/// If the file cannot be written.
pub fn write_job(job: &Job, from: &Path, path: &Path) -> Result<(), OutputError> {
    let mut job = job.clone();
    let to = path.parent().unwrap_or(Path::new(""));
    for file in paths(&mut job) {
        *file = rebased(file, from, to);
    }
    write_atomically(path, |out| {
        out.write_all(job.to_ron().as_bytes())
            .map_err(|source| OutputError::Io { path: path.to_owned(), source })
    })
}

fn paths(job: &mut Job) -> impl Iterator<Item = &mut String> {
    let parts =
        job.parts.iter_mut().flat_map(|p| std::iter::once(&mut p.mesh).chain(&mut p.recipe));
    [&mut job.machine, &mut job.recipe].into_iter().chain(parts)
}

/// A path relative to one folder as seen from another.
fn rebased(file: &str, from: &Path, to: &Path) -> String {
    let whole = |p: &Path| std::path::absolute(p).map(|p| plain(&p));
    let (Ok(target), Ok(folder)) = (whole(&from.join(file)), whole(&to.join("."))) else {
        return file.to_owned();
    };
    let common = target.iter().zip(folder.iter()).take_while(|(a, b)| a == b).count();
    if common == 0 {
        return target.to_string_lossy().replace('\\', "/"); // another drive
    }
    let up = folder.iter().skip(common).map(|_| "..".to_owned());
    let down = target.iter().skip(common).map(|c| c.to_string_lossy().into_owned());
    up.chain(down).collect::<Vec<_>>().join("/")
}

/// Without `.` and `..`.
fn plain(path: &Path) -> PathBuf {
    let mut all = PathBuf::new();
    for part in path.components() {
        match part {
            Component::ParentDir => {
                all.pop();
            }
            Component::CurDir => {}
            other => all.push(other),
        }
    }
    all
}

/// The way up from which a part's allowed turns count.
fn base_turn(part: &PartEntry) -> Affine {
    let turns = part.nest.as_ref().map_or(AllowedTurns::default(), |n| n.turns);
    match (turns, part.placements.first()) {
        (AllowedTurns::Fixed | AllowedTurns::KeepUp, Some(first)) => {
            Affine::turns_deg(first.turns_deg)
        }
        _ => Affine::IDENTITY,
    }
}

/// The inverse of a turn.
fn transposed(turn: &Affine) -> Affine {
    let mut map = Affine::IDENTITY;
    for i in 0..3 {
        for j in 0..3 {
            map.rows[i][j] = turn.rows[j][i];
        }
    }
    map
}

fn item(loaded: &Loaded, part: usize, base: &Affine) -> Item {
    let entry = &loaded.job.parts[part];
    let (mesh, recipe) = loaded.parts[part];
    let mesh = &loaded.meshes[mesh].mesh;
    let rules = entry.nest.clone().unwrap_or_default();
    let placed = u32::try_from(entry.placements.len()).unwrap_or(u32::MAX);
    Item {
        name: entry.name.clone(),
        mesh: if *base == Affine::IDENTITY {
            Arc::clone(mesh)
        } else {
            let vertices = mesh.vertices.iter().map(|v| base.apply(*v)).collect();
            Arc::new(Mesh { vertices, triangles: mesh.triangles.clone() })
        },
        scale: loaded.recipes[recipe].recipe.scale(),
        quantity: rules.quantity.unwrap_or(placed),
        turns: match rules.turns {
            AllowedTurns::Fixed => Turns::Fixed,
            AllowedTurns::KeepUp => Turns::FaceUp { steps: 24 },
            AllowedTurns::Axes => Turns::Axis24,
            AllowedTurns::Any => Turns::Free { samples: 48 },
        },
        due: rules.due,
    }
}

/// The job of one build: the parts that have copies in it, locked ones first.
fn job_of(
    loaded: &Loaded,
    bases: &[Affine],
    build: &[Placed],
    (number, of): (usize, usize),
) -> Job {
    let mut job = loaded.job.clone();
    if of > 1 {
        job.name = format!("{}, build {}", job.name, number + 1);
    }
    for (part, entry) in job.parts.iter_mut().enumerate() {
        let (mesh, recipe) = loaded.parts[part];
        let (mesh, scale) = (&loaded.meshes[mesh].mesh, loaded.recipes[recipe].recipe.scale());
        let was = std::mem::take(&mut entry.placements);
        let rules = entry.nest.take().unwrap_or_default();
        let mut locked = rules.locked.iter();
        for p in build.iter().filter(|p| p.item == part) {
            // A locked placement stays as it was written, to the last digit.
            let kept =
                if p.locked { locked.next().and_then(|l| was.get(*l as usize)) } else { None };
            let placement =
                kept.copied().unwrap_or_else(|| placement(mesh, &(p.pose * bases[part]), scale));
            entry.placements.push(placement);
        }
        let count = build.iter().filter(|p| p.item == part && p.locked).count();
        let locked = (0..u32::try_from(count).unwrap_or(0)).collect();
        entry.nest = Some(NestRules { quantity: None, locked, ..rules });
    }
    job.parts.retain(|part| !part.placements.is_empty());
    job
}

/// The placement whose pose this is.
fn placement(mesh: &Mesh, pose: &Affine, scale: [f64; 3]) -> Placement {
    /// Ten picometres: no digit beyond means anything, and the proof looks at what is written.
    const DIGITS: f64 = 1e8;
    let tidy = |x: f64| (x * DIGITS).round() / DIGITS + 0.0;
    let mut r = [[0.0; 3]; 3];
    for (i, row) in r.iter_mut().enumerate() {
        for (k, c) in row.iter_mut().enumerate() {
            *c = pose.rows[i][k] / scale[i];
        }
    }
    let (low, high) = crate::load::bounds_under(mesh, pose).unwrap_or_default();
    Placement {
        location_mm: [0, 1, 2].map(|k| tidy(f64::midpoint(low[k], high[k]))),
        turns_deg: turns_deg(&r).map(tidy),
    }
}

/// The turns A about X, B about Y, C about Z, degrees, of `Rz(C)·Ry(B)·Rx(A)`.
fn turns_deg(r: &[[f64; 3]; 3]) -> [f64; 3] {
    let b = (-r[2][0]).clamp(-1.0, 1.0).asin();
    // Looking along X, only the sum of A and C counts.
    let [a, c] = if r[2][0].abs() > 1.0 - 1e-12 {
        [0.0, (-r[0][1]).atan2(r[1][1])]
    } else {
        [r[2][1].atan2(r[2][2]), r[1][0].atan2(r[0][0])]
    };
    [a, b, c].map(f64::to_degrees)
}

fn before(
    loaded: &Loaded,
    items: &[Item],
    space: &Space,
    thickness: f64,
) -> Result<Before, Cancelled> {
    let complete = loaded
        .job
        .parts
        .iter()
        .zip(items)
        .all(|(part, item)| u32::try_from(part.placements.len()) == Ok(item.quantity));
    let layers = |height: f64| job::layers::layer_count(height, thickness);
    if complete {
        let meshes = placements(loaded)
            .map(|(part, _, pose)| (&*loaded.meshes[loaded.parts[part].0].mesh, pose));
        let top = nesting::bounds_of(meshes).map_or(0.0, |(_, hi)| hi[2]);
        return Ok(Before::Placements(layers(top)));
    }
    let Ok(boxes) = boxes_baseline(items, space) else { return Ok(Before::Nothing) };
    let f = figures(items, &boxes, space, thickness, &Progress::default())?;
    Ok(Before::Boxes(f.layers))
}

fn unplaced(loaded: &Loaded, arrangement: &Arrangement) -> Vec<Finding> {
    let parts = loaded.job.parts.iter().enumerate();
    parts
        .filter_map(|(part, entry)| {
            let n = arrangement.unplaced.iter().filter(|(item, _)| *item == part).count();
            let sentence = format!(
                "{n} copies fit no build, in none of the turns allowed. Allow more turns or builds, \
                 or less clearance."
            );
            let stop = Finding::new(Severity::Stop, "unplaced", sentence);
            (n > 0).then(|| stop.at_part(&entry.name))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_are_found_again() {
        for a in [-170.0, -90.0, 0.0, 12.5, 90.0, 180.0] {
            for b in [-90.0, -45.0, 0.0, 30.0, 90.0] {
                for c in [-120.0, 0.0, 90.0, 180.0] {
                    let map = Affine::turns_deg([a, b, c]);
                    let r = map.rows.map(|row| [row[0], row[1], row[2]]);
                    let again = Affine::turns_deg(turns_deg(&r));
                    for (row, other) in map.rows.iter().zip(again.rows) {
                        assert!((0..3).all(|k| (row[k] - other[k]).abs() < 1e-12), "{a} {b} {c}");
                    }
                }
            }
        }
    }

    #[test]
    fn paths_are_seen_from_the_new_folder() {
        let seen = |file, from, to| rebased(file, Path::new(from), Path::new(to));
        assert_eq!(seen("../assets/a.stl", "demo-jobs", "out/x"), "../../assets/a.stl");
        assert_eq!(seen("a.stl", "", ""), "a.stl");
        assert_eq!(seen("sub/a.stl", "jobs", "jobs"), "sub/a.stl");
    }
}
