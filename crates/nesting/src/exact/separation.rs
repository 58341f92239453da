//! All bodies at once: moved apart where they are too near, then as low as they get.
//!
//! The moves of all bodies, none of them rotated, are the unknowns of a linear program. Two bodies that
//! are near keep each other away along the line between their nearest points, and the top of everything
//! is to come down (Li & Milenkovic 1995, "Compaction and separation algorithms for non-convex
//! polygons", European Journal of Operational Research 84, 539–561). The program sees a separating
//! plane between two bodies instead of their surfaces (a linearisation). What it holds for clear is
//! therefore measured; nearest points that it did not know of become further rows, and it is solved
//! again. A step counts if it is better by height and missing clearance together (an exact penalty, as
//! in Fletcher 1987, *Practical Methods of Optimization*). It is no longer than a region in which the
//! linearisation is good enough; that region grows and shrinks with success.
//!
//! Two bodies move towards each other by less than twice the clearance in a step. Clear before and
//! after it, they cannot have passed through each other (see [`crate::exact::slide`]).

use crate::exact::distance::nearest;
use crate::exact::linear_program::LinearProgram;
use crate::exact::placed_bodies::PlacedBodies;
use crate::solid::{Body, near_pairs};
use base::vec3::{Vec3, dot, length, midpoint, sub};
use base::{Affine, Cancelled, Progress};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Height, mm, that one mm of missing clearance weighs as much as. With much less, bodies would be
/// pressed into each other to save height; with much more, a step that saves height never counts while
/// anything is missing. By taste.
const PENALTY: f64 = 5.0;

/// Height of the whole, mm, that one mm of one body's height weighs as much as. It decides only where
/// the top leaves a choice: a larger weight would trade the top for it, with 0 bodies below the top
/// would never sink. By taste.
const BODY_HEIGHT_WEIGHT: f64 = 1e-3;

/// Times that one program is solved again with what was measured of its answer. With fewer a step is
/// often given up although it could be mended; more hardly ever help. By taste.
const MAX_CUTTING_ROUNDS: usize = 6;

/// Smallest improvement that is worth a round, mm. Smaller ones cost a program each and cannot be seen.
const GAIN_MM: f64 = 0.01;

/// Added to every clearance in the program, mm, so that the rounding of its answer does no harm. Less
/// than the rounding leaves bodies slightly too near, more wastes height.
const MARGIN_MM: f64 = 1e-6;

/// Fraction of that margin by which a distance may be short and still count as kept, since the program's
/// answer uses some of the margin up.
const MARGIN_USED_BY_ROUNDING: f64 = 0.1;

/// Longest step along an axis, in clearances: two bodies then approach each other along an axis by no
/// more than one clearance, and along any line by less than twice the clearance.
const LONGEST_STEP: f64 = 0.5;

/// Shortest step that is tried, as a fraction of the longest. What is not found within it is not there,
/// as far as the linearisation shows. By taste.
const SHORTEST_STEP: f64 = 0.1;

/// Factors on the length of a step after one that gained nothing and after one that gained something:
/// down fast, since every failure costs a program, and up slowly. By taste.
const SHRINK: f64 = 0.3;
const GROW: f64 = 1.5;

/// Pressing touching bodies together: the clearances that are kept in turn, as fractions of the longest
/// step. The first is large enough to find a direction between any two bodies, the last is rounding.
const PRESSED_CLEARANCES: [f64; 5] = [1e-1, 1e-2, 1e-3, 1e-4, 1e-5];

/// The longest step of pressing is the smallest side of the build space divided by this: small beside
/// any part worth pressing.
const PRESSING_STEPS: f64 = 100.0;

/// Smallest improvement that is worth a round of pressing, in the clearances kept just then.
const PRESSING_GAIN: f64 = 1e-2;

/// Most rounds at each of those clearances; nearly always it ends before.
const PRESSING_ROUNDS: u32 = 40;

/// Shorter vectors have no direction worth believing, mm.
const NO_DIRECTION_MM: f64 = 1e-9;

