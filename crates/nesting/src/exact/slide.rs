//! Straight moves of one body, as far as the clearances allow.
//!
//! A body moves by steps that are shorter than twice the clearance, and every step ends where all
//! distances are at least the clearance. So no body ever passes through another: for that, some point
//! of it would have to come from one clearance before a surface to one clearance behind it in one
//! step.

use crate::exact::distance::nearest;
use crate::exact::placed_bodies::PlacedBodies;
use crate::random::Random;
use crate::solid::Body;
use base::vec3::{Vec3, length};
use base::{Affine, Cancelled, Progress};
use std::sync::Arc;

/// Longest step in clearances. Twice the clearance could pass through a sheet; a step much shorter
/// takes more queries for the same way.
const LONGEST_STEP: f64 = 1.9;

/// Shortest step, mm. A larger one leaves slack that is seen in the height of a build, a smaller one
/// costs a query that gains nothing worth printing. By taste.
pub(crate) const SHORTEST_MM: f64 = 0.02;

/// Fraction of a step that is tried next when a step does not end clear.
const SHORTER: f64 = 0.5;

/// Sloping directions tried per body and round of sinking. More take longer and bring little, none
/// leaves bodies on any ledge. By taste.
const SLOPES: u32 = 2;

/// Least way aside of a sloping direction per mm down, and how much more it may be: from almost straight
/// down to about 25° below the horizontal. By taste.
const MIN_ASIDE: f64 = 0.3;
const MORE_ASIDE: f64 = 2.0;

/// Longest slide along a slope, mm, so that a body does not wander through the whole build for a little
/// depth. By taste.
const SLOPE_WAY_MM: f64 = 10.0;

/// Seed of the sloping directions, so that a build always sinks in the same way.
const SEED: u64 = 11;

const DOWN: Vec3 = [0.0, 0.0, -1.0];

impl PlacedBodies {
    /// Moves a body along `direction`, of any length, as far as clearances and walls allow, at most
    /// `most_mm`, and returns how far that was, mm, to 0.02 mm. A body that is too near to something
    /// already does not move, nor does any body where there is no clearance to keep.
    ///
    /// # Errors
    /// [`Cancelled`] on request; the body stays as far as it came.
    pub fn slide(
        &mut self,
        index: usize,
        direction: [f64; 3],
        most_mm: f64,
        progress: &Progress,
    ) -> Result<f64, Cancelled> {
        let size = length(direction);
        let longest = LONGEST_STEP * self.space.clearance_mm;
        if !(size.is_finite() && size > 0.0 && longest > SHORTEST_MM) {
            return Ok(0.0);
        }
        let unit = direction.map(|c| c / size);
        let mut way = 0.0;
        let mut step = longest;
        while step > SHORTEST_MM {
            step = step.min(most_mm - way);
            if step <= 0.0 {
                break;
            }
            let by = unit.map(|c| c * step);
            if self.is_clear(index, by, progress)? {
                self.shift(index, by);
                way += step;
            } else {
                step *= SHORTER;
            }
        }
        Ok(way)
    }

    /// Whether a body keeps all clearances if it is moved by so much.
    fn is_clear(&self, index: usize, by: Vec3, progress: &Progress) -> Result<bool, Cancelled> {
        let Some((body, Some(bounds))) = self.bodies.get(index).zip(self.bounds.get(index)) else {
            return Ok(false);
        };
        let body =
            Body { solid: Arc::clone(&body.solid), pose: Affine::translation(by) * body.pose };
        let bounds = bounds.moved(by);
        let (low, high) = self.space.limits();
        if (0..3).any(|k| bounds.lo[k] < low[k] || bounds.hi[k] > high[k]) {
            return Ok(false);
        }
        let clearance = self.space.clearance_mm;
        for (other, other_bounds) in self.bounds.iter().enumerate() {
            let Some(other_bounds) = other_bounds else { continue };
            if other == index || bounds.distance(other_bounds) >= clearance {
                continue;
            }
            let other = (&self.bodies[other], other_bounds);
            let near = nearest((&body, &bounds), other, clearance, None, progress)?;
            if near.is_some_and(|(near, _)| near.distance_mm < clearance) {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Lets all bodies that `may_move` sink, straight and down slopes, the lowest first, for so many
    /// rounds or until none moves. No body comes to lie higher. Nothing moves where there is no
    /// clearance to keep.
    ///
    /// # Errors
    /// [`Cancelled`] on request; all clearances are kept then, too.
    pub fn sink(
        &mut self,
        may_move: impl Fn(usize) -> bool,
        rounds: u32,
        progress: &Progress,
    ) -> Result<(), Cancelled> {
        let mut random = Random::new(SEED);
        let bottom = |s: &Self, i: usize| s.bounds[i].as_ref().map_or(0.0, |b| b.lo[2]);
        for _ in 0..rounds {
            let mut order: Vec<usize> = (0..self.bodies.len()).filter(|i| may_move(*i)).collect();
            order.sort_by(|&a, &b| bottom(self, a).total_cmp(&bottom(self, b)).then(a.cmp(&b)));
            let mut sunk = 0.0;
            for i in order {
                let before = bottom(self, i);
                self.slide(i, DOWN, f64::INFINITY, progress)?;
                for _ in 0..SLOPES {
                    if self.slide(i, sloping(&mut random), SLOPE_WAY_MM, progress)? > 0.0 {
                        self.slide(i, DOWN, f64::INFINITY, progress)?;
                    }
                }
                sunk += before - bottom(self, i);
            }
            if sunk < SHORTEST_MM {
                break;
            }
        }
        Ok(())
    }
}

/// A direction down some slope.
fn sloping(random: &mut Random) -> Vec3 {
    let azimuth = random.unit() * std::f64::consts::TAU;
    let aside = MIN_ASIDE + MORE_ASIDE * random.unit();
    [aside * azimuth.cos(), aside * azimuth.sin(), -1.0]
}
