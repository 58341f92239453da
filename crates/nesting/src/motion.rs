//! Parts moved by hand: how far they come until the clearance holds them, and what they push.
//!
//! A motion is a pose of every moved part at every time from 0 to 1, and a bound on how far any of
//! their points goes. Two steps are safe. A *leap* is as long as the parts are farther apart than
//! they must be: nothing can come too near on it. A *stride* is shorter than twice the clearance and
//! ends where all clearances are kept: nothing can have passed through anything on it (see
//! `settle`). Where a stride does not end well, its last good point is found by halving.
//!
//! What is too near already when a motion begins may stay as near, or go farther away; what
//! overlaps does not count. So a part can always be drawn out of where it must not be.

use crate::neighbours::Neighbours;
use crate::proof::{Contact, Gap, TOLERANCE_MM, Wall, WallGap, gap, nearest, wall_gaps};
use crate::solid::{Body, Bounds};
use base::{Affine, Cancelled, Progress};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

type Vec3 = [f64; 3];

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

/// Longest look ahead, mm: farther, more pairs are measured than a longer leap saves.
const AHEAD_MM: f64 = 40.0;
/// A stride where no clearance is kept, mm. What is thinner than this could be passed through; no
/// beam is as narrow.
const THIN_MM: f64 = 0.2;
/// What a leap leaves, mm: poses are rounded, by less than this.
const ROUNDED_MM: f64 = 1e-5;
/// How exactly the last good point is found, mm.
const EXACT_MM: f64 = 2e-7;
/// Distances of equal poses differ by less, mm.
const NOISE_MM: f64 = 1e-9;
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
        let known = motion.parts.iter().all(|part| *part < self.bodies().len());
        if !known || motion.parts.is_empty() || !motion.reach_mm.is_finite() {
            return Ok(Came { time: 0.0, held: None });
        }
        let mut course = Course::new(self, motion, progress)?;
        let came = course.run()?;
        for (part, pose) in motion.parts.iter().zip((motion.at)(came.time)) {
            self.place(*part, pose);
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
        let mut last = None;
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
            let came = self.advance(&motion, progress)?;
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
        let pairs: Vec<(usize, usize)> = parts
            .iter()
            .flat_map(|part| (0..self.bodies().len()).map(move |other| (*part, other)))
            .filter(|(_, other)| !parts.contains(other))
            .collect();
        let found = pairs
            .into_par_iter()
            .filter_map(|(part, other)| {
                let body = |n: usize| Some((self.bodies.get(n)?, self.bounds.get(n)?.as_ref()?));
                let (a, b) = (body(part)?, body(other)?);
                (a.1.gap(b.1) <= within_mm).then(|| {
                    let near = nearest(a, b, within_mm, None, progress)?;
                    let clearance = self.space.clearance_mm;
                    Ok(near.map(|(near, contact)| gap([part, other], &near, contact, clearance)))
                })
            })
            .collect::<Result<Vec<_>, Cancelled>>()?;
        let mut gaps: Vec<Gap> = found.into_iter().flatten().collect();
        gaps.sort_by(|a, b| a.distance_mm.total_cmp(&b.distance_mm).then(a.bodies.cmp(&b.bodies)));
        let each: Vec<[WallGap; 6]> = parts
            .iter()
            .filter_map(|part| {
                let extremes = self.bodies.get(*part)?.extremes()?;
                Some(wall_gaps(*part, &extremes, &self.space))
            })
            .collect();
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

/// A motion under way.
struct Course<'a> {
    all: &'a Neighbours,
    motion: &'a Motion<'a>,
    progress: &'a Progress,
    /// Whether a part moves, by number.
    moves: Vec<bool>,
    start: Vec<Affine>,
    /// Pairs nearer than the clearance when it began, and how near; minus infinity for overlaps.
    limits: BTreeMap<(usize, usize), f64>,
    /// How near each moved part may come to each wall, mm.
    walls: Vec<[f64; 6]>,
    /// Triangles last found nearest, by pair.
    hints: BTreeMap<(usize, usize), [u32; 2]>,
}

/// The least that a pose has to spare, and to what: one of the moved parts and its obstacle.
struct Spare {
    mm: f64,
    to: Option<(usize, Obstacle, Vec3)>,
}

