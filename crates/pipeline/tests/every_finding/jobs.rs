//! Jobs that are wrong in one way each, and what their layers report.

use crate::solids::{cube, cuboid, joined, moved, obj};
use crate::{Provoked, found};
use base::{Kind, PlacementId, Point, Progress, Unit};
use job::{Acceptance, Job, Machine, NestRules, Recipe};
use mesh::Mesh;
use pipeline::{
    Build, LayerReport, LoadError, Loaded, LoadedMesh, NestRequest, load_machine_file,
    load_part_mesh, load_recipe_file, nest_job, prove_clearance, sorted_by_acceptance,
};
use region::CentrelineError;
use scan_strategy::ThinReport;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Where a placement's bounding box has its middle, and how it is turned.
pub(crate) type Pose = ([f64; 3], [f64; 3]);

/// A part of a job: its name, its mesh unless that is missing, its placements.
pub(crate) type Part<'a> = (&'a str, Option<Mesh>, &'a [Pose]);

fn assets() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets")
}

/// A recipe without facing regions, shrinkage and growth in Z: sizes in the build are those of the
/// meshes.
pub(crate) fn recipe() -> Recipe {
    let mut recipe = load_recipe_file(&assets().join("recipes/pa12_fine.ron")).unwrap();
    recipe.shrinkage_percent = [0.0; 3];
    recipe.z_growth_mm = 0.0;
    recipe
}

/// A machine that does not say how its head moves.
pub(crate) fn machine() -> Machine {
    let mut machine = load_machine_file(&assets().join("machines/bench_co2_30w.ron")).unwrap();
    machine.head = None;
    machine
}

/// A job of these parts.
pub(crate) fn loaded(parts: &[Part], change: impl Fn(&mut Job)) -> Loaded {
    let folder = tempfile::tempdir().unwrap();
    let rows = parts.iter().map(|(name, mesh, poses)| {
        if let Some(mesh) = mesh {
            std::fs::write(folder.path().join(format!("{name}.obj")), obj(mesh)).unwrap();
        }
        let poses = poses.iter().map(|([x, y, z], [a, b, c])| {
            format!("(location_mm: ({x}, {y}, {z}), rotation_deg: ({a}, {b}, {c}))")
        });
        let poses = poses.collect::<Vec<_>>().join(", ");
        format!("(name: \"{name}\", mesh: \"{name}.obj\", placements: [{poses}])")
    });
    let rows = rows.collect::<Vec<_>>().join(", ");
    let text = format!(
        "(version: 3, name: \"test\", machine: \"m.ron\", recipe: \"r.ron\", parts: [{rows}])"
    );
    let mut job = Job::from_ron(&text).unwrap();
    for part in &mut job.parts {
        part.unit = Some(Unit::Millimetre);
    }
    change(&mut job);
    let mesh_of = |part: &job::PartEntry| -> Result<Arc<LoadedMesh>, LoadError> {
        let is_there = folder.path().join(&part.mesh).exists();
        Ok(Arc::new(if is_there {
            load_part_mesh(folder.path(), part, &Progress::default())?
        } else {
            LoadedMesh::absent(part)
        }))
    };
    Loaded::assemble(job, machine(), |_| Ok(recipe()), mesh_of).unwrap()
}

/// A recipe whose file says that it has the form of version 1.
pub(crate) fn earlier_version() -> Provoked {
    found(with_recipe(&cube(10.0), |recipe| recipe.version = 1).findings)
}

/// A cube or the like, made with a recipe that is changed.
fn with_recipe(mesh: &Mesh, change: impl Fn(&mut Recipe)) -> Loaded {
    let mut changed = recipe();
    change(&mut changed);
    let new = loaded(&[("part", Some(mesh.clone()), &[([0.0, 0.0, 5.0], [0.0; 3])])], |_| {});
    let mesh = Arc::clone(&new.meshes[0]);
    let recipe_of = |_: &str| Ok(changed.clone());
    Loaded::assemble(new.job, new.machine, recipe_of, |_| Ok(Arc::clone(&mesh))).unwrap()
}

/// One layer and a half, of which one layer is left out.
pub(crate) fn growth_rounded() -> Provoked {
    found(with_recipe(&cube(10.0), |recipe| recipe.z_growth_mm = 0.13).findings)
}

