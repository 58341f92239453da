//! All parts at once: apart where they are too near, then as low as they get.
//!
//! The moves of all parts, none of them turned, are the unknowns of a linear program. Two parts that
//! are near keep each other away along the line between their nearest points, and the top of
//! everything is to come down (Li & Milenkovic 1995, European Journal of Operational Research 84,
//! 539–561, do so with polygons). What the program holds for clear is then measured exactly; nearest
//! points that it did not know of become further rows, and it is solved again. A step counts if it
//! is better by height and missing clearance together (an exact penalty, as in Fletcher 1987,
//! *Practical Methods of Optimization*), and is no longer than the region in which lines stand for
//! surfaces well enough, which grows and shrinks with success.
//!
//! Two parts move towards each other by less than twice the clearance in a step. Clear before and
//! after it, they cannot have passed through each other (see [`crate::settle`]).

use crate::neighbours::Neighbours;
use crate::proof::nearest;
use crate::solid::{Body, Bounds};
use crate::vector::{Vec3, dot, sub};
use base::{Affine, Cancelled, Progress};
use clarabel::algebra::CscMatrix;
use clarabel::solver::{
    DefaultSettingsBuilder, DefaultSolver, IPSolver, SolverStatus, SupportedConeT,
};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Height, mm, that a mm of missing clearance weighs as much as.
const PENALTY: f64 = 5.0;

/// Height of the whole that a mm of one part's height weighs as much as: decides where the top leaves
/// a choice.
const GRAVITY: f64 = 1e-3;

/// Times that a linear program is solved again with what was found out about its answer.
const CUTS: usize = 6;

/// Smallest improvement that is worth a round, mm.
const GAIN_MM: f64 = 0.01;

/// Added to every clearance, mm, so that the rounding of the program's answer does no harm.
const MARGIN_MM: f64 = 1e-6;

/// What is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Goal {
    /// All clearances kept, no more.
    Clear,
    /// Then the top as low as it gets, and all else too.
    Low,
    /// Then the top as low as it gets; all else may stay where it is.
    LowTop,
}

impl Goal {
    fn gravity(self) -> f64 {
        if self == Self::LowTop { 0.0 } else { GRAVITY }
    }
}

/// How fast parts move.
struct Pace {
    /// Longest step along an axis, and the shortest that is tried, mm.
    longest: f64,
    shortest: f64,
    /// Smallest improvement that is worth a round, mm.
    gain: f64,
}

/// A row of the program: `normal · (move of the first − move of the second) ≥ need`.
struct Contact {
    pair: [usize; 2],
    normal: Vec3,
    need: f64,
}

/// Two parts near each other after a move.
struct Near {
    contact: Contact,
    distance_mm: f64,
    triangles: [u32; 2],
}

impl Neighbours {
    /// Moves all parts that `may_move` towards the goal, in so many rounds at most. Returns the sum of
    /// what is missing between parts afterwards, mm, down to some 1e-7; 0 where nothing was missing.
    ///
    /// # Errors
    /// [`Cancelled`] on request; what was reached until then stays.
    pub(crate) fn tighten(
        &mut self,
        may_move: &[bool],
        goal: Goal,
        rounds: u32,
        progress: &Progress,
    ) -> Result<f64, Cancelled> {
        let longest = 0.5 * self.space.clearance_mm;
        let pace = Pace { longest, shortest: 0.1 * longest, gain: GAIN_MM };
        self.tighten_at(may_move, goal, rounds, &pace, progress)
    }

