//! Parts moved by hand: how far they come until the clearance holds them, and what they push.
//!
//! A motion is a pose of every moved part at every time from 0 to 1, and a bound on how far any of
//! their points goes. Two steps are safe. A *leap* is as long as the parts are farther apart than
//! they must be: nothing can come too near on it. A *stride* is shorter than twice the clearance and
//! ends where all clearances are kept: nothing can have passed through anything on it (see
//! `settle`). Where a stride does not end well, its last good point is found by false
//! position.
//!
//! What is too near already when a motion begins may stay as near, or go farther away; what
//! overlaps does not count. So a part can always be drawn out of where it must not be.

mod course;

use crate::neighbours::Neighbours;
use crate::proof::{Gap, Wall, WallGap};
use crate::vector::{Vec3, dot};
use base::{Affine, Cancelled, Progress};
use course::{Course, Memory};
use std::collections::BTreeMap;

/// Poses along a way.
pub struct Motion<'a> {
    /// Numbers of the parts that move, as one.
    pub parts: &'a [usize],
    /// Their poses, in that order, at a time from 0 to 1; at 0 where they are.
    pub at: &'a (dyn Fn(f64) -> Vec<Affine> + Sync),
    /// No point of theirs is ever faster than this, mm in the whole time.
    pub reach_mm: f64,
}

/// What parts meet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Obstacle {
    /// The part of this number.
    Part(usize),
    /// A wall of the build space.
    Wall(Wall),
}

/// What holds parts back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// What they met.
    pub by: Obstacle,
    /// The direction straight away from it where they met; zero where they touch.
    pub away: [f64; 3],
}

/// How far a motion came.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Came {
    /// The time that was reached.
    pub time: f64,
    /// What was in the way of going on.
    pub held: Option<Held>,
}

/// What came of moving parts, and maybe of pushing others.
#[derive(Clone, Debug, PartialEq)]
pub struct Carried {
    /// How far each part went that did, mm; by number.
    pub moves: Vec<(usize, [f64; 3])>,
    /// What was last in the way.
    pub held: Option<Held>,
}

/// Moves are whole multiples of this, mm, so that a job can say them.
const GRID_MM: f64 = 1e-6;
/// Part of the way by which parts draw away from what they slide along: the direction away is only
/// known so well.
const LIFT: f64 = 1e-5;
/// Shorter ways aside are not worth a question, mm.
const SHORTEST_MM: f64 = 1e-4;
/// How often parts turn aside in one move.
const ASIDE: u32 = 3;

impl Neighbours {
    /// Moves parts along a motion as far as clearances and walls let them.
    ///
    /// # Errors
    /// [`Cancelled`] on request; nothing has moved then.
    pub fn advance(&mut self, motion: &Motion, progress: &Progress) -> Result<Came, Cancelled> {
        self.go_on(motion, &mut Memory::default(), progress)
    }

    fn go_on(
        &mut self,
        motion: &Motion,
        memory: &mut Memory,
        progress: &Progress,
    ) -> Result<Came, Cancelled> {
        let known = motion.parts.iter().all(|part| *part < self.bodies().len());
        if !known || motion.parts.is_empty() || !motion.reach_mm.is_finite() {
            return Ok(Came { time: 0.0, held: None });
        }
        let mut course = Course::new(self, motion, memory, progress)?;
        let came = course.run()?;
        let posed = course.posed(came.time);
        for (part, (body, bounds)) in motion.parts.iter().zip(posed) {
            self.bodies[*part] = body;
            self.bounds[*part] = bounds;
        }
        Ok(came)
    }