/// What is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Goal {
    /// All clearances kept, no more: separation.
    Separated,
    /// After that the top as low as it gets, and all other bodies, too: compaction.
    Compact,
    /// After that the top as low as it gets; all other bodies may stay where they are.
    LowestTop,
}

impl Goal {
    fn body_height_weight(self) -> f64 {
        if self == Self::LowestTop { 0.0 } else { BODY_HEIGHT_WEIGHT }
    }
}

/// How far bodies move in a round, mm.
pub(super) struct StepLimits {
    /// Longest step along an axis, and the shortest that is tried.
    longest: f64,
    shortest: f64,
    /// Smallest improvement that is worth a round.
    gain: f64,
}

/// A row of the program: `normal · (move of the first − move of the second) ≥ need_mm`.
pub(super) struct Row {
    pair: [usize; 2],
    normal: Vec3,
    need_mm: f64,
}

/// Two bodies near each other after a move.
pub(super) struct NearPair {
    row: Row,
    distance_mm: f64,
    triangles: [u32; 2],
}

/// What came of one round.
struct Round {
    /// Height and missing clearance saved, mm.
    gain_mm: f64,
    /// Clearance still missing, mm.
    missing_mm: f64,
}

/// Triangles last found nearest, by pair.
pub(super) type Hints = BTreeMap<[usize; 2], [u32; 2]>;

impl PlacedBodies {
    /// Moves all bodies that `may_move` towards the goal, in so many rounds at most. Returns the sum of
    /// the clearance that is missing between bodies afterwards, mm, down to some 1e-7; 0 where nothing
    /// is missing. Needs a clearance to keep.
    ///
    /// # Errors
    /// [`Cancelled`] on request; what was reached until then stays.
    pub(crate) fn separate(
        &mut self,
        may_move: &[bool],
        goal: Goal,
        rounds: u32,
        progress: &Progress,
    ) -> Result<f64, Cancelled> {
        let longest = LONGEST_STEP * self.space.clearance_mm;
        let limits = StepLimits { longest, shortest: SHORTEST_STEP * longest, gain: GAIN_MM };
        self.separate_at(may_move, goal, rounds, &limits, progress)
    }

