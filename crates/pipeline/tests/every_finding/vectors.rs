//! Vector files that are whole, but do not build the job's parts.

use crate::jobs::standing_with;
use crate::solids::{cuboid, joined};
use crate::{Provoked, found};
use base::{Kind, Point, Progress};
use job::Recipe;
use job::recipe::{FacingStrategy, Travel};
use mesh::Mesh;
use pipeline::{Build, verify_against};
use scan_path::{
    Block, ExposureKind, Header, Layer, Paths, RegionKind, VectorWriter, encode_layer,
};

/// The layer in which faults are planted.
const LAYER: usize = 1;

/// Writes the layers of a part with a fault in one of them, and verifies the file.
fn verified(mesh: &Mesh, fault: impl FnOnce(&mut Layer, &mut Header)) -> Provoked {
    verified_with(mesh, |_| {}, fault)
}

/// The same with a recipe that is changed before.
fn verified_with(
    mesh: &Mesh,
    change: impl Fn(&mut Recipe),
    fault: impl FnOnce(&mut Layer, &mut Header),
) -> Provoked {
    verified_build(&standing_with(mesh, change), fault)
}

/// The same with any build.
pub(crate) fn verified_build(
    build: &Build,
    fault: impl FnOnce(&mut Layer, &mut Header),
) -> Provoked {
    let progress = Progress::default();
    let mut layers: Vec<Layer> =
        (0..build.layer_count()).map(|k| build.layer(k, &progress).unwrap().layer).collect();
    let mut header = build.header.clone();
    fault(&mut layers[LAYER], &mut header);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("planted.hwv");
    let mut writer =
        VectorWriter::new(std::fs::File::create(&path).unwrap(), header.clone()).unwrap();
    for layer in &layers {
        writer.push(encode_layer(layer, &header).unwrap()).unwrap();
    }
    writer.finish().unwrap();
    found(verify_against(&path, build, &progress).unwrap().findings)
}

fn block() -> Mesh {
    cuboid([0.0; 3], [6.0, 6.0, 0.3])
}

/// A block whose hatch in one layer is changed.
fn hatched(fault: impl FnOnce(&mut Vec<[Point; 2]>)) -> Provoked {
    verified(&block(), |layer, _| {
        let hatch = layer.blocks.iter_mut().find(|b| b.kind == ExposureKind::Hatch).unwrap();
        let Paths::Segments(marks) = &mut hatch.paths else { panic!("hatch is single marks") };
        fault(marks);
    })
}

fn longest(marks: &[[Point; 2]]) -> usize {
    let length = |i: &usize| marks[*i][0].distance(marks[*i][1]);
    (0..marks.len()).max_by(|a, b| length(a).total_cmp(&length(b))).unwrap()
}

/// The point at this fraction of the way along a mark, or beyond it.
fn along([a, b]: [Point; 2], fraction: f64) -> Point {
    #[expect(clippy::cast_possible_truncation, reason = "a few mm")]
    let at = |a: i32, b: i32| a + (f64::from(b - a) * fraction).round() as i32;
    Point::new(at(a.x, b.x), at(a.y, b.y))
}

pub(crate) fn header_differs() -> Provoked {
    verified(&block(), |_, header| header.exposures[0].power_w += 1.0)
}

/// The file says that the machine was another, though nothing that matters is.
pub(crate) fn sources_changed() -> Provoked {
    verified(&block(), |_, header| {
        let made_from = header.made_from.as_mut().expect("digests");
        made_from.machine = scan_path::sha256("another");
    })
}

/// One more mark, far outside, on a line of the hatch.
pub(crate) fn mark_outside() -> Provoked {
    hatched(|marks| {
        let mark = marks[longest(marks)];
        marks.push([along(mark, 4.0), along(mark, 4.1)]);
    })
}

/// A mark of the hatch that goes on until shortly before the boundary.
pub(crate) fn mark_shallow() -> Provoked {
    hatched(|marks| {
        let i = longest(marks);
        let reach = 1.0 + 250_000.0 / marks[i][0].distance(marks[i][1]);
        marks[i][1] = along(marks[i], reach);
    })
}

/// One more mark, straight to the right where the hatch runs at an angle.
pub(crate) fn hatch_astray() -> Provoked {
    hatched(|marks| {
        let middle = along(marks[longest(marks)], 0.5);
        marks.push([middle, Point::new(middle.x + 500_000, middle.y)]);
    })
}

/// One more mark beside a line of the hatch.
pub(crate) fn hatch_spacing() -> Provoked {
    hatched(|marks| {
        let mark = marks[longest(marks)];
        let aside = |p: Point| Point::new(p.x + 40_000, p.y);
        marks.push([aside(along(mark, 0.3)), aside(along(mark, 0.7))]);
    })
}

/// Every mark of the hatch twice.
pub(crate) fn hatch_repeated() -> Provoked {
    hatched(|marks| marks.extend_from_within(..))
}

pub(crate) fn hatch_missing() -> Provoked {
    hatched(|marks| {
        marks.remove(longest(marks));
    })
}

