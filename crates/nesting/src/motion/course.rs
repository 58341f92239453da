//! One motion, from its start to where something holds it.

use super::{Came, Held, Motion, Obstacle, Vec3, length};
use crate::neighbours::Neighbours;
use crate::proof::{Contact, TOLERANCE_MM, Wall, nearest};
use crate::solid::{Body, Bounds};
use base::{Affine, Cancelled, Progress};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Longest look ahead, mm: farther, more pairs are measured than a longer leap saves.
const AHEAD_MM: f64 = 40.0;
/// A stride where no clearance is kept, mm. What is thinner than this could be passed through; no
/// beam is as narrow.
const THIN_MM: f64 = 0.2;
/// What a leap leaves, mm: poses are rounded, by less than this.
const ROUNDED_MM: f64 = 1e-5;
/// How exactly the last good point is found: it has no more than this to spare, mm, or the next
/// point this far on is bad.
const EXACT_MM: [f64; 2] = [5e-7, 2e-7];
/// Distances of equal poses differ by less, mm.
const NOISE_MM: f64 = 1e-9;

/// What one motion leaves to the next one of the same parts and maybe others, while nothing else
/// moves.
#[derive(Default)]
pub(super) struct Memory {
    /// Pairs nearer than the clearance when it all began, and how near; minus infinity for overlaps.
    limits: BTreeMap<(usize, usize), f64>,
    /// Triangles last found nearest, by pair.
    hints: BTreeMap<(usize, usize), [u32; 2]>,
    /// What a pair had to spare at least, mm, and after how long a way.
    spares: BTreeMap<(usize, usize), [f64; 2]>,
    /// Parts whose limits are known.
    known: Vec<usize>,
    /// The way so far, mm: no two parts have come nearer to each other by more.
    way_mm: f64,
}

/// A motion under way.
pub(super) struct Course<'a> {
    all: &'a Neighbours,
    motion: &'a Motion<'a>,
    memory: &'a mut Memory,
    progress: &'a Progress,
    /// Whether a part moves, by number.
    moves: Vec<bool>,
    start: Vec<Affine>,
    /// How near each moved part may come to each wall, mm.
    walls: Vec<[f64; 6]>,
}

/// The least that a pose has to spare, and to what: one of the moved parts and its obstacle.
struct Spare {
    mm: f64,
    to: Option<(usize, Obstacle, Vec3)>,
}

/// A pair that was measured.
struct Measured {
    pair: (usize, usize),
    spare_mm: f64,
    overlaps: bool,
    away: Vec3,
}

impl<'a> Course<'a> {
    pub(super) fn new(
        all: &'a Neighbours,
        motion: &'a Motion<'a>,
        memory: &'a mut Memory,
        progress: &'a Progress,
    ) -> Result<Self, Cancelled> {
        let mut moves = vec![false; all.bodies.len()];
        for part in motion.parts {
            moves[*part] = true;
        }
        let start: Vec<Affine> = motion.parts.iter().map(|part| all.bodies[*part].pose).collect();
        let mut course = Self { all, motion, memory, progress, moves, start, walls: Vec::new() };
        let poses = course.posed(0.0);
        let clearance = all.space.wall_clearance_mm;
        let limit = |(_, bounds): &(Body, Option<Bounds>)| {
            let gaps = bounds.map_or([f64::INFINITY; 6], |b| to_walls(&b, all.space.size_mm));
            gaps.map(|gap| gap.min(clearance))
        };
        course.walls = poses.iter().map(limit).collect();
        course.learn(&poses)?;
        Ok(course)
    }

    /// Finds what is too near already, for parts that did not move before.
    fn learn(&mut self, poses: &[(Body, Option<Bounds>)]) -> Result<(), Cancelled> {
        for found in self.pairs(poses, 0.0, self.memory.way_mm)? {
            if self.memory.known.contains(&found.pair.0) || found.spare_mm >= 0.0 {
                continue;
            }
            let clearance = self.all.space.clearance_mm;
            let limit = if found.overlaps { f64::NEG_INFINITY } else { clearance + found.spare_mm };
            self.memory.limits.insert(found.pair, limit);
            self.memory.spares.remove(&found.pair);
        }
        for part in self.motion.parts {
            if !self.memory.known.contains(part) {
                self.memory.known.push(*part);
            }
        }
        Ok(())
    }

    pub(super) fn run(&mut self) -> Result<Came, Cancelled> {
        let came = self.course()?;
        self.memory.way_mm += came.time * self.motion.reach_mm;
        Ok(came)
    }

