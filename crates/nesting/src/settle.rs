//! Exact distances: parts sink and slide until the clearance holds them; what is nearly clear is made
//! so.
//!
//! A part moves by steps of less than twice the clearance. Before and after a step every distance
//! is at least the clearance, so that no part ever passes through another: for that, points of it
//! would have to come from one clearance before a surface to one clearance behind it in one step.

use crate::model::{Item, Placed, Space};
use crate::neighbours::Neighbours;
use crate::proof::{nearest, proof};
use crate::random::Random;
use crate::removal::removal;
use crate::solid::{Body, Bounds, Solid};
use crate::tighten::Goal;
use base::{Affine, Cancelled, Progress};
use rayon::prelude::*;
use std::sync::Arc;

type Vec3 = [f64; 3];

/// Shortest step, mm: what is left of the slack is not worth a question.
const SHORTEST_MM: f64 = 0.02;

impl Neighbours {
    /// Moves a part along `direction`, of any length, as far as clearances and walls let it, at most
    /// `most_mm`, and returns how far that was, mm, to 0.02 mm. A part that is too near to
    /// something already, or one without a clearance to keep, does not move.
    ///
    /// # Errors
    /// [`Cancelled`] on request; the part stays as far as it came.
    pub fn slide(
        &mut self,
        number: usize,
        direction: [f64; 3],
        most_mm: f64,
        progress: &Progress,
    ) -> Result<f64, Cancelled> {
        let length = direction.iter().map(|c| c * c).sum::<f64>().sqrt();
        let longest = 1.9 * self.space.clearance_mm;
        if !(length.is_finite() && length > 0.0 && longest > SHORTEST_MM) {
            return Ok(0.0);
        }
        let unit = direction.map(|c| c / length);
        let mut way = 0.0;
        let mut step = longest;
        while step > SHORTEST_MM {
            step = step.min(most_mm - way);
            if step <= 0.0 {
                break;
            }
            let by = unit.map(|c| c * step);
            if self.is_clear(number, by, progress)? {
                self.shift(number, by);
                way += step;
            } else {
                step *= 0.5;
            }
        }
        Ok(way)
    }

    /// Whether a part keeps all clearances if it is moved by so much.
    fn is_clear(&self, number: usize, by: Vec3, progress: &Progress) -> Result<bool, Cancelled> {
        let Some((body, Some(bounds))) = self.bodies.get(number).zip(self.bounds.get(number))
        else {
            return Ok(false);
        };
        let body =
            Body { solid: Arc::clone(&body.solid), pose: Affine::translation(by) * body.pose };
        let bounds = bounds.moved(by);
        let [width, depth, height] = self.space.size_mm;
        let (lo, hi) = ([-width / 2.0, -depth / 2.0, 0.0], [width / 2.0, depth / 2.0, height]);
        let wall = self.space.wall_clearance_mm;
        if (0..3).any(|k| bounds.lo[k] < lo[k] + wall || bounds.hi[k] > hi[k] - wall) {
            return Ok(false);
        }
        let clearance = self.space.clearance_mm;
        for (other, its) in self.bounds.iter().enumerate() {
            let Some(its) = its else { continue };
            if other == number || bounds.gap(its) >= clearance {
                continue;
            }
            let other = (&self.bodies[other], its);
            let near = nearest((&body, &bounds), other, clearance, None, progress)?;
            if near.is_some_and(|(near, _)| near.distance_mm < clearance) {
                return Ok(false);
            }
        }
        Ok(true)
    }

    pub(crate) fn shift(&mut self, number: usize, by: Vec3) {
        self.bodies[number].pose = Affine::translation(by) * self.bodies[number].pose;
        self.bounds[number] = self.bounds[number].map(|b| b.moved(by));
    }

