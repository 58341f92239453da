//! One layer of vectors in memory.

use base::Point;
use serde::{Deserialize, Serialize};

/// What a block of marks follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ExposureKind {
    /// The boundary of a region.
    Contour,
    /// Parallel lines that fill a region.
    Hatch,
    /// The middle of a wall too thin for contours.
    Centreline,
}

impl ExposureKind {
    /// All kinds, in the order of their codes in a file.
    pub const ALL: [Self; 3] = [Self::Contour, Self::Hatch, Self::Centreline];
}

/// What lies above and below the region a block exposes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RegionKind {
    /// Neither powder above nor below within the stated number of layers.
    Core,
    /// Powder above.
    UpFacing,
    /// Powder below.
    DownFacing,
}

impl RegionKind {
    /// All kinds, in the order of their codes in a file.
    pub const ALL: [Self; 3] = [Self::Core, Self::UpFacing, Self::DownFacing];
}

/// Marks in the order they are run; the beam jumps from the end of one path to the start of the
/// next. Coordinates in nm, build-space frame.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Paths {
    /// Single straight marks, start and end.
    Segments(Vec<[Point; 2]>),
    /// Connected marks: `ends[i]` is the end index (exclusive) in `points` of path `i`; every
    /// path has at least two points. A closed path repeats its first point as its last.
    Polylines {
        /// Corners of all paths, one after the other.
        points: Vec<Point>,
        /// End index (exclusive) of each path, rising.
        ends: Vec<u32>,
    },
}

impl Paths {
    /// Number of paths.
    pub fn len(&self) -> usize {
        match self {
            Self::Segments(segments) => segments.len(),
            Self::Polylines { ends, .. } => ends.len(),
        }
    }

    /// Whether there is no path.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// All points of all paths, in order.
    pub fn points(&self) -> &[Point] {
        match self {
            Self::Segments(segments) => segments.as_flattened(),
            Self::Polylines { points, .. } => points,
        }
    }

    /// The points of path `i`; empty where there is no such path or its ends are out of order.
    pub fn path(&self, i: usize) -> &[Point] {
        let path = match self {
            Self::Segments(segments) => segments.get(i).map(<[Point; 2]>::as_slice),
            Self::Polylines { points, ends } => ends.get(i).and_then(|&end| {
                let start = i.checked_sub(1).map_or(0, |before| ends[before]);
                points.get(start as usize..end as usize)
            }),
        };
        path.unwrap_or_default()
    }

    /// The paths in the order they are run.
    pub fn iter(&self) -> impl Iterator<Item = &[Point]> {
        (0..self.len()).map(|i| self.path(i))
    }
}

/// A run of marks of one placement with one exposure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Block {
    /// Index into the placement table.
    pub placement: u32,
    /// Index into the exposure table (power, speed, run-in, run-out).
    pub exposure: u16,
    /// What the marks follow.
    pub kind: ExposureKind,
    /// Which region they expose.
    pub region: RegionKind,
    /// The marks.
    pub paths: Paths,
}

/// Everything the beam does in one layer, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Layer {
    /// Layer number from 0 at the build platform. Layer `k` spans `k·t … (k+1)·t`.
    pub index: u32,
    /// Blocks in the order they are run.
    pub blocks: Vec<Block>,
}
