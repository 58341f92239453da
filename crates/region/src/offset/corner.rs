//! Edges moved sideways and the corners between them.

use base::Point;
use std::f64::consts::FRAC_PI_2;

use super::join::Join;

/// A point or direction in nm, as floating point.
pub(super) type Vec2 = [f64; 2];

pub(super) fn cross(a: Vec2, b: Vec2) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

pub(super) fn dot(a: Vec2, b: Vec2) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

pub(super) fn float(p: Point) -> Vec2 {
    [f64::from(p.x), f64::from(p.y)]
}

/// The offset distance and join in the form that the corners need.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rounding {
    /// nm to the left of every edge: positive for an inset, negative for an outset.
    pub(super) shift: f64,
    /// A join whose half turn has a smaller tangent than this is a plain mitre.
    pub(super) max_tan: f64,
    /// How the others are made.
    pub(super) wide: WideJoin,
}

/// A join that one point cannot make.
#[derive(Clone, Copy, Debug)]
pub(super) enum WideJoin {
    /// An arc, with chords of at most this angle.
    Arc { step: f64 },
    /// A polygon around the arc, whose edges turn by at most this angle.
    Around { step: f64 },
    /// A tip cut off at this many times the distance.
    Cut { limit: f64 },
}

impl Rounding {
    pub(super) fn new(shift: f64, join: Join) -> Self {
        let distance = shift.abs();
        match join {
            Join::Round { chord_tolerance_nm } => {
                let tolerance = f64::from(chord_tolerance_nm).max(1.0) / distance;
                // A mitre sticks out by 1/cos(half turn) - 1, a chord falls short by
                // 1 - cos(half its angle).
                let mitre = 1.0 + tolerance;
                let step = 2.0 * (1.0 - tolerance).clamp(0.0, 1.0).acos();
                Self {
                    shift,
                    max_tan: (mitre * mitre - 1.0).sqrt().min(1.0),
                    wide: WideJoin::Arc { step: step.clamp(1e-4, 1.5) },
                }
            }
            Join::Mitre { limit } => {
                let limit = if limit.is_nan() { 1.0 } else { limit.clamp(1.0, 1000.0) };
                Self { shift, max_tan: (limit * limit - 1.0).sqrt(), wide: WideJoin::Cut { limit } }
            }
        }
    }

    /// Round joins by polygons around the arcs, which lie off by at most this part of the distance.
    pub(super) fn around(shift: f64, part: f64) -> Self {
        let max_tan = ((1.0 + part) * (1.0 + part) - 1.0).sqrt();
        // a little less than what a plain mitre may turn
        Self { shift, max_tan, wide: WideJoin::Around { step: 1.998 * max_tan.atan() } }
    }

    /// How far the offset may lie from the region, nm.
    pub(super) fn reach(&self) -> f64 {
        let factor = match self.wide {
            WideJoin::Arc { .. } | WideJoin::Around { .. } => {
                (1.0 + self.max_tan * self.max_tan).sqrt()
            }
            WideJoin::Cut { limit } => limit,
        };
        self.shift.abs() * factor
    }
}

/// An edge of a ring: where it starts, its unit direction and its length.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Edge {
    pub(super) start: Vec2,
    pub(super) unit: Vec2,
    pub(super) length: f64,
}

impl Edge {
    /// The point `along` nm from the start on the edge's line moved left by `shift`.
    pub(super) fn moved(&self, along: f64, shift: f64) -> Vec2 {
        [
            self.start[0] + along * self.unit[0] - shift * self.unit[1],
            self.start[1] + along * self.unit[1] + shift * self.unit[0],
        ]
    }
}

/// Appends the edges of a ring; edges without length are left out.
pub(super) fn push_edges(ring: &[Point], out: &mut Vec<Edge>) {
    let Some(&last) = ring.last() else { return };
    let mut start = float(last);
    out.reserve(ring.len());
    for &p in ring {
        let end = float(p);
        let d = [end[0] - start[0], end[1] - start[1]];
        let length = (d[0] * d[0] + d[1] * d[1]).sqrt();
        if length > 0.0 {
            let inverse = 1.0 / length;
            out.push(Edge { start, unit: [d[0] * inverse, d[1] * inverse], length });
        }
        start = end;
    }
}

