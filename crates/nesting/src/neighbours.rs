//! What is near one part while it is moved by hand.

use crate::model::Space;
use crate::proof::{Gap, WallGap, gap, nearest, wall_gaps};
use crate::solid::{Body, Bounds};
use base::{Affine, Cancelled, Progress};
use rayon::prelude::*;

/// An arrangement in which parts are moved one at a time.
///
/// Keeps what it learnt from one question to the next: the boxes of all parts, and which triangles
/// were nearest to each other.
#[derive(Clone, Debug)]
pub struct Neighbours {
    pub(crate) bodies: Vec<Body>,
    pub(crate) bounds: Vec<Option<Bounds>>,
    pub(crate) space: Space,
    /// The part last asked about, and per other part the triangles last found nearest.
    moving: usize,
    hints: Vec<Option<[u32; 2]>>,
}

impl Neighbours {
    /// For these parts, numbered as listed.
    pub fn new(bodies: Vec<Body>, space: Space) -> Self {
        let bounds =
            bodies.par_iter().map(|body| body.extremes().as_ref().map(Bounds::of)).collect();
        let hints = vec![None; bodies.len()];
        Self { bodies, bounds, space, moving: 0, hints }
    }

    /// The parts at their places.
    pub fn bodies(&self) -> &[Body] {
        &self.bodies
    }

    /// Moves a part to where it is to stay, or nothing if there is none of that number.
    pub fn place(&mut self, number: usize, pose: Affine) {
        if let Some(body) = self.bodies.get_mut(number) {
            body.pose = pose;
            self.bounds[number] = body.extremes().as_ref().map(Bounds::of);
        }
    }

    /// Moves a part, and tells all others that are nearer to it than `within_mm` or overlap it, the
    /// nearest first. The moved part is the first of each pair, whatever its number. Nothing if
    /// there is no part of that number.
    ///
    /// # Errors
    /// [`Cancelled`] on request; the part has been moved then.
    pub fn near(
        &mut self,
        number: usize,
        pose: Affine,
        within_mm: f64,
        progress: &Progress,
    ) -> Result<Vec<Gap>, Cancelled> {
        if number != self.moving {
            self.moving = number;
            self.hints.fill(None);
        }
        self.place(number, pose);
        let pairs = (0..self.bodies.len()).filter(|other| *other != number);
        let pairs = pairs.map(|other| ([number, other], self.hints[other])).collect();
        let gaps = self.gaps(pairs, within_mm, progress)?;
        for g in &gaps {
            self.hints[g.bodies[1]] = Some(g.triangles);
        }
        Ok(gaps)
    }

    /// The gaps of those pairs that are nearer than `within_mm` or overlap, the nearest first; with
    /// each pair the triangles last found nearest, if they are known. Pairs of parts that do not
    /// exist or have no triangles have none.
    pub(crate) fn gaps(
        &self,
        pairs: Vec<([usize; 2], Option<[u32; 2]>)>,
        within_mm: f64,
        progress: &Progress,
    ) -> Result<Vec<Gap>, Cancelled> {
        let part = |n: usize| Some((self.bodies.get(n)?, self.bounds.get(n)?.as_ref()?));
        let found = pairs
            .into_par_iter()
            .filter_map(|([a, b], hint)| {
                let (one, other) = (part(a)?, part(b)?);
                (one.1.gap(other.1) <= within_mm).then(|| {
                    let near = nearest(one, other, within_mm, hint, progress)?;
                    let clearance = self.space.clearance_mm;
                    Ok(near.map(|(near, contact)| gap([a, b], &near, contact, clearance)))
                })
            })
            .collect::<Result<Vec<_>, Cancelled>>()?;
        let mut gaps: Vec<Gap> = found.into_iter().flatten().collect();
        gaps.sort_by(|a, b| a.distance_mm.total_cmp(&b.distance_mm).then(a.bodies.cmp(&b.bodies)));
        Ok(gaps)
    }

    /// How far a part is from each wall, in the order of [`crate::Wall::ALL`]; `None` without a part
    /// of that number or without triangles.
    pub fn walls(&self, number: usize) -> Option<[WallGap; 6]> {
        let extremes = self.bodies.get(number)?.extremes()?;
        Some(wall_gaps(number, &extremes, &self.space))
    }
}
