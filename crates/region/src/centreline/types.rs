//! What is asked of centrelines, and what is found.

use base::Point;

/// Which walls get a centreline, and how exact it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CentrelineOptions {
    /// Half width from which on contours do the work, nm: the beam offset. Only where a wall's
    /// half width is below this is there a centreline.
    pub max_half_width_nm: i32,
    /// Walls with a smaller half width are not exposed but reported, nm.
    pub min_half_width_nm: i32,
    /// Shorter lines are not exposed but counted, nm.
    pub min_length_nm: i32,
    /// How far a line and its half widths may lie from the medial axis of the boundary, nm. Half
    /// of it is spent on the boundary (detail below it is noise, and costs time), a quarter each
    /// on parabolic arcs and on leaving out points.
    pub chord_tolerance_nm: u32,
}

/// The middle of one wall.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Centreline {
    /// The polyline; at least two points, neighbours differ.
    pub points: Vec<Point>,
    /// Distance from each point to the boundary, nm; one per point. Linear in between.
    pub half_widths_nm: Vec<i32>,
    /// Whether this is a ring; then the last point equals the first.
    pub closed: bool,
}

impl Centreline {
    /// Length along the polyline, nm.
    pub fn length_nm(&self) -> f64 {
        self.points.windows(2).map(|pair| pair[0].distance(pair[1])).sum()
    }
}

/// What [`centrelines`](super::centrelines) found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Centrelines {
    /// To be exposed.
    pub lines: Vec<Centreline>,
    /// Stretches of at least the least length that are narrower than the least half width: the
    /// part is there, the exposure is not.
    pub too_thin: Vec<Centreline>,
    /// Stretches that were left out because they are shorter than the least length: ends of sharp
    /// wedges, and dots, which have no length at all.
    pub too_short_count: usize,
    /// Length of these together, nm.
    pub too_short_length_nm: f64,
    /// Islands without centrelines, because their boundary could not be worked on.
    pub failures: Vec<CentrelineError>,
}

/// Why an island has no centrelines.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CentrelineError {
    /// The island is not proper.
    #[error(
        "two edges cross near ({x}, {y}) nm, so the walls there have no middle; unite the region \
         first",
        x = at.x, y = at.y
    )]
    EdgesCross {
        /// An end of one of the edges.
        at: Point,
    },
}