    /// Lets all parts that `may_move` sink, straight and down slopes, the lowest first, for so many
    /// rounds or until none moves. Nothing comes to lie higher. With a clearance only.
    ///
    /// # Errors
    /// [`Cancelled`] on request; all clearances are kept then, too.
    pub fn sink(
        &mut self,
        may_move: impl Fn(usize) -> bool,
        rounds: u32,
        progress: &Progress,
    ) -> Result<(), Cancelled> {
        let mut random = Random::new(11);
        let bottom = |s: &Self, i: usize| s.bounds[i].as_ref().map_or(0.0, |b| b.lo[2]);
        for _ in 0..rounds {
            let mut order: Vec<usize> = (0..self.bodies.len()).filter(|i| may_move(*i)).collect();
            order.sort_by(|&a, &b| bottom(self, a).total_cmp(&bottom(self, b)).then(a.cmp(&b)));
            let mut sunk = 0.0;
            for i in order {
                let before = bottom(self, i);
                self.slide(i, [0., 0., -1.], f64::INFINITY, progress)?;
                for _ in 0..2 {
                    let turn = random.unit() * std::f64::consts::TAU;
                    let slope = 0.3 + 2.0 * random.unit();
                    let d = [slope * turn.cos(), slope * turn.sin(), -1.0];
                    if self.slide(i, d, 10.0, progress)? > 0.0 {
                        self.slide(i, [0., 0., -1.], f64::INFINITY, progress)?;
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

impl Bounds {
    pub(crate) fn moved(&self, by: Vec3) -> Self {
        let add = |p: Vec3| [0, 1, 2].map(|k| p[k] + by[k]);
        Self { lo: add(self.lo), hi: add(self.hi) }
    }
}

/// A build after [`Neighbours::tighten`] or [`Neighbours::press`].
#[derive(Clone, Debug)]
pub(crate) struct Tightened {
    pub(crate) build: Vec<Placed>,
    /// Numbers of placements, none of them locked, without which all clearances would be kept by what
    /// may move, and all of that could be taken out; none if that is so already.
    pub(crate) wrong: Vec<usize>,
}

/// Moves the parts of one build, but for the locked ones, apart where they are too near and then, if
/// so asked, as low as they get. With a clearance only. `solids` has one for each item.
///
/// # Errors
/// [`Cancelled`] on request.
pub(crate) fn tightened(
    solids: &[Arc<Solid>],
    build: &[Placed],
    space: &Space,
    goal: Goal,
    progress: &Progress,
) -> Result<Tightened, Cancelled> {
    /// Rounds; more hardly ever bring anything.
    const ROUNDS: u32 = 25;
    all_moved(solids, build, space, progress, |all, free| {
        all.tighten(free, goal, ROUNDS, progress).map(drop)
    })
}

/// Presses the parts of one build together, but for the locked ones, where they may touch.
///
/// # Errors
/// [`Cancelled`] on request.
pub(crate) fn pressed(
    solids: &[Arc<Solid>],
    build: &[Placed],
    space: &Space,
    progress: &Progress,
) -> Result<Tightened, Cancelled> {
    all_moved(solids, build, space, progress, |all, free| all.press(free, progress))
}

/// A build as it is.
///
/// # Errors
/// [`Cancelled`] on request.
pub(crate) fn judged(
    solids: &[Arc<Solid>],
    build: &[Placed],
    space: &Space,
    progress: &Progress,
) -> Result<Tightened, Cancelled> {
    all_moved(solids, build, space, progress, |_, _| Ok(()))
}

/// A build after work on its bodies, which is told which of them may move.
fn all_moved(
    solids: &[Arc<Solid>],
    build: &[Placed],
    space: &Space,
    progress: &Progress,
    work: impl FnOnce(&mut Neighbours, &[bool]) -> Result<(), Cancelled>,
) -> Result<Tightened, Cancelled> {
    let body = |p: &Placed| Body { solid: Arc::clone(&solids[p.item]), pose: p.pose };
    let mut all = Neighbours::new(build.iter().map(body).collect(), *space);
    let free: Vec<bool> = build.iter().map(|p| !p.locked).collect();
    work(&mut all, &free)?;
    let mut build = build.to_vec();
    take_over(&mut build, &all.bodies);
    let wrong = wrong(&all, &free, progress)?;
    Ok(Tightened { build, wrong })
}

/// What would have to go for the rest to be valid; of two parts the smaller.
fn wrong(all: &Neighbours, free: &[bool], progress: &Progress) -> Result<Vec<usize>, Cancelled> {
    let size = |body: usize| {
        all.bounds[body].map_or(0.0, |b| (0..3).map(|k| b.hi[k] - b.lo[k]).product::<f64>())
    };
    // The proof sees what distances do not tell: walls, and parts within the material of others.
    let proof = proof(&all.bodies, &all.space, progress)?;
    let walls = proof.walls.iter().filter(|w| w.violates).map(|w| vec![w.body]);
    let pairs = proof.pairs.iter().filter(|p| p.violates).map(|p| p.bodies.to_vec());
    let removal = removal(&all.bodies, progress)?;
    let held = removal.trapped.iter().map(|t| [&[t.body], t.by.as_slice()].concat());
    let mut wrong: Vec<usize> = Vec::new();
    for bodies in walls.chain(pairs).chain(held) {
        if bodies.iter().any(|b| wrong.contains(b)) {
            continue;
        }
        // Locked ones are as they are.
        let may_go = bodies.into_iter().filter(|b| free[*b]);
        wrong.extend(may_go.min_by(|a, b| size(*a).total_cmp(&size(*b)).then(a.cmp(b))));
    }
    Ok(wrong)
}

/// Lets the parts of one build sink from where they are, by exact distances and without turning
/// them; true if any moved. What is locked stays, and parts that are too near to something do not
/// move. If a part could not be taken out afterwards that could before, everything stays.
///
/// When `progress` is cancelled, what was reached until then counts.
///
/// # Errors
/// [`Cancelled`] before anything was done.
pub fn compaction(
    items: &[Item],
    build: &mut [Placed],
    space: &Space,
    rounds: u32,
    progress: &Progress,
) -> Result<bool, Cancelled> {
    progress.check()?;
    let Some(bodies) = bodies_of(items, build) else { return Ok(false) };
    let quiet = Progress::default();
    let before = removal(&bodies, &quiet)?;
    let mut now = build.to_vec();
    let bodies = if space.clearance_mm > SHORTEST_MM {
        let mut all = Neighbours::new(bodies, *space);
        all.sink(|i| !build[i].locked, rounds, progress).ok();
        take_over(&mut now, &all.bodies);
        all.bodies
    } else if space.clearance_mm > 0.0 {
        return Ok(false); // below what is worth a question
    } else {
        let (fixed, mut free): (Vec<Placed>, Vec<Placed>) = now.iter().partition(|p| p.locked);
        crate::compact::compact(items, &fixed, &mut free, space, 12, progress).ok();
        let mut moved = free.into_iter();
        for p in now.iter_mut().filter(|p| !p.locked) {
            *p = moved.next().unwrap_or(*p);
        }
        bodies_of(items, &now).unwrap_or_default()
    };
    if now == build || removal(&bodies, &quiet)?.trapped.len() > before.trapped.len() {
        return Ok(false);
    }
    build.copy_from_slice(&now);
    Ok(true)
}

fn take_over(build: &mut [Placed], bodies: &[Body]) {
    for (p, body) in build.iter_mut().zip(bodies) {
        p.pose = body.pose;
    }
}

/// The placed parts, each surface made ready once; `None` if one names no item.
fn bodies_of(items: &[Item], build: &[Placed]) -> Option<Vec<Body>> {
    let used = |i: usize| build.iter().any(|p| p.item == i);
    let solids: Vec<Option<Arc<Solid>>> = items
        .par_iter()
        .enumerate()
        .map(|(i, item)| used(i).then(|| Arc::new(Solid::new(Arc::clone(&item.mesh)))))
        .collect();
    let body =
        |p: &Placed| Some(Body { solid: Arc::clone(solids.get(p.item)?.as_ref()?), pose: p.pose });
    build.iter().map(body).collect()
}

/// Whether every part of a build can be taken out.
pub(crate) fn comes_apart(
    items: &[Item],
    build: &[Placed],
    progress: &Progress,
) -> Result<bool, Cancelled> {
    bodies_of(items, build).map_or(Ok(true), |all| Ok(removal(&all, progress)?.is_free()))
}