    /// Presses bodies together that may touch, as low as they get. A clearance that gets smaller and
    /// smaller makes sure that there is a direction between any two. Steps are longer than this
    /// clearance makes safe: whether bodies overlap afterwards, or have passed through each other, is
    /// for the proof to find out.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub(crate) fn press_together(
        &mut self,
        may_move: &[bool],
        progress: &Progress,
    ) -> Result<(), Cancelled> {
        let kept = self.space.clearance_mm;
        let narrowest = self.space.size_mm.iter().fold(f64::INFINITY, |a, b| a.min(*b));
        let longest = narrowest / PRESSING_STEPS;
        let pressed = PRESSED_CLEARANCES.into_iter().try_for_each(|share| {
            let clearance = share * longest;
            self.space.clearance_mm = clearance;
            let gain = PRESSING_GAIN * share * longest;
            let limits = StepLimits { longest, shortest: clearance, gain };
            let rounds = PRESSING_ROUNDS;
            self.separate_at(may_move, Goal::Compact, rounds, &limits, progress).map(drop)
        });
        self.space.clearance_mm = kept; // also when cancelled
        pressed
    }

    /// All that may move at once, in so many rounds at most.
    pub(super) fn separate_together(
        &mut self,
        may_move: &[bool],
        goal: Goal,
        rounds: u32,
        limits: &StepLimits,
        progress: &Progress,
    ) -> Result<f64, Cancelled> {
        let mut step_mm = limits.longest;
        let mut hints = Hints::new();
        let mut missing_mm = f64::INFINITY;
        for _ in 0..rounds {
            let round = self.round(may_move, goal, step_mm, &mut hints, progress)?;
            missing_mm = round.missing_mm;
            if goal == Goal::Separated && missing_mm <= 0.0 {
                break;
            }
            if round.gain_mm < limits.gain {
                if step_mm < limits.shortest {
                    break;
                }
                step_mm *= SHRINK;
            } else {
                step_mm = (GROW * step_mm).min(limits.longest);
            }
        }
        Ok(missing_mm)
    }

    /// Moves all bodies by one step, no longer than `step_mm` along each axis, if that is better.
    fn round(
        &mut self,
        may_move: &[bool],
        goal: Goal,
        step_mm: f64,
        hints: &mut Hints,
        progress: &Progress,
    ) -> Result<Round, Cancelled> {
        let clearance = self.space.clearance_mm;
        let still = vec![[0.0; 3]; self.bodies.len()];
        // Two bodies approach each other by no more than the space diagonals of their steps.
        let reach = clearance + 2.0 * 3.0_f64.sqrt() * step_mm;
        let near =
            self.near_after(&still, &self.pairs_within(may_move, reach), reach, hints, progress)?;
        hints.clear();
        hints.extend(near.iter().map(|n| (n.row.pair, n.triangles)));
        let pairs: Vec<[usize; 2]> = near.iter().map(|n| n.row.pair).collect();
        let missing_before = missing(&near, clearance);
        let merit_before = self.merit(goal, &still, missing_before);
        let mut best = (merit_before, missing_before, None);
        let mut rows: Vec<Row> = near.into_iter().map(|n| n.row).collect();
        for _ in 0..MAX_CUTTING_ROUNDS {
            progress.check()?;
            let Some(moves) = self.solve(may_move, goal, &rows, step_mm, progress) else { break };
            let near = self.near_after(&moves, &pairs, clearance, hints, progress)?;
            let missing_mm = missing(&near, clearance);
            let merit = self.merit(goal, &moves, missing_mm);
            if merit < best.0 {
                best = (merit, missing_mm, Some(moves));
            }
            if missing_mm <= 0.0 {
                break;
            }
            rows.extend(near.into_iter().map(|n| n.row));
        }
        let (merit, missing_mm, moves) = best;
        for (index, by) in moves.iter().flatten().enumerate() {
            self.shift(index, *by);
        }
        Ok(Round { gain_mm: merit_before - merit, missing_mm })
    }

    /// What a step is to make small, mm.
    fn merit(&self, goal: Goal, moves: &[Vec3], missing_mm: f64) -> f64 {
        let tops =
            self.bounds.iter().zip(moves).filter_map(|(b, by)| Some(b.as_ref()?.hi[2] + by[2]));
        let sum: f64 = moves.iter().map(|by| by[2]).sum();
        tops.fold(f64::NEG_INFINITY, f64::max)
            + goal.body_height_weight() * sum
            + PENALTY * missing_mm
    }

    /// Pairs, one of which may move, whose boxes are nearer than `reach`.
    pub(super) fn pairs_within(&self, may_move: &[bool], reach: f64) -> Vec<[usize; 2]> {
        let near = near_pairs(&self.bounds, reach).into_iter().map(|(a, b)| [a, b]);
        near.filter(|pair| {
            let [Some(a), Some(b)] = pair.map(|i| self.bounds[i].as_ref()) else { return false };
            pair.iter().any(|i| may_move[*i]) && a.distance(b) < reach
        })
        .collect()
    }

    /// Those pairs that are nearer than `within` once all have made their moves, as rows that hold for
    /// moves from where they are now.
    pub(super) fn near_after(
        &self,
        moves: &[Vec3],
        pairs: &[[usize; 2]],
        within: f64,
        hints: &Hints,
        progress: &Progress,
    ) -> Result<Vec<NearPair>, Cancelled> {
        let moved = |i: usize| {
            let Body { solid, pose } = self.bodies[i].clone();
            let body = Body { solid, pose: Affine::translation(moves[i]) * pose };
            Some((body, self.bounds[i].as_ref()?.moved(moves[i])))
        };
        let found = pairs.par_iter().map(|pair| {
            let [Some((a, a_box)), Some((b, b_box))] = pair.map(moved) else { return Ok(None) };
            if a_box.distance(&b_box) >= within {
                return Ok(None);
            }
            let hint = hints.get(pair).copied();
            let Some((near, _)) = nearest((&a, &a_box), (&b, &b_box), within, hint, progress)?
            else {
                return Ok(None);
            };
            let [p, q] = near.points_mm;
            // Bodies that touch or overlap have no direction of their own.
            let normal = unit(sub(p, q))
                .or_else(|| unit(sub(midpoint(a_box.lo, a_box.hi), midpoint(b_box.lo, b_box.hi))))
                .unwrap_or([0.0, 0.0, 1.0]);
            let along = dot(normal, sub(moves[pair[0]], moves[pair[1]]));
            let need_mm = self.space.clearance_mm + MARGIN_MM - near.distance_mm + along;
            Ok(Some(NearPair {
                row: Row { pair: *pair, normal, need_mm },
                distance_mm: near.distance_mm,
                triangles: near.triangles,
            }))
        });
        Ok(found.collect::<Result<Vec<_>, Cancelled>>()?.into_iter().flatten().collect())
    }

    /// The moves that serve height and missing clearance best as far as the rows know; `None` if the
    /// solver finds none. Unknowns are three coordinates of every body that may move, the top of
    /// everything, and what each row misses.
    fn solve(
        &self,
        may_move: &[bool],
        goal: Goal,
        rows: &[Row],
        step_mm: f64,
        progress: &Progress,
    ) -> Option<Vec<Vec3>> {
        let mut count = 0;
        let first: Vec<Option<usize>> = may_move
            .iter()
            .zip(&self.bounds)
            .map(|(may, bounds)| {
                (*may && bounds.is_some()).then(|| {
                    count += 3;
                    count - 3
                })
            })
            .collect();
        let top = count;
        let mut program = LinearProgram::new(top + 1 + rows.len());
        program.cost[top] = 1.0;
        let (low, high) = self.space.limits();
        for (first, bounds) in first.iter().zip(&self.bounds) {
            let Some(bounds) = bounds else { continue };
            let Some(first) = *first else {
                program.at_most(&[(top, -1.0)], -bounds.hi[2]);
                continue;
            };
            for k in 0..3 {
                // Within the walls; what is beyond one comes back as far as a step goes.
                let (up, down) = (high[k] - bounds.hi[k], bounds.lo[k] - low[k]);
                program.at_most(&[(first + k, 1.0)], step_mm.min(up.max(-step_mm)));
                program.at_most(&[(first + k, -1.0)], step_mm.min(down.max(-step_mm)));
            }
            program.at_most(&[(first + 2, 1.0), (top, -1.0)], -bounds.hi[2]);
            program.cost[first + 2] = goal.body_height_weight();
        }
        for (row, missing) in rows.iter().zip(top + 1..) {
            let mut entries = vec![(missing, -1.0)];
            for (body, sign) in [(row.pair[0], -1.0), (row.pair[1], 1.0)] {
                if let Some(first) = first[body] {
                    entries.extend((0..3).map(|k| (first + k, sign * row.normal[k])));
                }
            }
            program.at_most(&entries, -row.need_mm);
            program.at_most(&[(missing, -1.0)], 0.0);
            program.cost[missing] = PENALTY;
        }
        let x = program.solution(progress)?;
        let of = |first: &Option<usize>| first.map_or([0.0; 3], |f| [x[f], x[f + 1], x[f + 2]]);
        Some(first.iter().map(of).collect())
    }
}

/// What pairs miss of the clearance, mm, together.
pub(super) fn missing(near: &[NearPair], clearance: f64) -> f64 {
    let least = clearance - MARGIN_USED_BY_ROUNDING * MARGIN_MM;
    near.iter().map(|n| (least - n.distance_mm).max(0.0)).sum()
}

fn unit(v: Vec3) -> Option<Vec3> {
    let size = length(v);
    (size > NO_DIRECTION_MM).then(|| v.map(|c| c / size))
}
