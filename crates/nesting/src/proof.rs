//! The proof of an arrangement: how far apart its parts are, exactly.
//!
//! Shares nothing with the search: no voxels, only triangles. Of every two parts whose boxes come
//! near each other, the smallest distance of their surfaces is found ([`mesh::distance`]), and
//! whether one lies in the material of the other, by winding numbers. A part in the hollow of
//! another is fine; there the distance counts.

use crate::model::Space;
use crate::solid::{Body, Bounds};
use base::{Cancelled, Progress};
use mesh::distance::{Nearest, Query, distance, is_inside};
use rayon::prelude::*;

/// How two parts lie to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Contact {
    /// Some way apart.
    Apart,
    /// They touch, or overlap by no more than the tolerance.
    Touch,
    /// Material of one lies in material of the other.
    Overlap,
}

/// Two parts that are near each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Numbers of the two, the lower first.
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

/// A part that is near a wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WallGap {
    /// Number of the part.
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

/// What is near what in an arrangement.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Proof {
    /// Pairs of parts nearer than twice the clearance, the nearest first.
    pub pairs: Vec<Gap>,
    /// Parts nearer to a wall than twice the clearance to walls, the nearest first.
    pub walls: Vec<WallGap>,
}

/// Distances smaller than wanted by no more than this are rounding, and overlaps no deeper are
/// touches, mm: the grid on which everything is written in the end.
pub const TOLERANCE_MM: f64 = 1e-6;

impl Proof {
    /// Whether every clearance is kept.
    pub fn holds(&self) -> bool {
        !self.pairs.iter().any(|p| p.violates) && !self.walls.iter().any(|w| w.violates)
    }
}

/// Finds what is nearer to what than twice the clearance, and to the walls. The bodies are numbered
/// as listed. In parallel; the result does not depend on the number of threads.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn proof(bodies: &[Body], space: &Space, progress: &Progress) -> Result<Proof, Cancelled> {
    let extremes: Vec<_> = bodies.par_iter().map(Body::extremes).collect();
    let mut walls: Vec<WallGap> = extremes
        .iter()
        .enumerate()
        .filter_map(|(body, e)| Some(wall_gaps(body, e.as_ref()?, space)))
        .flatten()
        .filter(|w| w.violates || w.distance_mm < 2.0 * space.wall_clearance_mm)
        .collect();
    walls.sort_by(|a, b| {
        a.distance_mm.total_cmp(&b.distance_mm).then((a.body, a.wall).cmp(&(b.body, b.wall)))
    });
    let bounds: Vec<Option<Bounds>> = extremes.iter().map(|e| e.as_ref().map(Bounds::of)).collect();
    let limit = 2.0 * space.clearance_mm;
    let near = near_pairs(&bounds, limit);
    progress.add_total(near.len() as u64);
    let found = near
        .par_iter()
        .map(|&(i, j)| {
            let (Some(p), Some(q)) = (&bounds[i], &bounds[j]) else { return Ok(None) };
            let near = nearest((&bodies[i], p), (&bodies[j], q), limit, None, progress)?;
            progress.advance(1)?;
            Ok(near.map(|(near, contact)| gap([i, j], &near, contact, space.clearance_mm)))
        })
        .collect::<Result<Vec<_>, Cancelled>>()?;
    let mut pairs: Vec<Gap> =
        found.into_iter().flatten().filter(|g| g.violates || g.distance_mm < limit).collect();
    pairs.sort_by(|a, b| a.distance_mm.total_cmp(&b.distance_mm).then(a.bodies.cmp(&b.bodies)));
    Ok(Proof { pairs, walls })
}

pub(crate) fn gap(bodies: [usize; 2], near: &Nearest, contact: Contact, clearance: f64) -> Gap {
    Gap {
        bodies,
        distance_mm: near.distance_mm,
        points_mm: near.points_mm,
        triangles: near.triangles,
        contact,
        violates: contact == Contact::Overlap || near.distance_mm < clearance - TOLERANCE_MM,
    }
}

/// Pairs of bodies whose boxes are at most `limit` apart, in order.
fn near_pairs(bounds: &[Option<Bounds>], limit: f64) -> Vec<(usize, usize)> {
    let mut order: Vec<(usize, &Bounds)> =
        bounds.iter().enumerate().filter_map(|(i, b)| Some((i, b.as_ref()?))).collect();
    order.sort_by(|a, b| a.1.lo[0].total_cmp(&b.1.lo[0]).then(a.0.cmp(&b.0)));
    let mut pairs = Vec::new();
    for (n, (i, a)) in order.iter().enumerate() {
        let reach = order[n + 1..].iter().take_while(|(_, b)| b.lo[0] <= a.hi[0] + limit);
        let near = reach.filter(|(_, b)| a.gap(b) <= limit);
        pairs.extend(near.map(|(j, _)| (*i.min(j), *i.max(j))));
    }
    pairs.sort_unstable();
    pairs
}

/// The nearest points of two parts, if they are at most `limit` apart or overlap.
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
    if a_box.gap(b_box) <= 0.0 {
        for (inner, outer, outer_box, first) in [(a, b, b_box, true), (b, a, a_box, false)] {
            let Some(point) = point_inside(inner, outer, outer_box, near.as_ref()) else {
                continue;
            };
            // The surfaces may be far from each other: an overlap is told at the point inside.
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

/// A point of one part's material that lies in another's, given that their surfaces do not cross.
fn point_inside(
    inner: &Body,
    outer: &Body,
    outer_box: &Bounds,
    near: Option<&Nearest>,
) -> Option<[f64; 3]> {
    // Surfaces that do not touch are wholly inside or wholly outside: one point tells.
    let touches = near.is_some_and(|near| near.distance_mm <= TOLERANCE_MM);
    let tries = if touches { usize::MAX } else { 1 };
    let outer = outer.posed();
    inner
        .solid
        .points_within(&inner.pose, 2.0 * TOLERANCE_MM)
        .flat_map(|piece| piece.take(tries))
        .find(|p| outer_box.holds(*p) && is_inside(&outer, *p))
}

pub(crate) fn wall_gaps(body: usize, extremes: &[[[f64; 3]; 2]; 3], space: &Space) -> [WallGap; 6] {
    let [width, depth, height] = space.size_mm;
    let sides = [[-width / 2.0, width / 2.0], [-depth / 2.0, depth / 2.0], [0.0, height]];
    let mut number = 0;
    Wall::ALL.map(|wall| {
        let (k, end) = (number / 2, number % 2);
        number += 1;
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
