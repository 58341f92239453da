//! All bodies of one build at their places, and what is near one of them.

use crate::exact::distance::{Gap, WallGap, judged_gap, nearest, wall_gaps};
use crate::model::Space;
use crate::solid::{Body, Bounds};
use base::vec3::Vec3;
use base::{Affine, Cancelled, Progress};
use rayon::prelude::*;

/// The bodies of one build, identified by their index in the list, which are moved without ever being
/// rebuilt.
///
/// It keeps from one query to the next what stays true: the boxes of all bodies, and which triangles
/// were nearest to each other.
#[derive(Clone, Debug)]
pub struct PlacedBodies {
    pub(crate) bodies: Vec<Body>,
    pub(crate) bounds: Vec<Option<Bounds>>,
    pub(crate) space: Space,
    /// The body that [`Self::near`] was last asked about.
    moving: usize,
    /// Per other body the triangles that were then nearest: where the next query begins.
    hints: Vec<Option<[u32; 2]>>,
}

impl PlacedBodies {
    /// Takes bodies at their places.
    pub fn new(bodies: Vec<Body>, space: Space) -> Self {
        let bounds = bodies.par_iter().map(Bounds::of_body).collect();
        let hints = vec![None; bodies.len()];
        Self { bodies, bounds, space, moving: 0, hints }
    }

    /// The bodies at their places.
    pub fn bodies(&self) -> &[Body] {
        &self.bodies
    }

    /// Puts a body somewhere; nothing happens if there is none of that index.
    pub fn place(&mut self, index: usize, pose: Affine) {
        if let Some(body) = self.bodies.get_mut(index) {
            body.pose = pose;
            self.bounds[index] = Bounds::of_body(body);
        }
    }

    /// Moves a body by so much, mm. Its box moves along, which is much faster than to find it anew.
    pub(crate) fn shift(&mut self, index: usize, by: Vec3) {
        self.bodies[index].pose = Affine::translation(by) * self.bodies[index].pose;
        self.bounds[index] = self.bounds[index].map(|b| b.moved(by));
    }

    /// Moves a body, and returns all others that are nearer to it than `within_mm` or overlap it, the
    /// nearest first. The moved body is the first of each pair, whatever its index. Nothing is
    /// returned if there is no body of that index.
    ///
    /// # Errors
    /// [`Cancelled`] on request; the body has been moved then.
    pub fn near(
        &mut self,
        index: usize,
        pose: Affine,
        within_mm: f64,
        progress: &Progress,
    ) -> Result<Vec<Gap>, Cancelled> {
        if index != self.moving {
            self.moving = index;
            self.hints.fill(None);
        }
        self.place(index, pose);
        let pairs = (0..self.bodies.len()).filter(|other| *other != index);
        let pairs = pairs.map(|other| ([index, other], self.hints[other])).collect();
        let gaps = self.gaps(pairs, within_mm, progress)?;
        for g in &gaps {
            self.hints[g.bodies[1]] = Some(g.triangles);
        }
        Ok(gaps)
    }

    /// The gaps of those pairs that are nearer than `within_mm` or overlap, the nearest first. With each
    /// pair come the triangles last found nearest, if they are known. Bodies that do not exist or have
    /// no triangles have no gap.
    pub(crate) fn gaps(
        &self,
        pairs: Vec<([usize; 2], Option<[u32; 2]>)>,
        within_mm: f64,
        progress: &Progress,
    ) -> Result<Vec<Gap>, Cancelled> {
        let body = |n: usize| Some((self.bodies.get(n)?, self.bounds.get(n)?.as_ref()?));
        let found = pairs
            .into_par_iter()
            .filter_map(|([a, b], hint)| {
                let (one, other) = (body(a)?, body(b)?);
                (one.1.distance(other.1) <= within_mm).then(|| {
                    let near = nearest(one, other, within_mm, hint, progress)?;
                    let clearance = self.space.clearance_mm;
                    Ok(near.map(|(near, contact)| judged_gap([a, b], &near, contact, clearance)))
                })
            })
            .collect::<Result<Vec<_>, Cancelled>>()?;
        let mut gaps: Vec<Gap> = found.into_iter().flatten().collect();
        gaps.sort_by(|a, b| a.distance_mm.total_cmp(&b.distance_mm).then(a.bodies.cmp(&b.bodies)));
        Ok(gaps)
    }

    /// How far a body is from each wall, in the order of [`crate::Wall::ALL`]; `None` if there is no
    /// body of that index or if it has no triangles.
    pub fn walls(&self, index: usize) -> Option<[WallGap; 6]> {
        let extremes = self.bodies.get(index)?.extremes()?;
        Some(wall_gaps(index, &extremes, &self.space))
    }
}
