//! The section's boundary against the predicted outline that should run along it.

use base::Progress;
use rayon::prelude::*;
use region::Region;
use std::f64::consts::TAU;

use super::Ring;
use super::compare::CLOSEST_MM;
use super::islands::region_of;
use super::nearest::Boundary;
use crate::beam::Beam;
use crate::buckets::{Buckets, whole};
use crate::error::EstimateError;

/// What lies within so many beam radii of where the boundary is sharper than the spot is near a corner. That
/// ends 2.1 radii from a right angle; the contour that ends there, up to ¾ of a radius inside both edges,
/// has then lost less than 0.4 % of an endless line's dose (½·erfc(√2·(2.1 − 0.75))).
pub const NEAR_CORNER_IN_RADII: f64 = 1.5;

/// Half the stretch over which a boundary is compared with the spot's circle, in beam radii. Over a longer one a bend
/// narrower than the spot is made up for by what is straight beside it, unless it turns far: over two radii the root
/// of a gear's tooth that turns by 77° with 0.73 of the spot's radius was none.
const HALF_IN_RADII: f64 = 0.75;

/// Distance of the ends of an arc of a circle over its radius, if the arc is as long: 2·sin ¾.
const REACH_OF_CIRCLE: f64 = 1.363_277_520_046_668;

/// A place on the boundary of a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoundaryPlace {
    /// Where it lies, mm.
    pub at: [f64; 2],
    /// How far the melt reaches beyond it, mm: the distance from the predicted outline, negative where the melt
    /// ends short of it. −∞ where nothing melts at all.
    pub signed_mm: f64,
    /// Whether it lies within [`NEAR_CORNER_IN_RADII`] of a place where the boundary is sharper than the
    /// beam's spot.
    pub is_near_corner: bool,
}

/// Places along the boundaries of some sections, a list for each, and how far the melt of all reaches beyond
/// each place.
///
/// | argument   | meaning                                                                       |
/// |------------|-------------------------------------------------------------------------------|
/// | `rings`    | from [`melted`](super::melted)                                                |
/// | `sections` | proper regions                                                                |
/// | `every_mm` | distance of the places, mm, at least 1 µm; a ring has one at least            |
/// | `beam`     | whose spot tells which corners are sharp                                      |
///
/// A boundary is sharper than the spot where the ends of a stretch of it that is 1½ beam radii long are
/// nearer to each other than on a circle of that radius: in bends narrower than the spot, at corners
/// that turn by more than 49°, and all around rings shorter than the spot's own circumference.
///
/// # Errors
/// A ring outside the grid of nanometres, or cancelled.
pub fn along_boundary<'a>(
    rings: &[Ring],
    sections: impl IntoIterator<Item = &'a Region>,
    every_mm: f64,
    beam: Beam,
    progress: &Progress,
) -> Result<Vec<Vec<BoundaryPlace>>, EstimateError> {
    let melt = Boundary::new(&region_of(rings)?);
    let along = |section| {
        progress.check()?;
        Ok(along(&melt, section, every_mm, beam))
    };
    sections.into_iter().map(along).collect()
}

fn along(melt: &Boundary, section: &Region, every_mm: f64, beam: Beam) -> Vec<BoundaryPlace> {
    let (mut places, mut sharp) = (Vec::new(), Vec::new());
    for ring in section.rings() {
        let ring = Lengths::of(ring.iter().map(|point| point.to_mm()).collect());
        for (at, is_sharp) in ring.places(every_mm.max(CLOSEST_MM), beam) {
            places.push(at);
            sharp.extend(is_sharp.then_some([at, at]));
        }
    }
    let reach = NEAR_CORNER_IN_RADII * beam.radius_mm();
    let corners = Buckets::new(&sharp, reach, reach);
    let is_near = |at: [f64; 2]| {
        let mut near = corners.at(at).iter().map(|&number| sharp[number as usize][0]);
        near.any(|[x, y]| (x - at[0]).hypot(y - at[1]) <= reach)
    };
    let place = |at: [f64; 2]| {
        let near = melt.nearest(at, |_| true);
        let signed_mm = near.map_or(f64::NEG_INFINITY, |near| -near.signed);
        BoundaryPlace { at, signed_mm, is_near_corner: is_near(at) }
    };
    places.into_par_iter().map(place).collect()
}

/// A closed curve by the length along it.
struct Lengths {
    points: Vec<[f64; 2]>,
    /// How far along each point lies; one more for the first point again.
    along: Vec<f64>,
}

impl Lengths {
    fn of(points: Vec<[f64; 2]>) -> Self {
        let mut along = Vec::with_capacity(points.len() + 1);
        let mut length = 0.0;
        for (i, from) in points.iter().enumerate() {
            along.push(length);
            let to = points[(i + 1) % points.len()];
            length += (to[0] - from[0]).hypot(to[1] - from[1]);
        }
        along.push(length);
        Self { points, along }
    }

    fn total(&self) -> f64 {
        self.along.last().copied().unwrap_or(0.0)
    }

    /// The place so far along, from wherever on.
    fn at(&self, along: f64) -> [f64; 2] {
        let along = along.rem_euclid(self.total());
        let edge = self.along.partition_point(|&start| start <= along).saturating_sub(1);
        let edge = edge.min(self.points.len() - 1);
        let (from, to) = (self.points[edge], self.points[(edge + 1) % self.points.len()]);
        let t = (along - self.along[edge]) / (self.along[edge + 1] - self.along[edge]);
        [0, 1].map(|axis| from[axis] + t * (to[axis] - from[axis]))
    }

    /// Places in even distances, no farther apart than given, and whether the curve is sharp there.
    fn places(&self, every_mm: f64, beam: Beam) -> impl Iterator<Item = ([f64; 2], bool)> + '_ {
        let (total, w) = (self.total(), beam.radius_mm());
        let half = HALF_IN_RADII * w;
        let count = whole((total / every_mm).ceil());
        let is_short = total <= TAU * w;
        (0..count).map(move |place| {
            let along = (place as f64 + 0.5) * total / count as f64;
            let ([ax, ay], [bx, by]) = (self.at(along - half), self.at(along + half));
            let is_sharp = is_short || (bx - ax).hypot(by - ay) < REACH_OF_CIRCLE * w;
            (self.at(along), is_sharp)
        })
    }
}