    /// Moves parts, as one, straight by so much, mm. What they meet and `may_move` goes with them
    /// from there on; anything else stops them, and they go on along it, in the plane of the axes
    /// along which they are to move. Parts that are to move along one axis only just stop.
    ///
    /// # Errors
    /// [`Cancelled`] on request; they stay as far as they came.
    pub fn carry(
        &mut self,
        parts: &[usize],
        by: [f64; 3],
        may_move: impl Fn(usize) -> bool,
        progress: &Progress,
    ) -> Result<Carried, Cancelled> {
        let plane = by.map(|c| c != 0.0);
        let mut moves: BTreeMap<usize, Vec3> = BTreeMap::new();
        let (mut train, mut left, mut turned) = (parts.to_vec(), by, 0);
        let (mut last, mut memory) = (None, Memory::default());
        loop {
            let start: Option<Vec<Affine>> =
                train.iter().map(|part| Some(self.bodies().get(*part)?.pose)).collect();
            let Some(start) = start else { break };
            let way = |time: f64| left.map(|c| (c * time / GRID_MM).round() * GRID_MM);
            let at = |time: f64| {
                let move_by = Affine::translation(way(time));
                start.iter().map(|pose| move_by * *pose).collect()
            };
            let motion = Motion { parts: &train, at: &at, reach_mm: length(left) };
            let came = self.go_on(&motion, &mut memory, progress)?;
            let done = way(came.time);
            for part in &train {
                let sum = moves.entry(*part).or_default();
                *sum = add(*sum, done);
            }
            let Some(held) = came.held else { break };
            left = [0, 1, 2].map(|k| left[k] - done[k]);
            if let Obstacle::Part(met) = held.by
                && may_move(met)
                && !train.contains(&met)
            {
                train.push(met);
                continue;
            }
            last = Some(held);
            turned += 1;
            let Some(aside) = aside(left, held.away, plane).filter(|_| turned <= ASIDE) else {
                break;
            };
            left = aside;
            parts.clone_into(&mut train);
        }
        moves.retain(|_, by| length(*by) > 0.0);
        Ok(Carried { moves: moves.into_iter().collect(), held: last })
    }

    /// Lowers a part straight down until the clearance to what is below or to the platform holds
    /// it; returns by how much, mm.
    ///
    /// # Errors
    /// [`Cancelled`] on request; the part has not moved then.
    pub fn drop_down(&mut self, part: usize, progress: &Progress) -> Result<f64, Cancelled> {
        let Some(bounds) = self.bounds.get(part).copied().flatten() else { return Ok(0.0) };
        let most = bounds.lo[2] - self.space.wall_clearance_mm;
        if most <= 0.0 {
            return Ok(0.0);
        }
        let carried = self.carry(&[part], [0.0, 0.0, -most], |_| false, progress)?;
        Ok(carried.moves.first().map_or(0.0, |(_, by)| -by[2]))
    }

    /// What is nearer to some parts than `within_mm` or overlaps them, the nearest first, one of the
    /// parts the first of each pair; and how far they are from each wall, in the order of
    /// [`Wall::ALL`].
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn around(
        &self,
        parts: &[usize],
        within_mm: f64,
        progress: &Progress,
    ) -> Result<(Vec<Gap>, Vec<WallGap>), Cancelled> {
        let pairs = parts
            .iter()
            .flat_map(|part| (0..self.bodies().len()).map(move |other| [*part, other]))
            .filter(|[_, other]| !parts.contains(other))
            .map(|pair| (pair, None));
        let gaps = self.gaps(pairs.collect(), within_mm, progress)?;
        let each: Vec<[WallGap; 6]> = parts.iter().filter_map(|part| self.walls(*part)).collect();
        let nearest_to = |wall: usize| {
            each.iter()
                .map(|gaps| gaps[wall])
                .min_by(|a, b| a.distance_mm.total_cmp(&b.distance_mm))
        };
        Ok((gaps, (0..6).filter_map(nearest_to).collect()))
    }
}

/// What is left of a way when it goes on along what is in the way; `None` if nothing is.
fn aside(left: Vec3, away: Vec3, plane: [bool; 3]) -> Option<Vec3> {
    let flat = [0, 1, 2].map(|k| if plane[k] { away[k] } else { 0.0 });
    let size = length(flat);
    if size < 1e-3 {
        return None;
    }
    let out = flat.map(|c| c / size);
    let into = dot(left, out);
    if into >= 0.0 {
        return None; // it goes away already, and is held all the same
    }
    let along = [0, 1, 2].map(|k| left[k] - into * out[k]);
    // Along a wall or the face of a box the direction is known exactly.
    let exact = out.iter().any(|c| c.abs() >= 1.0);
    let lift = if exact { 0.0 } else { LIFT * length(along) };
    let way = [0, 1, 2].map(|k| along[k] + lift * out[k]);
    (length(along) > SHORTEST_MM).then_some(way)
}

fn add(a: Vec3, b: Vec3) -> Vec3 {
    [0, 1, 2].map(|k| a[k] + b[k])
}

fn length(a: Vec3) -> f64 {
    dot(a, a).sqrt()
}