    /// Presses parts together that may touch, as low as they get. A clearance that gets smaller and
    /// smaller sees to it that there is a direction between any two. Without one to keep, steps are
    /// longer than would be safe: whether parts overlap afterwards, or have passed through each other,
    /// is for the proof to tell.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub(crate) fn press(
        &mut self,
        may_move: &[bool],
        progress: &Progress,
    ) -> Result<(), Cancelled> {
        const ROUNDS: u32 = 40;
        let wanted = self.space.clearance_mm;
        let size = self.space.size_mm.iter().fold(f64::INFINITY, |a, b| a.min(*b)) / 100.0;
        for part in [1e-1, 1e-2, 1e-3, 1e-4, 1e-5] {
            self.space.clearance_mm = part * size;
            let pace = Pace { longest: size, shortest: part * size, gain: 1e-2 * part * size };
            self.tighten_at(may_move, Goal::Low, ROUNDS, &pace, progress)?;
        }
        self.space.clearance_mm = wanted;
        Ok(())
    }

    fn tighten_at(
        &mut self,
        may_move: &[bool],
        goal: Goal,
        rounds: u32,
        pace: &Pace,
        progress: &Progress,
    ) -> Result<f64, Cancelled> {
        let mut step = pace.longest;
        let mut known = BTreeMap::new();
        let mut missing = f64::INFINITY;
        for _ in 0..rounds {
            let gain;
            (gain, missing) = self.round(may_move, goal, step, &mut known, progress)?;
            if goal == Goal::Clear && missing <= 0.0 {
                break;
            }
            if gain < pace.gain {
                if step < pace.shortest {
                    break;
                }
                step *= 0.3;
            } else {
                step = (1.5 * step).min(pace.longest);
            }
        }
        Ok(missing)
    }

    /// One step, no longer than `step` mm along each axis: how much better it is, and what is missing
    /// after it. `known` are the triangles last found nearest.
    fn round(
        &mut self,
        may_move: &[bool],
        goal: Goal,
        step: f64,
        known: &mut BTreeMap<[usize; 2], [u32; 2]>,
        progress: &Progress,
    ) -> Result<(f64, f64), Cancelled> {
        let clearance = self.space.clearance_mm;
        let still = vec![[0.0; 3]; self.bodies.len()];
        let reach = clearance + 2.0 * 3.0_f64.sqrt() * step;
        let near = self.near_after(&still, &self.pairs(may_move, reach), reach, known, progress)?;
        known.clear();
        known.extend(near.iter().map(|n| (n.contact.pair, n.triangles)));
        let pairs: Vec<[usize; 2]> = near.iter().map(|n| n.contact.pair).collect();
        let missing = |near: &[Near]| -> f64 {
            near.iter().map(|n| (clearance - 0.1 * MARGIN_MM - n.distance_mm).max(0.0)).sum()
        };
        let before = missing(&near);
        let start = self.merit(goal, &still, before);
        let mut best = (start, before, None);
        let mut rows: Vec<Contact> = near.into_iter().map(|n| n.contact).collect();
        for _ in 0..CUTS {
            progress.check()?;
            let Some(moves) = self.solve(may_move, goal, &rows, step) else { break };
            let near = self.near_after(&moves, &pairs, clearance, known, progress)?;
            let left = missing(&near);
            let merit = self.merit(goal, &moves, left);
            if merit < best.0 {
                best = (merit, left, Some(moves));
            }
            if left <= 0.0 {
                break;
            }
            rows.extend(near.into_iter().map(|n| n.contact));
        }
        let (merit, left, moves) = best;
        for (number, by) in moves.iter().flatten().enumerate() {
            self.shift(number, *by);
        }
        Ok((start - merit, left))
    }

    /// What a step is to make small.
    fn merit(&self, goal: Goal, moves: &[Vec3], missing: f64) -> f64 {
        let tops =
            self.bounds.iter().zip(moves).filter_map(|(b, by)| Some(b.as_ref()?.hi[2] + by[2]));
        let sum: f64 = moves.iter().map(|by| by[2]).sum();
        tops.fold(f64::NEG_INFINITY, f64::max) + goal.gravity() * sum + PENALTY * missing
    }

    /// Pairs, one of which may move, whose boxes are nearer than `reach`.
    fn pairs(&self, may_move: &[bool], reach: f64) -> Vec<[usize; 2]> {
        let n = self.bodies.len();
        let all = (0..n).flat_map(|a| (a + 1..n).map(move |b| [a, b]));
        all.filter(|pair| {
            let [Some(a), Some(b)] = pair.map(|i| self.bounds[i].as_ref()) else { return false };
            pair.iter().any(|i| may_move[*i]) && a.gap(b) < reach
        })
        .collect()
    }

    /// Those pairs that are nearer than `within` once all have made their moves, as rows that hold for
    /// moves from where they are now.
    fn near_after(
        &self,
        moves: &[Vec3],
        pairs: &[[usize; 2]],
        within: f64,
        known: &BTreeMap<[usize; 2], [u32; 2]>,
        progress: &Progress,
    ) -> Result<Vec<Near>, Cancelled> {
        let moved = |i: usize| {
            let Body { solid, pose } = self.bodies[i].clone();
            let body = Body { solid, pose: Affine::translation(moves[i]) * pose };
            Some((body, self.bounds[i].as_ref()?.moved(moves[i])))
        };
        let found = pairs.par_iter().map(|pair| {
            let [Some((a, a_box)), Some((b, b_box))] = pair.map(moved) else { return Ok(None) };
            if a_box.gap(&b_box) >= within {
                return Ok(None);
            }
            let hint = known.get(pair).copied();
            let Some((near, _)) = nearest((&a, &a_box), (&b, &b_box), within, hint, progress)?
            else {
                return Ok(None);
            };
            let [p, q] = near.points_mm;
            // Parts that touch or overlap have no direction of their own.
            let normal = unit(sub(p, q))
                .or_else(|| unit(sub(middle(&a_box), middle(&b_box))))
                .unwrap_or([0.0, 0.0, 1.0]);
            let along = dot(normal, sub(moves[pair[0]], moves[pair[1]]));
            let need = self.space.clearance_mm + MARGIN_MM - near.distance_mm + along;
            Ok(Some(Near {
                contact: Contact { pair: *pair, normal, need },
                distance_mm: near.distance_mm,
                triangles: near.triangles,
            }))
        });
        Ok(found.collect::<Result<Vec<_>, Cancelled>>()?.into_iter().flatten().collect())
    }

    /// The moves that serve height and missing clearance best as far as the rows tell; `None` if the
    /// solver finds none.
    fn solve(
        &self,
        may_move: &[bool],
        goal: Goal,
        rows: &[Contact],
        step: f64,
    ) -> Option<Vec<Vec3>> {
        // Unknowns: three of every part that may move, the top of everything, what each row misses.
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
        let mut program = Program::new(top + 1 + rows.len());
        program.cost[top] = 1.0;
        let [width, depth, height] = self.space.size_mm;
        let wall = self.space.wall_clearance_mm;
        let low = [wall - width / 2.0, wall - depth / 2.0, wall];
        let high = [width / 2.0 - wall, depth / 2.0 - wall, height - wall];
        for (first, bounds) in first.iter().zip(&self.bounds) {
            let Some(bounds) = bounds else { continue };
            let Some(first) = *first else {
                program.at_most(&[(top, -1.0)], -bounds.hi[2]);
                continue;
            };
            for k in 0..3 {
                // Within the walls; what is beyond one comes back as far as a step goes.
                program.at_most(&[(first + k, 1.0)], step.min((high[k] - bounds.hi[k]).max(-step)));
                program.at_most(&[(first + k, -1.0)], step.min((bounds.lo[k] - low[k]).max(-step)));
            }
            program.at_most(&[(first + 2, 1.0), (top, -1.0)], -bounds.hi[2]);
            program.cost[first + 2] = goal.gravity();
        }
        for (row, missing) in rows.iter().zip(top + 1..) {
            let mut entries = vec![(missing, -1.0)];
            for (part, sign) in [(row.pair[0], -1.0), (row.pair[1], 1.0)] {
                if let Some(first) = first[part] {
                    entries.extend((0..3).map(|k| (first + k, sign * row.normal[k])));
                }
            }
            program.at_most(&entries, -row.need);
            program.at_most(&[(missing, -1.0)], 0.0);
            program.cost[missing] = PENALTY;
        }
        let x = program.solution()?;
        let of = |first: &Option<usize>| first.map_or([0.0; 3], |f| [x[f], x[f + 1], x[f + 2]]);
        Some(first.iter().map(of).collect())
    }
}

