//! One motion, from its start to where something stops it.

use super::pair_cache::PairCache;
use super::{Blocked, Motion, MotionEnd, Obstacle};
use crate::exact::distance::{Contact, TOLERANCE_MM, Wall, nearest};
use crate::exact::placed_bodies::PlacedBodies;
use crate::solid::{Body, Bounds};
use base::vec3::{Vec3, length, sub};
use base::{Affine, Cancelled, Progress};
use rayon::prelude::*;
use std::sync::Arc;

/// Longest look ahead, mm: farther, more pairs are measured than a longer step saves.
const AHEAD_MM: f64 = 40.0;

/// A short step in clearances. Twice the clearance could pass through a sheet; a much shorter one takes
/// more queries for the same way.
const SHORT_STEP: f64 = 1.9;

/// A short step where no clearance is kept, mm. What is thinner than this could be passed through; no
/// beam is as narrow.
const THIN_MM: f64 = 0.2;

/// What a free step leaves, mm: poses are rounded, by less than this.
const ROUNDED_MM: f64 = 1e-5;

/// A free step is taken if it is longer than this fraction of a short one: else the short one, whose
/// end has to be measured, gets on faster.
const WORTH_A_FREE_STEP: f64 = 0.5;

/// How exactly the last clear point is found, mm: it has no more slack than the first, or a point no
/// farther on than the second is not clear.
const SLACK_TOLERANCE_MM: f64 = 5e-7;
const TRAVEL_TOLERANCE_MM: f64 = 2e-7;

/// Most steps of false position: twice as many as a double has digits.
const MAX_STEPS: u32 = 106;

/// Distances of equal poses differ by less, mm.
const NOISE_MM: f64 = 1e-9;

/// Beyond the clearance, mm, within which the obstacle that stopped a motion is looked for again.
const OBSTACLE_WITHIN_MM: f64 = 1.0;

/// A motion under way.
pub(super) struct Path<'a> {
    all: &'a PlacedBodies,
    motion: &'a Motion<'a>,
    cache: &'a mut PairCache,
    progress: &'a Progress,
    /// Whether a body moves, by index.
    moves: Vec<bool>,
    start: Vec<Affine>,
    /// How near each moved body may come to each wall, mm.
    walls: Vec<[f64; 6]>,
}

/// The least slack of a pose: how much nearer to an obstacle it could be, mm.
struct Slack {
    mm: f64,
    nearest: Option<NearestObstacle>,
}

/// What leaves the least slack.
struct NearestObstacle {
    /// The moved body that is near it.
    part: usize,
    obstacle: Obstacle,
    /// Direction straight away from it.
    away: Vec3,
}

/// A pair that was measured.
struct Measured {
    pair: (usize, usize),
    slack_mm: f64,
    overlaps: bool,
    away: Vec3,
}

impl<'a> Path<'a> {
    pub(super) fn new(
        all: &'a PlacedBodies,
        motion: &'a Motion<'a>,
        cache: &'a mut PairCache,
        progress: &'a Progress,
    ) -> Result<Self, Cancelled> {
        let mut moves = vec![false; all.bodies.len()];
        for part in motion.parts {
            moves[*part] = true;
        }
        let start: Vec<Affine> = motion.parts.iter().map(|part| all.bodies[*part].pose).collect();
        let mut path = Self { all, motion, cache, progress, moves, start, walls: Vec::new() };
        let poses = path.posed(0.0);
        let clearance = all.space.wall_clearance_mm;
        let limit = |(_, bounds): &(Body, Option<Bounds>)| {
            let gaps = bounds.map_or([f64::INFINITY; 6], |b| to_walls(&b, all.space.size_mm));
            gaps.map(|gap| gap.min(clearance))
        };
        path.walls = poses.iter().map(limit).collect();
        path.learn_limits(&poses)?;
        Ok(path)
    }

    /// Finds what is too near already, for bodies that did not move before.
    fn learn_limits(&mut self, poses: &[(Body, Option<Bounds>)]) -> Result<(), Cancelled> {
        for found in self.pairs(poses, 0.0, self.cache.way_mm)? {
            if self.cache.known.contains(&found.pair.0) || found.slack_mm >= 0.0 {
                continue;
            }
            let clearance = self.all.space.clearance_mm;
            let limit = if found.overlaps { f64::NEG_INFINITY } else { clearance + found.slack_mm };
            self.cache.limits.insert(found.pair, limit);
            self.cache.slacks.remove(&found.pair);
        }
        for part in self.motion.parts {
            if !self.cache.known.contains(part) {
                self.cache.known.push(*part);
            }
        }
        Ok(())
    }