impl<'a> Course<'a> {
    fn new(
        all: &'a Neighbours,
        motion: &'a Motion<'a>,
        progress: &'a Progress,
    ) -> Result<Self, Cancelled> {
        let mut moves = vec![false; all.bodies.len()];
        for part in motion.parts {
            moves[*part] = true;
        }
        let start: Vec<Affine> = motion.parts.iter().map(|part| all.bodies[*part].pose).collect();
        let (limits, hints) = (BTreeMap::new(), BTreeMap::new());
        let mut course =
            Self { all, motion, progress, moves, start, limits, walls: Vec::new(), hints };
        let poses = course.posed(0.0);
        for (pair, mm, overlaps, _) in course.pairs(&poses, 0.0)? {
            if overlaps {
                course.limits.insert(pair, f64::NEG_INFINITY);
            } else if mm < all.space.clearance_mm {
                course.limits.insert(pair, mm);
            }
        }
        let clearance = all.space.wall_clearance_mm;
        let limit = |(_, bounds): &(Body, Option<Bounds>)| {
            let gaps = bounds.map_or([f64::INFINITY; 6], |b| to_walls(&b, all.space.size_mm));
            gaps.map(|gap| gap.min(clearance))
        };
        course.walls = poses.iter().map(limit).collect();
        Ok(course)
    }

    fn run(&mut self) -> Result<Came, Cancelled> {
        let reach = self.motion.reach_mm;
        let stride = (1.9 * self.all.space.clearance_mm).max(THIN_MM);
        let mut time = 0.0;
        while time < 1.0 {
            self.progress.check()?;
            let left = (1.0 - time) * reach;
            let ahead = (left + 2.0 * ROUNDED_MM).min(AHEAD_MM);
            let leap = self.spare(time, ahead)?.mm.min(ahead) - ROUNDED_MM;
            if leap >= left {
                return Ok(Came { time: 1.0, held: None });
            }
            if leap > 0.5 * stride {
                time += leap / reach;
                continue;
            }
            let next = (time + stride / reach).min(1.0);
            if self.is_clear(next)? {
                time = next;
            } else {
                return self.last_clear(time, next);
            }
        }
        Ok(Came { time: 1.0, held: None })
    }

    fn is_clear(&mut self, time: f64) -> Result<bool, Cancelled> {
        Ok(self.spare(time, 0.0)?.mm >= -NOISE_MM)
    }

    /// Between a good and a bad time.
    fn last_clear(&mut self, mut good: f64, mut bad: f64) -> Result<Came, Cancelled> {
        let exact = EXACT_MM / self.motion.reach_mm;
        // As many halvings as a double has digits.
        for _ in 0..53 {
            let middle = f64::midpoint(good, bad);
            if bad - good <= exact || middle <= good || middle >= bad {
                break;
            }
            self.progress.check()?;
            if self.is_clear(middle)? {
                good = middle;
            } else {
                bad = middle;
            }
        }
        let met = self.spare(bad, 0.0)?.to;
        let held = match met {
            Some((part, by @ Obstacle::Part(other), _)) => {
                // Where they overlap, nothing tells the direction: ask where they do not yet.
                let before = self.spare_to(good, part, other)?;
                before.map(|away| Held { by, away })
            }
            Some((_, by, away)) => Some(Held { by, away }),
            None => None,
        };
        Ok(Came { time: good, held })
    }

    fn spare_to(&self, time: f64, part: usize, other: usize) -> Result<Option<Vec3>, Cancelled> {
        let at = self.motion.parts.iter().position(|moved| *moved == part);
        let poses = self.posed(time);
        let Some((Some((body, Some(bounds))), Some(its))) =
            at.map(|at| (poses.get(at).map(|(b, o)| (b, o.as_ref())), self.all.bounds[other]))
        else {
            return Ok(None);
        };
        let within = self.all.space.clearance_mm + 1.0;
        let near =
            nearest((body, bounds), (&self.all.bodies[other], &its), within, None, self.progress)?;
        Ok(Some(near.map_or([0.0; 3], |(near, _)| unit(near.points_mm))))
    }

    /// What a pose has to spare before something is too near; what has more than `ahead_mm` does
    /// not count.
    fn spare(&mut self, time: f64, ahead_mm: f64) -> Result<Spare, Cancelled> {
        let poses = self.posed(time);
        let mut least = Spare { mm: ahead_mm.max(NOISE_MM), to: None };
        for (k, (_, bounds)) in poses.iter().enumerate() {
            let Some(bounds) = bounds else { continue };
            let gaps = to_walls(bounds, self.all.space.size_mm);
            for (number, wall) in Wall::ALL.into_iter().enumerate() {
                let mm = gaps[number] - self.walls[k][number];
                if mm < least.mm {
                    let mut away = [0.0; 3];
                    away[number / 2] = if number % 2 == 0 { 1.0 } else { -1.0 };
                    let to = Some((self.motion.parts[k], Obstacle::Wall(wall), away));
                    least = Spare { mm, to };
                }
            }
        }
        for (pair, distance, overlaps, away) in self.pairs(&poses, ahead_mm)? {
            let limit = self.limits.get(&pair).copied().unwrap_or(self.all.space.clearance_mm);
            // However small the clearance, an overlap is never good.
            let mm = if overlaps { -limit - 1.0 } else { distance - limit };
            if mm < least.mm {
                least = Spare { mm, to: Some((pair.0, Obstacle::Part(pair.1), away)) };
            }
        }
        Ok(least)
    }