/// A linear program: the costs of unknowns, and rows that bound sums of them from above.
struct Program {
    cost: Vec<f64>,
    bounds: Vec<f64>,
    rows: Vec<usize>,
    columns: Vec<usize>,
    values: Vec<f64>,
}

impl Program {
    fn new(unknowns: usize) -> Self {
        let cost = vec![0.0; unknowns];
        Self { cost, bounds: Vec::new(), rows: Vec::new(), columns: Vec::new(), values: Vec::new() }
    }

    /// Σ value · unknown ≤ bound.
    fn at_most(&mut self, entries: &[(usize, f64)], bound: f64) {
        for &(column, value) in entries {
            self.rows.push(self.bounds.len());
            self.columns.push(column);
            self.values.push(value);
        }
        self.bounds.push(bound);
    }

    /// By an interior-point method, in one thread.
    fn solution(self) -> Option<Vec<f64>> {
        let Self { cost, bounds, rows, columns, values } = self;
        let unknowns = cost.len();
        let matrix = CscMatrix::new_from_triplets(bounds.len(), unknowns, rows, columns, values);
        let linear = CscMatrix::zeros((unknowns, unknowns));
        let settings = DefaultSettingsBuilder::default().verbose(false).build().ok()?;
        let cone = [SupportedConeT::NonnegativeConeT(bounds.len())];
        let mut solver =
            DefaultSolver::new(&linear, &cost, &matrix, &bounds, &cone, settings).ok()?;
        solver.solve();
        let usable =
            matches!(solver.solution.status, SolverStatus::Solved | SolverStatus::AlmostSolved)
                && solver.solution.x.iter().all(|x| x.is_finite());
        usable.then(|| std::mem::take(&mut solver.solution.x))
    }
}