    /// How far it comes.
    pub(super) fn follow(&mut self) -> Result<MotionEnd, Cancelled> {
        let end = self.advance()?;
        self.cache.way_mm += end.time * self.motion.reach_mm;
        Ok(end)
    }

    fn advance(&mut self) -> Result<MotionEnd, Cancelled> {
        let reach = self.motion.reach_mm;
        let short_step = (SHORT_STEP * self.all.space.clearance_mm).max(THIN_MM);
        let (mut time, mut ahead) = (0.0, 2.0 * short_step);
        while time < 1.0 {
            self.progress.check()?;
            let remaining = (1.0 - time) * reach;
            ahead = ahead.min(AHEAD_MM).min(remaining + 2.0 * ROUNDED_MM);
            let free_step = self.slack(time, ahead)?.mm.min(ahead) - ROUNDED_MM;
            if free_step >= remaining {
                return Ok(MotionEnd { time: 1.0, blocked: None });
            }
            if free_step > WORTH_A_FREE_STEP * short_step {
                time += free_step / reach;
                ahead *= 2.0;
                continue;
            }
            let next = (time + short_step / reach).min(1.0);
            let there = self.slack(next, 0.0)?.mm;
            if there >= -NOISE_MM {
                time = next;
            } else {
                return self.last_clear([time, free_step + ROUNDED_MM], [next, there]);
            }
        }
        Ok(MotionEnd { time: 1.0, blocked: None })
    }

    /// Between a clear time and one that is not, each with its slack: by false position with halved
    /// weights (the Illinois method), and by halving where that makes no headway.
    fn last_clear(
        &mut self,
        [mut clear, mut slack_mm]: [f64; 2],
        [mut bad, bad_mm]: [f64; 2],
    ) -> Result<MotionEnd, Cancelled> {
        let mut weights = [slack_mm, bad_mm];
        let (mut was_clear, mut halve) = (None, false);
        for _ in 0..MAX_STEPS {
            let width = bad - clear;
            if slack_mm <= SLACK_TOLERANCE_MM || width * self.motion.reach_mm <= TRAVEL_TOLERANCE_MM
            {
                break;
            }
            self.progress.check()?;
            // Aimed at half of that slack, so that it is met from the clear side.
            let share = (weights[0] - 0.5 * SLACK_TOLERANCE_MM) / (weights[0] - weights[1]);
            let share = if halve || !(share > 0.0 && share < 1.0) { 0.5 } else { share };
            let middle = clear + share * width;
            if middle <= clear || middle >= bad {
                break;
            }
            let mm = self.slack(middle, slack_mm)?.mm;
            let is_clear = mm >= -NOISE_MM;
            if is_clear {
                (clear, slack_mm, weights[0]) = (middle, mm, mm);
            } else {
                (bad, weights[1]) = (middle, mm);
            }
            if was_clear == Some(is_clear) {
                weights[usize::from(is_clear)] *= 0.5;
            }
            was_clear = Some(is_clear);
            halve = !halve && bad - clear > 0.5 * width;
        }
        let blocked = match self.slack(bad, 0.0)?.nearest {
            Some(NearestObstacle { part, obstacle: by @ Obstacle::Part(other), .. }) => {
                // Where they overlap there is no direction: it is taken where they do not yet.
                self.away_from(clear, part, other)?.map(|away| Blocked { by, away })
            }
            Some(NearestObstacle { obstacle: by, away, .. }) => Some(Blocked { by, away }),
            None => None,
        };
        Ok(MotionEnd { time: clear, blocked })
    }

    /// The direction from another body to a moved one; `None` without triangles.
    fn away_from(&self, time: f64, part: usize, other: usize) -> Result<Option<Vec3>, Cancelled> {
        let at = self.motion.parts.iter().position(|moved| *moved == part);
        let poses = self.posed(time);
        let Some((Some((body, Some(bounds))), Some(other_bounds))) =
            at.map(|at| (poses.get(at).map(|(b, o)| (b, o.as_ref())), self.all.bounds[other]))
        else {
            return Ok(None);
        };
        let within = self.all.space.clearance_mm + OBSTACLE_WITHIN_MM;
        let near = nearest(
            (body, bounds),
            (&self.all.bodies[other], &other_bounds),
            within,
            None,
            self.progress,
        )?;
        Ok(Some(near.map_or([0.0; 3], |(near, _)| unit(near.points_mm))))
    }

