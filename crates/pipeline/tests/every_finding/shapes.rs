//! Shapes that do not come out as they are drawn, and parts that warm unevenly.

use crate::jobs::{Pose, build, loaded, standing};
use crate::solids::{cube, cuboid, frame, joined, moved, reversed};
use crate::{Provoked, found};
use base::Progress;
use mesh::Mesh;
use pipeline::{Build, shape_findings};

fn looked_at(mesh: Mesh) -> Provoked {
    let pose: &[Pose] = &[([0.0, 0.0, 60.0], [0.0; 3])];
    let loaded = loaded(&[("part", Some(mesh), pose)], |_| {});
    found(shape_findings(&loaded, &Progress::default()).unwrap())
}

pub(crate) fn trapped_powder() -> Provoked {
    looked_at(joined(&cube(10.0), &reversed(&cuboid([3.0; 3], [7.0; 3]))))
}

/// A hole 2 mm wide through 48 mm.
pub(crate) fn deep_passage() -> Provoked {
    let mut mesh = frame([0, 1, 2], [4.0, 4.0], 6.0);
    mesh.vertices.iter_mut().for_each(|v| v[2] *= 8.0);
    looked_at(mesh)
}

pub(crate) fn weak_wall() -> Provoked {
    looked_at(cuboid([0.0; 3], [10.0, 10.0, 0.5]))
}

pub(crate) fn narrow_gap() -> Provoked {
    looked_at(joined(&cube(10.0), &moved(&cube(10.0), [10.4, 0.0, 0.0])))
}

fn heat(build: &Build) -> Provoked {
    let survey = build.survey(&Progress::default(), &mut |_| Ok(())).unwrap();
    found(build.heat_findings(&survey))
}

/// An eighth of the bed at once.
pub(crate) fn flat_start() -> Provoked {
    heat(&standing(&cuboid([0.0; 3], [60.0, 60.0, 0.3])))
}

pub(crate) fn near_wall() -> Provoked {
    heat(&build(&cuboid([0.0; 3], [10.0, 10.0, 1.0]), &[([83.0, 0.0, 0.5], [0.0; 3])]))
}

/// Lines 3 mm long at 2 m/s: the next one comes back after some 3 ms, where 10 ms are wanted.
pub(crate) fn reheated_soon() -> Provoked {
    let block = cuboid([0.0; 3], [3.0, 3.0, 0.3]);
    let pose: &[Pose] = &[([0.0, 0.0, 0.15], [0.0; 3])];
    let mut loaded = loaded(&[("part", Some(block), pose)], |_| {});
    loaded.recipes[0].recipe.shortest_return_ms = Some(10.0);
    let build = Build::new(loaded, &Progress::default()).unwrap();
    let survey = build.survey(&Progress::default(), &mut |_| Ok(())).unwrap();
    found(build.layer_findings(&survey.report))
}

pub(crate) fn long_along_spreading() -> Provoked {
    heat(&standing(&cuboid([0.0; 3], [5.0, 100.0, 0.5])))
}