    /// Pairs that have at most so much to spare: their distance, whether they overlap, and the
    /// direction from the other to the moved one.
    #[expect(clippy::type_complexity, reason = "used twice, right here")]
    fn pairs(
        &mut self,
        poses: &[(Body, Option<Bounds>)],
        ahead_mm: f64,
    ) -> Result<Vec<((usize, usize), f64, bool, Vec3)>, Cancelled> {
        let all = self.all;
        let clearance = all.space.clearance_mm;
        let mut asked = Vec::new();
        for (k, (body, bounds)) in poses.iter().enumerate() {
            let Some(bounds) = bounds else { continue };
            for (other, its) in all.bounds.iter().enumerate() {
                let Some(its) = its.as_ref().filter(|_| !self.moves[other]) else { continue };
                let pair = (self.motion.parts[k], other);
                let limit = self.limits.get(&pair).copied().unwrap_or(clearance);
                let within = limit + ahead_mm;
                if limit.is_finite() && bounds.gap(its) <= within {
                    let hint = self.hints.get(&pair).copied();
                    asked.push((pair, (body, bounds), (&all.bodies[other], its), within, hint));
                }
            }
        }
        let found = asked
            .into_par_iter()
            .map(|(pair, a, b, within, hint)| {
                let near = nearest(a, b, within, hint, self.progress)?;
                Ok(near.map(|(near, contact)| (pair, near, contact)))
            })
            .collect::<Result<Vec<_>, Cancelled>>()?;
        let mut pairs = Vec::new();
        for (pair, near, contact) in found.into_iter().flatten() {
            self.hints.insert(pair, near.triangles);
            let overlaps = contact == Contact::Overlap;
            pairs.push((pair, near.distance_mm, overlaps, unit(near.points_mm)));
        }
        Ok(pairs)
    }

    /// The moved parts at a time, with their boxes.
    fn posed(&self, time: f64) -> Vec<(Body, Option<Bounds>)> {
        let poses = (self.motion.at)(time);
        let parts = self.motion.parts.iter().zip(&self.start).zip(poses);
        parts
            .map(|((part, start), pose)| {
                let body = Body { solid: Arc::clone(&self.all.bodies[*part].solid), pose };
                let straight = (0..3).all(|k| {
                    (0..3).all(|c| start.rows[k][c].to_bits() == pose.rows[k][c].to_bits())
                });
                let bounds = if straight {
                    let by = [0, 1, 2].map(|k| pose.rows[k][3] - start.rows[k][3]);
                    self.all.bounds[*part].map(|bounds| bounds.moved(by))
                } else {
                    body.extremes().as_ref().map(Bounds::of)
                };
                (body, bounds)
            })
            .collect()
    }
}

/// How far a box is within each wall, in the order of [`Wall::ALL`], mm.
fn to_walls(bounds: &Bounds, [width, depth, height]: Vec3) -> [f64; 6] {
    let [lo, hi] = [bounds.lo, bounds.hi];
    [
        lo[0] + width / 2.0,
        width / 2.0 - hi[0],
        lo[1] + depth / 2.0,
        depth / 2.0 - hi[1],
        lo[2],
        height - hi[2],
    ]
}

/// The direction from the second point to the first; zero if they are the same.
fn unit([a, b]: [Vec3; 2]) -> Vec3 {
    let d = [0, 1, 2].map(|k| a[k] - b[k]);
    let size = length(d);
    if size > TOLERANCE_MM { d.map(|c| c / size) } else { [0.0; 3] }
}

fn add(a: Vec3, b: Vec3) -> Vec3 {
    [0, 1, 2].map(|k| a[k] + b[k])
}

fn dot(a: Vec3, b: Vec3) -> f64 {
    (0..3).map(|k| a[k] * b[k]).sum()
}

fn length(a: Vec3) -> f64 {
    dot(a, a).sqrt()
}