    /// The slack before something is too near; obstacles with more than `ahead_mm` do not count.
    fn slack(&mut self, time: f64, ahead_mm: f64) -> Result<Slack, Cancelled> {
        let poses = self.posed(time);
        let mut least = Slack { mm: ahead_mm.max(NOISE_MM), nearest: None };
        for (k, (_, bounds)) in poses.iter().enumerate() {
            let Some(bounds) = bounds else { continue };
            let gaps = to_walls(bounds, self.all.space.size_mm);
            for (index, wall) in Wall::ALL.into_iter().enumerate() {
                let mm = gaps[index] - self.walls[k][index];
                if mm < least.mm {
                    let mut away = [0.0; 3];
                    away[wall.axis()] = if wall.end() == 0 { 1.0 } else { -1.0 };
                    let part = self.motion.parts[k];
                    let obstacle = Obstacle::Wall(wall);
                    let nearest = Some(NearestObstacle { part, obstacle, away });
                    least = Slack { mm, nearest };
                }
            }
        }
        let way_mm = self.cache.way_mm + time * self.motion.reach_mm;
        for found in self.pairs(&poses, ahead_mm, way_mm)? {
            if found.slack_mm < least.mm {
                let (part, other) = found.pair;
                let (obstacle, away) = (Obstacle::Part(other), found.away);
                let nearest = Some(NearestObstacle { part, obstacle, away });
                least = Slack { mm: found.slack_mm, nearest };
            }
        }
        Ok(least)
    }

    /// Pairs that have at most so much slack, after so long a way. Pairs that had more slack than the way
    /// since then could use up are not measured again.
    fn pairs(
        &mut self,
        poses: &[(Body, Option<Bounds>)],
        ahead_mm: f64,
        way_mm: f64,
    ) -> Result<Vec<Measured>, Cancelled> {
        let all = self.all;
        let clearance = all.space.clearance_mm;
        // Measured farther than asked for, so that it need not be measured again soon.
        let seen_mm = ahead_mm + (2.0 * clearance).max(THIN_MM);
        let mut asked = Vec::new();
        for (k, (body, bounds)) in poses.iter().enumerate() {
            let Some(bounds) = bounds else { continue };
            for (other, other_bounds) in all.bounds.iter().enumerate() {
                if self.moves[other] {
                    continue;
                }
                let Some(other_bounds) = other_bounds else { continue };
                let pair = (self.motion.parts[k], other);
                let limit = self.cache.limits.get(&pair).copied().unwrap_or(clearance);
                if !limit.is_finite() || bounds.distance(other_bounds) > limit + ahead_mm {
                    continue;
                }
                let slack = self.cache.slacks.get(&pair);
                if slack.is_some_and(|[mm, at]| mm - (way_mm - at).abs() > ahead_mm + ROUNDED_MM) {
                    continue;
                }
                let hint = self.cache.hints.get(&pair).copied();
                asked.push((pair, (body, bounds), (&all.bodies[other], other_bounds), limit, hint));
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
                self.cache.slacks.insert(pair, [seen_mm, way_mm]);
                continue;
            };
            self.cache.hints.insert(pair, near.triangles);
            let overlaps = contact == Contact::Overlap;
            // However small the clearance, an overlap is never good.
            let slack_mm = if overlaps { -limit - 1.0 } else { near.distance_mm - limit };
            self.cache.slacks.insert(pair, [slack_mm, way_mm]);
            if slack_mm <= ahead_mm {
                pairs.push(Measured { pair, slack_mm, overlaps, away: unit(near.points_mm) });
            }
        }
        Ok(pairs)
    }

    /// The moved bodies at a time, with their boxes.
    pub(super) fn posed(&self, time: f64) -> Vec<(Body, Option<Bounds>)> {
        let poses = (self.motion.at)(time);
        let parts = self.motion.parts.iter().zip(&self.start).zip(poses);
        parts
            .map(|((part, start), pose)| {
                let body = Body { solid: Arc::clone(&self.all.bodies[*part].solid), pose };
                let is_translated = (0..3).all(|k| {
                    (0..3).all(|c| start.rows[k][c].to_bits() == pose.rows[k][c].to_bits())
                });
                let bounds = if is_translated {
                    let by = [0, 1, 2].map(|k| pose.rows[k][3] - start.rows[k][3]);
                    self.all.bounds[*part].map(|bounds| bounds.moved(by))
                } else {
                    Bounds::of_body(&body)
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
    let d = sub(a, b);
    let size = length(d);
    if size > TOLERANCE_MM { d.map(|c| c / size) } else { [0.0; 3] }
}
