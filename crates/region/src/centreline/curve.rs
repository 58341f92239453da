//! The curves that a Voronoi diagram of edges and corners is made of.

use super::plane::{Straight, dot, left};
use base::Point;

/// Below this clearance, nm, an axis has run into a corner: two of them that meet there are not
/// connected, since the wall between them has no width.
pub(super) const CORNER_NM: f64 = 0.5;

/// What a cell of the diagram belongs to.
#[derive(Clone, Copy)]
pub(super) enum Site {
    Corner(Point),
    Edge(Point, Point),
}

/// Points with the same distance to two sites, by one parameter.
pub(super) enum Curve {
    /// Between two edges: position, and clearance linear in the parameter 0 to 1.
    Straight { from: [f64; 3], to: [f64; 3] },
    /// Between two corners: the middle, the unit direction, half the distance of the corners.
    Middle { foot: [f64; 2], along: [f64; 2], half: f64 },
    /// Between an edge and a corner: foot of the corner on the edge, unit direction of the edge,
    /// unit direction to the corner and distance to it.
    Parabola { foot: [f64; 2], along: [f64; 2], up: [f64; 2], height: f64 },
}

impl Curve {
    pub(super) fn between([one, other]: [Site; 2], from: [f64; 3], to: [f64; 3]) -> Self {
        match (one, other) {
            (Site::Edge(..), Site::Edge(..)) => Self::Straight { from, to },
            (Site::Corner(p), Site::Corner(q)) => {
                let between = Straight::new([p, q]);
                let half = between.length / 2.0;
                Self::Middle { foot: between.place(half, 0.0), along: left(between.along), half }
            }
            (Site::Edge(a, b), Site::Corner(p)) | (Site::Corner(p), Site::Edge(a, b)) => {
                let edge = Straight::new([a, b]);
                let [reach, signed] = edge.local(p);
                let height = signed.abs();
                if height < CORNER_NM {
                    return Self::Straight { from, to }; // cannot be told from a straight line
                }
                let (foot, along) = (edge.place(reach, 0.0), edge.along);
                let up = left(along).map(|c| c * signed.signum());
                Self::Parabola { foot, along, up, height }
            }
        }
    }

    /// Parameter of an end of the curve.
    pub(super) fn parameter(&self, [x, y, _]: [f64; 3], end: f64) -> f64 {
        match self {
            Self::Straight { .. } => end,
            Self::Middle { foot, along, .. } | Self::Parabola { foot, along, .. } => {
                dot([x - foot[0], y - foot[1]], *along)
            }
        }
    }

    /// x, y and clearance at a parameter.
    pub(super) fn at(&self, t: f64) -> [f64; 3] {
        match *self {
            Self::Straight { from, to } => std::array::from_fn(|i| from[i] + t * (to[i] - from[i])),
            Self::Middle { foot, along, half } => {
                [foot[0] + t * along[0], foot[1] + t * along[1], half.hypot(t)]
            }
            Self::Parabola { foot, along, up, height } => {
                let y = (t * t + height * height) / (2.0 * height);
                let place = |i: usize| foot[i] + t * along[i] + y * up[i];
                [place(0), place(1), y]
            }
        }
    }

    /// The parameters at which the clearance is below a limit: one interval, since the clearance
    /// along each kind of curve is convex. Empty if low > high.
    pub(super) fn below(&self, limit: f64) -> (f64, f64) {
        let reach_squared = match *self {
            Self::Straight { from, to } => {
                let (r, s) = (from[2], to[2]);
                let crossing = (limit - r) / (s - r);
                return match (r < limit, s < limit) {
                    (true, true) => (0.0, 1.0),
                    (true, false) => (0.0, crossing),
                    (false, true) => (crossing, 1.0),
                    (false, false) => (1.0, 0.0),
                };
            }
            Self::Middle { half, .. } => limit * limit - half * half,
            Self::Parabola { height, .. } => height * (2.0 * limit - height),
        };
        if reach_squared > 0.0 {
            (-reach_squared.sqrt(), reach_squared.sqrt())
        } else {
            (1.0, -1.0)
        }
    }
}