    fn course(&mut self) -> Result<Came, Cancelled> {
        let reach = self.motion.reach_mm;
        let stride = (1.9 * self.all.space.clearance_mm).max(THIN_MM);
        let (mut time, mut ahead) = (0.0, 2.0 * stride);
        while time < 1.0 {
            self.progress.check()?;
            let left = (1.0 - time) * reach;
            ahead = ahead.min(AHEAD_MM).min(left + 2.0 * ROUNDED_MM);
            let leap = self.spare(time, ahead)?.mm.min(ahead) - ROUNDED_MM;
            if leap >= left {
                return Ok(Came { time: 1.0, held: None });
            }
            if leap > 0.5 * stride {
                time += leap / reach;
                ahead *= 2.0;
                continue;
            }
            let next = (time + stride / reach).min(1.0);
            let there = self.spare(next, 0.0)?.mm;
            if there >= -NOISE_MM {
                time = next;
            } else {
                return self.last_clear([time, leap + ROUNDED_MM], [next, there]);
            }
        }
        Ok(Came { time: 1.0, held: None })
    }

    /// Between a good and a bad time, each with what it has to spare: by false position with halved
    /// weights (the Illinois method), and by halving where that does not get on.
    fn last_clear(
        &mut self,
        [mut good, mut spare_mm]: [f64; 2],
        [mut bad, bad_mm]: [f64; 2],
    ) -> Result<Came, Cancelled> {
        let [enough, exact] = EXACT_MM;
        let mut weights = [spare_mm, bad_mm];
        let (mut was_good, mut halve) = (None, false);
        // Twice as many steps as a double has digits.
        for _ in 0..106 {
            let width = bad - good;
            if spare_mm <= enough || width * self.motion.reach_mm <= exact {
                break;
            }
            self.progress.check()?;
            // Aimed at half of what is enough, so that it is met from the good side.
            let share = (weights[0] - 0.5 * enough) / (weights[0] - weights[1]);
            let share = if halve || !(share > 0.0 && share < 1.0) { 0.5 } else { share };
            let middle = good + share * width;
            if middle <= good || middle >= bad {
                break;
            }
            let mm = self.spare(middle, spare_mm)?.mm;
            let is_good = mm >= -NOISE_MM;
            if is_good {
                (good, spare_mm, weights[0]) = (middle, mm, mm);
            } else {
                (bad, weights[1]) = (middle, mm);
            }
            if was_good == Some(is_good) {
                weights[usize::from(is_good)] *= 0.5;
            }
            was_good = Some(is_good);
            halve = !halve && bad - good > 0.5 * width;
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
        let way_mm = self.memory.way_mm + time * self.motion.reach_mm;
        for found in self.pairs(&poses, ahead_mm, way_mm)? {
            if found.spare_mm < least.mm {
                let (part, other) = found.pair;
                let to = Some((part, Obstacle::Part(other), found.away));
                least = Spare { mm: found.spare_mm, to };
            }
        }
        Ok(least)
    }

    /// Pairs that have at most so much to spare, after so long a way. What had more to spare than
    /// the way since could use up is not measured again.
    fn pairs(
        &mut self,
        poses: &[(Body, Option<Bounds>)],
        ahead_mm: f64,
        way_mm: f64,
    ) -> Result<Vec<Measured>, Cancelled> {
        let all = self.all;
        let clearance = all.space.clearance_mm;
        // Seen farther than asked, so that it need not be asked again soon.
        let seen_mm = ahead_mm + (2.0 * clearance).max(THIN_MM);
        let mut asked = Vec::new();
        for (k, (body, bounds)) in poses.iter().enumerate() {
            let Some(bounds) = bounds else { continue };
            for (other, its) in all.bounds.iter().enumerate() {
                let Some(its) = its.as_ref().filter(|_| !self.moves[other]) else { continue };
                let pair = (self.motion.parts[k], other);
                let limit = self.memory.limits.get(&pair).copied().unwrap_or(clearance);
                if !limit.is_finite() || bounds.gap(its) > limit + ahead_mm {
                    continue;
                }
                let spare = self.memory.spares.get(&pair);
                if spare.is_some_and(|[mm, at]| mm - (way_mm - at).abs() > ahead_mm + ROUNDED_MM) {
                    continue;
                }
                let hint = self.memory.hints.get(&pair).copied();
                asked.push((pair, (body, bounds), (&all.bodies[other], its), limit, hint));
            }
        }
        let found = asked
            .into_par_iter()
            .map(|(pair, a, b, limit, hint)| {
                let near = nearest(a, b, limit + seen_mm, hint, self.progress)?;
                Ok((pair, limit, near))
            })
            .collect::<Result<Vec<_>, Cancelled>>()?;
        let mut pairs = Vec::new();
        for (pair, limit, near) in found {
            let Some((near, contact)) = near else {
                self.memory.spares.insert(pair, [seen_mm, way_mm]);
                continue;
            };
            self.memory.hints.insert(pair, near.triangles);
            let overlaps = contact == Contact::Overlap;
            // However small the clearance, an overlap is never good.
            let spare_mm = if overlaps { -limit - 1.0 } else { near.distance_mm - limit };
            self.memory.spares.insert(pair, [spare_mm, way_mm]);
            if spare_mm <= ahead_mm {
                pairs.push(Measured { pair, spare_mm, overlaps, away: unit(near.points_mm) });
            }
        }
        Ok(pairs)
    }

    /// The moved parts at a time, with their boxes.
    pub(super) fn posed(&self, time: f64) -> Vec<(Body, Option<Bounds>)> {
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