fn middle(bounds: &Bounds) -> Vec3 {
    [0, 1, 2].map(|k| 0.5 * (bounds.lo[k] + bounds.hi[k]))
}

fn unit(v: Vec3) -> Option<Vec3> {
    let length = dot(v, v).sqrt();
    (length > 1e-9).then(|| v.map(|c| c / length))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Space;
    use crate::proof::proof;
    use crate::samples;
    use crate::solid::Solid;
    use mesh::Mesh;
    use proptest::prelude::*;
    use std::sync::Arc;

    const SPACE: Space =
        Space { size_mm: [100.0, 100.0, 100.0], wall_clearance_mm: 2.0, clearance_mm: 3.0 };

    fn at(mesh: Mesh, place: Vec3) -> Body {
        Body { solid: Arc::new(Solid::new(Arc::new(mesh))), pose: Affine::translation(place) }
    }

    fn cube(edge: f64, place: Vec3) -> Body {
        at(samples::cuboid([0.0; 3], [edge; 3]), place)
    }

    fn tightened(bodies: Vec<Body>, may_move: &[bool], goal: Goal) -> (Neighbours, f64) {
        let mut all = Neighbours::new(bodies, SPACE);
        let missing = all.tighten(may_move, goal, 60, &Progress::default()).unwrap();
        (all, missing)
    }

    fn low(all: &Neighbours, number: usize) -> f64 {
        all.bounds[number].unwrap().lo[2]
    }

    #[test]
    fn what_is_too_near_goes_apart_and_not_much_farther() {
        let balls = [0.0, 10.5].map(|x| at(samples::ball(5.0, 24), [x, 0.0, 20.0])).to_vec();
        let (all, missing) = tightened(balls, &[true; 2], Goal::Clear);
        assert!(missing <= 0.0);
        let proof = proof(&all.bodies, &SPACE, &Progress::default()).unwrap();
        assert!(proof.holds());
        assert!(proof.pairs[0].distance_mm < 3.3, "{proof:?}");
    }

    /// Counted by hand: the platform's clearance, three edges, twice the clearance between parts.
    #[test]
    fn a_tower_comes_down_to_its_edges_and_clearances() {
        let tower = [2.5, 17.0, 31.0].map(|z| cube(10.0, [0.0, 0.0, z])).to_vec();
        let (all, missing) = tightened(tower, &[true; 3], Goal::LowTop);
        let top = all.bounds[2].unwrap().hi[2];
        assert!(missing <= 0.0 && (top - 38.0).abs() < 1e-3, "{top}");
    }

    /// What touches is pressed together to the last digit: a cube on a cube, after both came down. Counted by
    /// hand.
    #[test]
    fn what_may_touch_is_pressed_together() {
        let space = Space { clearance_mm: 0.0, ..SPACE };
        let tower = [2.5, 14.0, 25.0].map(|z| cube(10.0, [0.0, 0.0, z])).to_vec();
        let mut all = Neighbours::new(tower, space);
        all.press(&[true; 3], &Progress::default()).unwrap();
        let top = all.bounds[2].unwrap().hi[2];
        assert!((top - 32.0).abs() < 1e-3, "{top}");
        assert!(proof(&all.bodies, &space, &Progress::default()).unwrap().holds());
    }

    /// A ball above a gap that is too narrow for it: no move of one part alone lets it down.
    #[test]
    fn what_is_below_makes_way_unless_it_is_locked() {
        let parts = || {
            let ball = at(samples::ball(5.0, 24), [0.0, 0.0, 20.0]);
            vec![ball, cube(8.0, [-14.0, -4.0, 2.0]), cube(8.0, [6.0, -4.0, 2.0])]
        };
        let (all, missing) = tightened(parts(), &[true; 3], Goal::Low);
        assert!(missing <= 0.0 && (low(&all, 0) - 2.0).abs() < 0.05, "{}", low(&all, 0));
        let (all, missing) = tightened(parts(), &[true, false, false], Goal::Low);
        assert!(missing <= 0.0 && low(&all, 0) > 3.0, "{}", low(&all, 0));
        assert_eq!(all.bodies[1].pose, parts()[1].pose);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        /// What it holds for clear, the proof does; what is locked stays where it is; nothing that was
        /// clear gets worse.
        #[test]
        fn what_counts_as_clear_is_proven(
            edges in prop::collection::vec(3.0..9.0_f64, 9),
            shifts in prop::collection::vec(prop::array::uniform3(-1.4..1.4_f64), 9),
            locked in prop::collection::vec(any::<bool>(), 9),
            low in any::<bool>(),
        ) {
            let place = |n: usize, k: usize| {
                let cell = [n % 3, n / 3 % 3, 0][k] as f64;
                12.0 * cell + shifts[n][k] + if k == 2 { 4.0 } else { -20.0 }
            };
            let bodies: Vec<Body> =
                (0..9).map(|n| cube(edges[n], [0, 1, 2].map(|k| place(n, k)))).collect();
            let may_move: Vec<bool> = locked.iter().map(|l| !l).collect();
            let goal = if low { Goal::Low } else { Goal::Clear };
            let before = bodies.clone();
            let (all, missing) = tightened(bodies, &may_move, goal);
            for (n, body) in before.iter().enumerate().filter(|(n, _)| locked[*n]) {
                prop_assert_eq!(all.bodies[n].pose, body.pose);
            }
            let free = |bodies: &[usize]| bodies.iter().any(|b| may_move[*b]);
            let proof = proof(&all.bodies, &SPACE, &Progress::default()).unwrap();
            let kept = !proof.pairs.iter().any(|p| p.violates && free(&p.bodies));
            prop_assert_eq!(kept, missing <= 0.0);
        }
    }
}
