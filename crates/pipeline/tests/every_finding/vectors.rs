//! Vector files that are whole, but do not build the job's parts.

use crate::jobs::standing;
use crate::solids::cuboid;
use crate::{Provoked, found};
use base::{Point, Progress};
use mesh::Mesh;
use pipeline::verify_against;
use scan_path::{ExposureKind, Header, Layer, Paths, VectorWriter, encode_layer};

/// The layer in which faults are planted.
const LAYER: usize = 1;

/// Writes the layers of a part with a fault in one of them, and verifies the file.
fn verified(mesh: &Mesh, fault: impl FnOnce(&mut Layer, &mut Header)) -> Provoked {
    let build = standing(mesh);
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
    found(verify_against(&path, &build, &progress).unwrap().findings)
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
pub(crate) fn hatch_sum() -> Provoked {
    hatched(|marks| marks.extend_from_within(..))
}

pub(crate) fn hatch_missing() -> Provoked {
    hatched(|marks| {
        marks.remove(longest(marks));
    })
}

pub(crate) fn contour_missing() -> Provoked {
    verified(&block(), |layer, _| layer.blocks.retain(|b| b.kind != ExposureKind::Contour))
}

pub(crate) fn centreline_missing() -> Provoked {
    let wall = cuboid([0.0; 3], [0.3, 10.0, 0.3]);
    verified(&wall, |layer, _| layer.blocks.retain(|b| b.kind != ExposureKind::Centreline))
}
