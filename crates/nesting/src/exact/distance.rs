//! The distance of two bodies and of a body from the walls, by triangles.
//!
//! The smallest distance of two surfaces comes from [`mesh::distance`]; whether one body lies in the
//! material of the other, from winding numbers. A body in the hollow of another is fine; there the
//! distance counts. This is the one module of the crate that moves and proofs have in common.

use crate::model::Space;
use crate::solid::{Body, Bounds};
use base::{Cancelled, Progress};
use mesh::distance::{Nearest, Query, distance, is_inside};

/// Distances smaller than wanted by no more than this are rounding, and overlaps no deeper than this
/// are touches, mm. It is the grid on which every position is written in the end: a smaller tolerance
/// would refuse what was placed exactly and then rounded.
pub const TOLERANCE_MM: f64 = 1e-6;

/// How two bodies lie to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Contact {
    /// Some way apart.
    Apart,
    /// They touch, or overlap by no more than the tolerance.
    Touch,
    /// Material of one lies in material of the other.
    Overlap,
}

/// Two bodies that are near each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Indices of the two in the list of bodies, the lower first unless said otherwise.
    pub bodies: [usize; 2],
    /// Smallest distance, mm; 0 where they touch or overlap.
    pub distance_mm: f64,
    /// The nearest points of either, mm, build space.
    pub points_mm: [[f64; 3]; 2],
    /// The triangles of either on which those points lie.
    pub triangles: [u32; 2],
    /// Whether they are apart at all.
    pub contact: Contact,
    /// Whether they are nearer than the clearance.
    pub violates: bool,
}

/// A side of the build space.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Wall {
    Left,
    Right,
    Front,
    Back,
    Platform,
    Top,
}

impl Wall {
    /// All six: −X, +X, −Y, +Y, −Z, +Z.
    pub const ALL: [Self; 6] =
        [Self::Left, Self::Right, Self::Front, Self::Back, Self::Platform, Self::Top];

    /// The axis that it lies across.
    pub(crate) fn axis(self) -> usize {
        self as usize / 2
    }

    /// 0 if it is the lower end of its axis, 1 if it is the upper one.
    pub(crate) fn end(self) -> usize {
        self as usize % 2
    }

    /// In a sentence, after "the".
    pub fn name(self) -> &'static str {
        match self {
            Self::Left => "left wall",
            Self::Right => "right wall",
            Self::Front => "front wall",
            Self::Back => "back wall",
            Self::Platform => "platform",
            Self::Top => "top of the build space",
        }
    }
}

/// A body that is near a wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WallGap {
    /// Index of the body.
    pub body: usize,
    /// The wall.
    pub wall: Wall,
    /// How far from it, mm; negative beyond it.
    pub distance_mm: f64,
    /// The nearest point of the part, and of the wall, mm, build space.
    pub points_mm: [[f64; 3]; 2],
    /// Whether it is nearer than the clearance to walls.
    pub violates: bool,
}

/// The gap of two bodies as [`nearest`] found it, judged by the clearance.
pub(crate) fn judged_gap(
    bodies: [usize; 2],
    near: &Nearest,
    contact: Contact,
    clearance: f64,
) -> Gap {
    Gap {
        bodies,
        distance_mm: near.distance_mm,
        points_mm: near.points_mm,
        triangles: near.triangles,
        contact,
        violates: contact == Contact::Overlap || near.distance_mm < clearance - TOLERANCE_MM,
    }
}

/// The nearest points of two bodies, if they are at most `limit_mm` apart or overlap. `hint` are the
/// triangles that were nearest in a similar pose: a good guess makes the query faster, never wrong.
pub(crate) fn nearest(
    (a, a_box): (&Body, &Bounds),
    (b, b_box): (&Body, &Bounds),
    limit_mm: f64,
    hint: Option<[u32; 2]>,
    progress: &Progress,
) -> Result<Option<(Nearest, Contact)>, Cancelled> {
    let query = Query { limit_mm: limit_mm.max(TOLERANCE_MM), touch_mm: TOLERANCE_MM, hint };
    let near = distance(&a.posed(), &b.posed(), &query, progress)?;
    if let Some(near) = near.filter(|near| near.crosses) {
        return Ok(Some((near, Contact::Overlap)));
    }
    if a_box.distance(b_box) <= 0.0 {
        for (inner, outer, outer_box, first) in [(a, b, b_box, true), (b, a, a_box, false)] {
            let Some(point) = point_inside(inner, outer, outer_box, near.as_ref()) else {
                continue;
            };
            // The surfaces may be far from each other: an overlap is reported at the point inside.
            let at = near.unwrap_or(Nearest {
                distance_mm: 0.0,
                points_mm: [point; 2],
                triangles: [0; 2],
                crosses: false,
            });
            let points_mm = if first { [point, at.points_mm[1]] } else { [at.points_mm[0], point] };
            return Ok(Some((Nearest { distance_mm: 0.0, points_mm, ..at }, Contact::Overlap)));
        }
    }
    Ok(near.map(|near| {
        let contact = if near.distance_mm > 0.0 { Contact::Apart } else { Contact::Touch };
        (near, contact)
    }))
}

/// A point of one body's material that lies in another's, given that their surfaces do not cross.
fn point_inside(
    inner: &Body,
    outer: &Body,
    outer_box: &Bounds,
    near: Option<&Nearest>,
) -> Option<[f64; 3]> {
    // Surfaces that do not touch are wholly inside or wholly outside: one point decides.
    let touches = near.is_some_and(|near| near.distance_mm <= TOLERANCE_MM);
    let tries = if touches { usize::MAX } else { 1 };
    let outer = outer.posed();
    inner
        .solid
        .points_within(&inner.pose, 2.0 * TOLERANCE_MM)
        .flat_map(|piece| piece.take(tries))
        .find(|p| outer_box.holds(*p) && is_inside(&outer, *p))
}

/// How far a body is from each wall, in the order of [`Wall::ALL`].
pub(crate) fn wall_gaps(body: usize, extremes: &[[[f64; 3]; 2]; 3], space: &Space) -> [WallGap; 6] {
    let [width, depth, height] = space.size_mm;
    let sides = [[-width / 2.0, width / 2.0], [-depth / 2.0, depth / 2.0], [0.0, height]];
    Wall::ALL.map(|wall| {
        let (k, end) = (wall.axis(), wall.end());
        let (point, side) = (extremes[k][end], sides[k][end]);
        let distance_mm = if end == 0 { point[k] - side } else { side - point[k] };
        let mut on_wall = point;
        on_wall[k] = side;
        WallGap {
            body,
            wall,
            distance_mm,
            points_mm: [point, on_wall],
            violates: distance_mm < space.wall_clearance_mm - TOLERANCE_MM,
        }
    })
}