/// A mark that runs back where all are to run one way.
pub(crate) fn hatch_backwards() -> Provoked {
    let one_way = |recipe: &mut Recipe| {
        recipe.core.hatch.as_mut().unwrap().travel = Travel::OneWay;
    };
    verified_with(&block(), one_way, |layer, _| {
        let hatch = layer.blocks.iter_mut().find(|b| b.kind == ExposureKind::Hatch).unwrap();
        let Paths::Segments(marks) = &mut hatch.paths else { panic!("hatch is single marks") };
        marks[0].reverse();
    })
}

/// The hatch with the exposure of thin walls: those of the recipe's own are missing, too.
pub(crate) fn not_asked_for() -> Provoked {
    verified(&block(), |layer, header| {
        let hatch = layer.blocks.iter_mut().find(|b| b.kind == ExposureKind::Hatch).unwrap();
        let thin = header.exposures.iter().position(|row| row.name == "thin wall").unwrap();
        hatch.exposure = u16::try_from(thin).unwrap();
    })
    .along(&[Kind::HatchMissing])
}

pub(crate) fn order_differs() -> Provoked {
    verified(&block(), |layer, _| layer.blocks.reverse())
}

/// A mark of the down-facing region among those of the core.
pub(crate) fn mark_elsewhere() -> Provoked {
    let facing = |recipe: &mut Recipe| {
        recipe.down_facing = Some(FacingStrategy { layers: 1, strategy: recipe.core.clone() });
    };
    let step =
        joined(&cuboid([0.0; 3], [6.0, 6.0, 0.3]), &cuboid([0.0, 0.0, 0.1], [6.0, 12.0, 0.3]));
    verified_with(&step, facing, |layer, _| {
        let of = |region| move |b: &Block| b.kind == ExposureKind::Hatch && b.region == region;
        let core = layer.blocks.iter().position(of(RegionKind::Core)).unwrap();
        let down = layer.blocks.iter().position(of(RegionKind::DownFacing)).unwrap();
        let Paths::Segments(marks) = layer.blocks[down].paths.clone() else { panic!("marks") };
        let Paths::Segments(more) = &mut layer.blocks[core].paths else { panic!("marks") };
        more.push(marks[longest(&marks)]);
    })
}

pub(crate) fn contour_missing() -> Provoked {
    verified(&block(), |layer, _| layer.blocks.retain(|b| b.kind != ExposureKind::Contour))
}

/// Paths of contours or centrelines, changed.
fn traced(mesh: &Mesh, kind: ExposureKind, fault: impl FnOnce(&mut Vec<Vec<Point>>)) -> Provoked {
    verified(mesh, |layer, _| {
        let block = layer.blocks.iter_mut().find(|b| b.kind == kind).unwrap();
        let mut paths: Vec<Vec<Point>> = block.paths.iter().map(<[Point]>::to_vec).collect();
        fault(&mut paths);
        let ends = paths.iter().scan(0, |end, path| {
            *end += u32::try_from(path.len()).unwrap();
            Some(*end)
        });
        let ends = ends.collect();
        block.paths = Paths::Polylines { points: paths.concat(), ends };
    })
}

pub(crate) fn contour_repeated() -> Provoked {
    traced(&block(), ExposureKind::Contour, |paths| paths.extend_from_within(..))
}

/// One more contour, far inside.
pub(crate) fn contour_astray() -> Provoked {
    traced(&block(), ExposureKind::Contour, |paths| {
        let inner = paths[0].iter().map(|p| Point::new(p.x / 2, p.y / 2));
        paths.push(inner.collect());
    })
}

/// A ring that is left a little before it closes: shorter than the distance of the points tested.
pub(crate) fn contour_open() -> Provoked {
    traced(&block(), ExposureKind::Contour, |paths| {
        let (n, path) = (paths[0].len(), &mut paths[0]);
        let last = [path[n - 2], path[n - 1]];
        path[n - 1] = along(last, 1.0 - 30_000.0 / last[0].distance(last[1]));
    })
}

fn wall() -> Mesh {
    cuboid([0.0; 3], [0.3, 10.0, 0.3])
}

pub(crate) fn centreline_missing() -> Provoked {
    verified(&wall(), |layer, _| layer.blocks.retain(|b| b.kind != ExposureKind::Centreline))
}

/// A wall with contours and a line between them, which is left out.
pub(crate) fn dose_differs() -> Provoked {
    let wall = cuboid([0.0; 3], [0.8, 10.0, 0.3]);
    verified(&wall, |layer, _| layer.blocks.retain(|b| b.kind != ExposureKind::Centreline))
}

pub(crate) fn centreline_repeated() -> Provoked {
    traced(&wall(), ExposureKind::Centreline, |paths| paths.extend_from_within(..))
}

pub(crate) fn centreline_astray() -> Provoked {
    traced(&wall(), ExposureKind::Centreline, |paths| {
        paths[0].iter_mut().for_each(|p| p.x += 40_000);
    })
}
