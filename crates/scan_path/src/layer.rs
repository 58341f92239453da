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