/// The corner between two consecutive edges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Corner {
    /// The moved edges meet in one point; each is shortened by this much there (prolonged, where
    /// negative).
    Point { trim: f64 },
    /// The corner opens and is cut or rounded; `half` is half the turn in radians.
    Wide { half: f64 },
    /// The edges run back into each other, or nearly so; closing.
    Closed,
}

/// What becomes of the corner from edge `a` to edge `b`.
pub(super) fn corner(a: &Edge, b: &Edge, rounding: &Rounding) -> Corner {
    let sin = cross(a.unit, b.unit) * rounding.shift.signum();
    let one_plus_cos = 1.0 + dot(a.unit, b.unit);
    // Tangent of half the turn: positive where the corner closes, negative where it opens.
    let tan = sin / one_plus_cos;
    if tan >= -rounding.max_tan && tan <= 1e6 {
        Corner::Point { trim: tan * rounding.shift.abs() }
    } else if sin > 0.0 {
        Corner::Closed
    } else {
        // An edge that runs straight back (not in proper regions) opens by half a turn.
        let runs_back = one_plus_cos < 1e-12;
        let half = if runs_back { FRAC_PI_2 } else { sin.abs().atan2(one_plus_cos) };
        Corner::Wide { half }
    }
}

/// Appends the points of a wide corner at the start of edge `b`, from `a`'s moved line to `b`'s.
pub(super) fn push_wide(a: &Edge, b: &Edge, half: f64, rounding: &Rounding, out: &mut Vec<Vec2>) {
    let shift = rounding.shift;
    match rounding.wide {
        WideJoin::Cut { limit } => {
            let (sin, cos) = half.sin_cos();
            let beyond = shift.abs() * (limit - cos) / sin;
            out.push(a.moved(a.length + beyond, shift));
            out.push(b.moved(-beyond, shift));
        }
        WideJoin::Arc { step } => {
            out.push(a.moved(a.length, shift));
            let chords = steps(half, step);
            for i in 1..chords {
                out.push(on_arc(a, b, half, shift, f64::from(i) / f64::from(chords)));
            }
            out.push(b.moved(0.0, shift));
        }
        WideJoin::Around { step } => {
            let corners = steps(half, step);
            let wider = shift / (half / f64::from(corners)).cos();
            for i in 0..corners {
                let part = (f64::from(i) + 0.5) / f64::from(corners);
                out.push(on_arc(a, b, half, wider, part));
            }
        }
    }
}

/// Into how many parts of at most `step` a corner is divided that turns by twice `half`.
pub(super) fn steps(half: f64, step: f64) -> u32 {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small")]
    let steps = (2.0 * half / step).ceil().clamp(1.0, 1e5) as u32;
    steps
}

/// A direction turned on from that of edge `a` by a part of the corner; opening corners of an inset turn
/// right, of an outset left.
pub(super) fn turned(a: &Edge, half: f64, shift: f64, part: f64) -> Vec2 {
    let (sin, cos) = (-2.0 * half * shift.signum() * part).sin_cos();
    let [x, y] = a.unit;
    [cos * x - sin * y, sin * x + cos * y]
}

/// A point on the arc about the corner between two edges.
fn on_arc(a: &Edge, b: &Edge, half: f64, shift: f64, part: f64) -> Vec2 {
    let unit = turned(a, half, shift, part);
    [b.start[0] - shift * unit[1], b.start[1] + shift * unit[0]]
}

/// How much a wide corner shortens its edges (negative: prolongs).
pub(super) fn wide_trim(half: f64, rounding: &Rounding) -> f64 {
    match rounding.wide {
        WideJoin::Arc { .. } => 0.0,
        WideJoin::Around { step } => {
            -rounding.shift.abs() * (half / f64::from(steps(half, step))).tan()
        }
        WideJoin::Cut { limit } => {
            let (sin, cos) = half.sin_cos();
            -rounding.shift.abs() * (limit - cos) / sin
        }
    }
}