/// Marks at a twentieth of their speed: twenty times the energy.
pub(crate) fn energy_outside_window() -> Provoked {
    let slow = |recipe: &mut Recipe| {
        recipe.exposures.iter_mut().for_each(|exposure| exposure.speed_mm_s /= 20.0);
    };
    found(with_recipe(&cube(5.0), slow).findings)
}

/// What a job says of its placements, told apart by what it accepts.
fn sorted(parts: &[Part], accepted: &Acceptance) -> Provoked {
    let change = |job: &mut Job| job.parts[0].accepted = vec![accepted.clone()];
    let loaded = loaded(parts, change);
    let found = prove_clearance(&loaded, &Progress::default()).unwrap().findings;
    self::found(sorted_by_acceptance(&loaded.job, found, true).open)
}

fn accepted(kind: Kind, layers: Option<(u32, u32)>) -> Acceptance {
    let reason = "It is a test piece.".to_owned();
    Acceptance { kind, placement: Some(0), layers, says: None, reason }
}

/// A wall that is thick by now.
pub(crate) fn acceptance_gone() -> Provoked {
    let parts: &[Part] = &[("part", Some(cube(10.0)), &[([0.0, 0.0, 40.0], [0.0; 3])])];
    sorted(parts, &accepted(Kind::ThinWallsLost, Some((4, 9))))
}

/// One cube within another, which cannot be built whatever anybody says.
pub(crate) fn not_acceptable() -> Provoked {
    let poses: &[Pose] = &[([0.0, 0.0, 40.0], [0.0; 3]), ([5.0, 0.0, 40.0], [0.0; 3])];
    sorted(&[("part", Some(cube(10.0)), poses)], &accepted(Kind::Overlap, None))
}

pub(crate) fn outside_common_practice() -> Provoked {
    found(with_recipe(&cube(5.0), |recipe| recipe.shrinkage_percent[2] = 8.0).findings)
}

/// A film of one layer beside a block: the melt comes down through one layer.
pub(crate) fn films_lost() -> Provoked {
    let film = moved(&cuboid([0.0; 3], [10.0, 5.0, 0.1]), [20.0, 0.0, 3.0]);
    let mesh = joined(&cuboid([0.0; 3], [5.0, 5.0, 6.0]), &film);
    let loaded = with_recipe(&mesh, |recipe| recipe.z_growth_mm = 0.1);
    of_layers(&Build::new(loaded, &Progress::default()).unwrap())
}

/// The build of one part.
pub(crate) fn build(mesh: &Mesh, poses: &[Pose]) -> Build {
    let loaded = loaded(&[("part", Some(mesh.clone()), poses)], |_| {});
    Build::new(loaded, &Progress::default()).unwrap()
}

/// A part that stands on the platform, in its middle.
pub(crate) fn standing(mesh: &Mesh) -> Build {
    let (low, high) = mesh.bounds().unwrap();
    build(mesh, &[([0.0, 0.0, (high[2] - low[2]) / 2.0], [0.0; 3])])
}

/// The same with a recipe that is changed.
pub(crate) fn standing_with(mesh: &Mesh, change: impl Fn(&mut Recipe)) -> Build {
    let (low, high) = mesh.bounds().unwrap();
    let pose = ([0.0, 0.0, (high[2] - low[2]) / 2.0], [0.0; 3]);
    let mut loaded = loaded(&[("part", Some(mesh.clone()), &[pose])], |_| {});
    loaded.recipes.iter_mut().for_each(|entry| change(&mut entry.recipe));
    Build::new(loaded, &Progress::default()).unwrap()
}

/// What the layers of a build have to report.
pub(crate) fn of_layers(build: &Build) -> Provoked {
    let survey = build.survey(&Progress::default(), &mut |_| Ok(())).unwrap();
    found(build.layer_findings(&survey.report))
}

pub(crate) fn missing_mesh() -> Provoked {
    let there: &[Pose] = &[([0.0, 0.0, 5.0], [0.0; 3])];
    let parts = [("there", Some(cube(10.0)), there), ("lost", None, there)];
    let build = Build::new(loaded(&parts, |_| {}), &Progress::default()).unwrap();
    found(build.findings)
}

