//! A file with a fault: layers and tables, and how to get at their marks.

use super::cases::Case;
use super::random::Random;
use base::{Point, Progress};
use pipeline::{Verdict, verify_against};
use scan_path::{Block, ExposureKind, Header, Layer, Paths, VectorWriter, encode_layer};
use std::io::Write;

/// Where a block stands: layer and number within it.
pub(crate) type At = (usize, usize);

/// Layers and tables of a case, to be changed.
pub(crate) struct Planted<'a> {
    pub(crate) case: &'a Case,
    pub(crate) header: Header,
    pub(crate) layers: Vec<Layer>,
}

impl<'a> Planted<'a> {
    pub(crate) fn new(case: &'a Case) -> Self {
        Self { case, header: case.header.clone(), layers: case.layers.clone() }
    }

    /// One of the blocks that are wanted.
    pub(crate) fn any(&self, random: &mut Random, wanted: impl Fn(&Block) -> bool) -> Option<At> {
        let blocks = self.layers.iter().enumerate().flat_map(|(layer, l)| {
            l.blocks.iter().enumerate().map(move |(number, block)| ((layer, number), block))
        });
        let found: Vec<At> = blocks.filter(|(_, b)| wanted(b)).map(|(at, _)| at).collect();
        random.pick(&found)
    }

    pub(crate) fn any_of(&self, random: &mut Random, kind: ExposureKind) -> Option<At> {
        self.any(random, |block| block.kind == kind)
    }

    pub(crate) fn block(&mut self, (layer, number): At) -> &mut Block {
        &mut self.layers[layer].blocks[number]
    }

    /// The single marks of a hatch block.
    pub(crate) fn marks(&mut self, at: At) -> &mut Vec<[Point; 2]> {
        match &mut self.block(at).paths {
            Paths::Segments(marks) => marks,
            Paths::Polylines { .. } => panic!("hatch is single marks"),
        }
    }

    pub(crate) fn drop_block(&mut self, (layer, number): At) {
        self.layers[layer].blocks.remove(number);
    }

    /// Changes the connected paths of a block; leaves it out if there are none left.
    pub(crate) fn paths(&mut self, at: At, change: impl FnOnce(&mut Vec<Vec<Point>>)) {
        let mut paths: Vec<Vec<Point>> =
            self.block(at).paths.iter().map(<[Point]>::to_vec).collect();
        change(&mut paths);
        if paths.is_empty() {
            return self.drop_block(at);
        }
        let ends = paths.iter().scan(0, |end, path| {
            *end += u32::try_from(path.len()).unwrap();
            Some(*end)
        });
        let ends = ends.collect();
        self.block(at).paths = Paths::Polylines { points: paths.concat(), ends };
    }

    /// The verdict on a well-formed file with these layers and tables.
    pub(crate) fn verdict(&self) -> Verdict {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        let mut writer = VectorWriter::new(Vec::new(), self.header.clone()).unwrap();
        for layer in &self.layers {
            writer.push(encode_layer(layer, &self.header).unwrap()).unwrap();
        }
        let (_, bytes) = writer.finish().unwrap();
        file.write_all(&bytes).unwrap();
        verify_against(file.path(), &self.case.build, &Progress::default()).unwrap()
    }
}

/// The point at this fraction of the way along a mark, or beyond it.
pub(crate) fn along([a, b]: [Point; 2], fraction: f64) -> Point {
    moved(a, f64::from(b.x - a.x) * fraction, f64::from(b.y - a.y) * fraction)
}

/// Shifted by some nm.
pub(crate) fn moved(p: Point, dx: f64, dy: f64) -> Point {
    #[expect(clippy::cast_possible_truncation, reason = "a few mm")]
    let by = |from: i32, d: f64| from + d.round() as i32;
    Point::new(by(p.x, dx), by(p.y, dy))
}

/// Shifted along a direction by `u` and to its left by `v`, nm.
pub(crate) fn shifted(p: Point, [a, b]: [Point; 2], u: f64, v: f64) -> Point {
    let length = a.distance(b).max(1.0);
    let (cos, sin) = (f64::from(b.x - a.x) / length, f64::from(b.y - a.y) / length);
    moved(p, cos * u - sin * v, sin * u + cos * v)
}
