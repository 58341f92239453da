//! The proof of an arrangement: how far apart its bodies are, exactly.
//!
//! It uses no voxels and nothing that the search made: of every two bodies whose boxes come near each
//! other the distance is found by triangles. That distance, [`crate::exact::distance`], is the one
//! that the moves use, too; see [`crate::judge`] for what follows from this.

use crate::exact::distance::{Gap, WallGap, judged_gap, nearest, wall_gaps};
use crate::model::Space;
use crate::solid::{Body, Bounds, near_pairs};
use base::{Cancelled, Progress};
use rayon::prelude::*;

/// What is near what in an arrangement.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Proof {
    /// Pairs of parts nearer than twice the clearance, the nearest first.
    pub pairs: Vec<Gap>,
    /// Parts nearer to a wall than twice the clearance to walls, the nearest first.
    pub walls: Vec<WallGap>,
}

impl Proof {
    /// Whether every clearance is kept.
    pub fn holds(&self) -> bool {
        !self.pairs.iter().any(|p| p.violates) && !self.walls.iter().any(|w| w.violates)
    }
}

/// Finds what is nearer to what than twice the clearance, and to the walls. Bodies are identified by
/// their index in the list. In parallel; the result does not depend on the number of threads.
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
            Ok(near.map(|(near, contact)| judged_gap([i, j], &near, contact, space.clearance_mm)))
        })
        .collect::<Result<Vec<_>, Cancelled>>()?;
    let mut pairs: Vec<Gap> =
        found.into_iter().flatten().filter(|g| g.violates || g.distance_mm < limit).collect();
    pairs.sort_by(|a, b| a.distance_mm.total_cmp(&b.distance_mm).then(a.bodies.cmp(&b.bodies)));
    Ok(Proof { pairs, walls })
}