pub(crate) fn nothing_to_build() -> Provoked {
    let loaded = loaded(&[("lost", None, &[([0.0, 0.0, 5.0], [0.0; 3])])], |_| {});
    let build = Build::new(loaded, &Progress::default()).unwrap();
    found(build.findings).along(&[Kind::MissingMesh])
}

pub(crate) fn outside_build_space() -> Provoked {
    found(build(&cube(10.0), &[([88.0, 0.0, 5.0], [0.0; 3])]).findings)
}

/// A long bar from where nothing is lost to where a tenth of the power is.
pub(crate) fn uneven_correction() -> Provoked {
    let bar = cuboid([0.0; 3], [100.0, 5.0, 5.0]);
    let mut loaded = loaded(&[("bar", Some(bar), &[([30.0, 0.0, 2.5], [0.0; 3])])], |_| {});
    loaded.machine.field_corrections = [(0.0, 1.0), (80.0, 1.1)]
        .map(|(x_mm, power_factor)| job::machine::FieldCorrection {
            x_mm,
            y_mm: 0.0,
            power_factor,
            offset_change_mm: 0.0,
        })
        .to_vec();
    found(Build::new(loaded, &Progress::default()).unwrap().findings)
}

/// Five cubes of 100 mm for a space that holds two.
pub(crate) fn unplaced() -> Provoked {
    let part = ("cube", Some(cube(100.0)), &[([0.0, 0.0, 60.0], [0.0; 3])][..]);
    let loaded = loaded(&[part], |job| {
        job.parts[0].nest = Some(NestRules { quantity: Some(5), ..NestRules::default() });
    });
    let request =
        NestRequest { max_builds: 1, patience: 1, seconds: Some(1.0), ..NestRequest::default() };
    found(nest_job(&loaded, &request, &Progress::default(), &mut |_| true).unwrap().findings)
}

/// A small part within a large one that fills the space and stays.
pub(crate) fn selection_does_not_fit() -> Provoked {
    let large = cuboid([0.0; 3], [170.0, 170.0, 240.0]);
    let loaded = loaded(
        &[
            ("large", Some(large), &[([0.0, 0.0, 125.0], [0.0; 3])]),
            ("small", Some(cube(50.0)), &[([0.0, 0.0, 125.0], [0.0; 3])]),
        ],
        |_| {},
    );
    let only = Some([PlacementId::new(1, 0)].into());
    let request = NestRequest { only, patience: 1, seconds: Some(1.0), ..NestRequest::default() };
    found(nest_job(&loaded, &request, &Progress::default(), &mut |_| true).unwrap().findings)
}

/// A wall of so many mm, beside a block that has contours.
pub(crate) fn thin_wall(width: f64) -> Provoked {
    let wall = moved(&cuboid([0.0; 3], [width, 10.0, 1.0]), [20.0, 0.0, 0.0]);
    of_layers(&standing(&joined(&cuboid([0.0; 3], [5.0, 5.0, 1.0]), &wall)))
}

/// A block without one triangle of a side.
pub(crate) fn open_sections() -> Provoked {
    let mut mesh = cuboid([0.0; 3], [10.0, 10.0, 1.0]);
    mesh.triangles.pop();
    of_layers(&standing(&mesh))
}

/// A block with one side that faces inwards: its contours meet all the same.
pub(crate) fn inexact_sections() -> Provoked {
    let mut mesh = cuboid([0.0; 3], [10.0, 10.0, 1.0]);
    mesh.triangles[10..].iter_mut().for_each(|triangle| triangle.swap(0, 1));
    of_layers(&standing(&mesh))
}

pub(crate) fn placements_overlap() -> Provoked {
    let mesh = cuboid([0.0; 3], [10.0, 10.0, 1.0]);
    of_layers(&build(&mesh, &[([0.0, 0.0, 0.5], [0.0; 3]), ([5.0, 0.0, 0.5], [0.0; 3])]))
}

/// No mesh is known whose proper sections have no centrelines, so the report is made here.
pub(crate) fn centrelines_failed() -> Provoked {
    let failures = vec![CentrelineError::EdgesCross { at: Point::new(1_000_000, 2_000_000) }];
    let mut report = LayerReport::default();
    report.add_thin_walls(0, 3, 0.35, &ThinReport { failures, ..ThinReport::default() });
    found(standing(&cube(10.0)).layer_findings(&report))
}
