//! The connected paths of a placement in a layer, to ask how often the beam passes a point.

use super::grid::{Grid, Xy, distance};
use super::outcome::Marks;
use super::walls::xy;
use scan_path::{Block, ExposureKind, RegionKind};

/// A mark of a path.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mark {
    pub(super) ends: (Xy, Xy),
    /// Number of its path.
    pub(super) path: usize,
    pub(super) region: RegionKind,
    pub(super) exposure: u16,
}

impl Mark {
    /// The point at a fraction of the way.
    pub(super) fn at(&self, t: f64) -> Xy {
        let (a, b) = self.ends;
        [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
    }

    pub(super) fn length(&self) -> f64 {
        let (a, b) = self.ends;
        (b[0] - a[0]).hypot(b[1] - a[1])
    }
}

/// A path: which marks, and in which block.
#[derive(Clone, Debug)]
pub(super) struct Track {
    pub(super) marks: std::ops::Range<usize>,
    pub(super) block: usize,
    pub(super) is_closed: bool,
}

/// All paths of one kind of exposure, in the order in which they are run.
pub(super) struct Tracks {
    pub(super) marks: Vec<Mark>,
    pub(super) paths: Vec<Track>,
    grid: Grid,
}

impl Tracks {
    pub(super) fn new(marks: &Marks, kind: ExposureKind, cell: f64) -> Self {
        let (mut all, mut paths) = (Vec::new(), Vec::new());
        let blocks = marks.blocks.iter().enumerate().filter(|(_, block)| block.kind == kind);
        for (number, block) in blocks {
            for path in block.paths.iter() {
                let first = all.len();
                push(block, path, paths.len(), &mut all);
                let is_closed = path.len() > 2 && path.first() == path.last();
                paths.push(Track { marks: first..all.len(), block: number, is_closed });
            }
        }
        let segments: Vec<(Xy, Xy)> = all.iter().map(|mark: &Mark| mark.ends).collect();
        Self { grid: Grid::new(&segments, cell), marks: all, paths }
    }

    /// The marks that pass within `reach` of a point, in the order in which they are run.
    pub(super) fn near(&self, p: Xy, reach: f64, found: &mut Vec<usize>) {
        found.clear();
        self.grid.near(p, reach, |number| {
            if distance(p, self.marks[number].ends).0 <= reach {
                found.push(number);
            }
        });
        found.sort_unstable();
        found.dedup();
    }

    /// How often the beam passes by, over the marks of [`Self::near`] that are `wanted`: marks that follow
    /// each other are one passage.
    pub(super) fn passages(&self, near: &[usize], wanted: impl Fn(&Mark) -> bool) -> i32 {
        let mut passages = 0;
        let mut before: Option<usize> = None;
        for &number in near.iter().filter(|&&number| wanted(&self.marks[number])) {
            let path = self.marks[number].path;
            let follows = before.is_some_and(|b| b + 1 == number && self.marks[b].path == path);
            passages += i32::from(!follows);
            let Track { marks, is_closed, .. } = &self.paths[path];
            // The last mark of a ring ends where its first began.
            let is_around = *is_closed && number + 1 == marks.end && near.contains(&marks.start);
            if is_around && marks.len() > 1 && passages > 1 {
                passages -= 1;
            }
            before = Some(number);
        }
        passages
    }
}

fn push(block: &Block, path: &[base::Point], number: usize, all: &mut Vec<Mark>) {
    all.extend(path.windows(2).filter(|mark| mark[0] != mark[1]).map(|mark| Mark {
        ends: (xy(mark[0]), xy(mark[1])),
        path: number,
        region: block.region,
        exposure: block.exposure,
    }));
}
