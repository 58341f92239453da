//! Bodies moved by hand: how far they come until the clearance stops them, and what they push.
//!
//! A motion is a pose of every moved body at every time from 0 to 1, and a bound on how far any of
//! their points goes. Two kinds of steps are safe. A *free step* is as long as the bodies are farther
//! apart than they must be: nothing can come too near on it (conservative advancement: Mirtich 1996,
//! "Impulse-based dynamic simulation of rigid body systems"). A *short step* is shorter than twice the
//! clearance and ends where all clearances are kept: nothing can have passed through anything on it
//! (see [`crate::exact::slide`]). Where a short step does not end clear, its last clear point is found
//! by false position.
//!
//! A pair already nearer than the clearance when a motion begins keeps its present distance as limit; an
//! overlapping pair has no limit. So a body can always be drawn out of where it must not be.

mod pair_cache;
mod path;

use crate::exact::distance::{Gap, Wall, WallGap};
use crate::exact::placed_bodies::PlacedBodies;
use base::vec3::{Vec3, add, dot, length, sub};
use base::{Affine, Cancelled, Progress};
use pair_cache::PairCache;
use path::Path;
use std::collections::BTreeMap;

/// Poses over time.
pub struct Motion<'a> {
    /// Indices of the bodies that move, as one.
    pub parts: &'a [usize],
    /// Their poses, in that order, at a time from 0 to 1; at 0 where they are.
    pub at: &'a (dyn Fn(f64) -> Vec<Affine> + Sync),
    /// No point of theirs moves by more than this, mm, from time 0 to time 1, nor faster than that.
    pub reach_mm: f64,
}

/// What a body can meet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Obstacle {
    /// The body of this index.
    Part(usize),
    /// A wall of the build space.
    Wall(Wall),
}

/// What stopped a motion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blocked {
    /// What was met.
    pub by: Obstacle,
    /// The direction straight away from it where they met; zero where they touch.
    pub away: [f64; 3],
}

/// How far a motion came.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MotionEnd {
    /// The time that was reached.
    pub time: f64,
    /// What stopped it; `None` at the end of the motion.
    pub blocked: Option<Blocked>,
}

/// What came of carrying bodies, and perhaps of pushing others.
#[derive(Clone, Debug, PartialEq)]
pub struct Carried {
    /// How far each body went that did, mm, with its index.
    pub moves: Vec<(usize, [f64; 3])>,
    /// What was last in the way.
    pub blocked: Option<Blocked>,
}

/// Moves are whole multiples of this, mm, so that a job can write them down exactly.
const GRID_MM: f64 = 1e-6;

/// Fraction of the way by which bodies draw away from what they slide along. The direction away is only
/// known so well: with less they get stuck at once, with more a gap is seen.
const AWAY_FRACTION: f64 = 1e-5;

/// Shorter ways aside are not worth a query, mm.
const SHORTEST_ASIDE_MM: f64 = 1e-4;

/// An obstacle whose direction away has less than this in the plane of the move offers nothing to slide
/// along.
const MIN_SLOPE: f64 = 1e-3;

/// How often bodies turn aside in one move: along a face, then along an edge of two faces, then once more.
/// More would only creep around in a corner.
const MAX_DETOURS: u32 = 3;

impl PlacedBodies {
    /// Moves bodies along a motion as far as clearances and walls allow.
    ///
    /// # Errors
    /// [`Cancelled`] on request; nothing has moved then.
    pub fn advance(
        &mut self,
        motion: &Motion,
        progress: &Progress,
    ) -> Result<MotionEnd, Cancelled> {
        self.advance_with(motion, &mut PairCache::default(), progress)
    }

    fn advance_with(
        &mut self,
        motion: &Motion,
        cache: &mut PairCache,
        progress: &Progress,
    ) -> Result<MotionEnd, Cancelled> {
        let exist = motion.parts.iter().all(|part| *part < self.bodies().len());
        if !exist || motion.parts.is_empty() || !motion.reach_mm.is_finite() {
            return Ok(MotionEnd { time: 0.0, blocked: None });
        }
        let mut path = Path::new(self, motion, cache, progress)?;
        let end = path.follow()?;
        let posed = path.posed(end.time);
        for (part, (body, bounds)) in motion.parts.iter().zip(posed) {
            self.bodies[*part] = body;
            self.bounds[*part] = bounds;
        }
        Ok(end)
    }

    /// Moves bodies, as one, straight by so much, mm. What they meet and `may_move` goes with them
    /// from there on; anything else stops them, and they go on along it, in the plane of the axes
    /// along which they are to move. Bodies that are to move along one axis only just stop.
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
        let (mut group, mut remaining, mut detours) = (parts.to_vec(), by, 0);
        let (mut last, mut cache) = (None, PairCache::default());
        loop {
            let start: Option<Vec<Affine>> =
                group.iter().map(|part| Some(self.bodies().get(*part)?.pose)).collect();
            let Some(start) = start else { break };
            let way = |time: f64| remaining.map(|c| (c * time / GRID_MM).round() * GRID_MM);
            let at = |time: f64| {
                let move_by = Affine::translation(way(time));
                start.iter().map(|pose| move_by * *pose).collect()
            };
            let motion = Motion { parts: &group, at: &at, reach_mm: length(remaining) };
            let end = self.advance_with(&motion, &mut cache, progress)?;
            let done = way(end.time);
            for part in &group {
                let sum = moves.entry(*part).or_default();
                *sum = add(*sum, done);
            }
            let Some(blocked) = end.blocked else { break };
            remaining = sub(remaining, done);
            if let Obstacle::Part(met) = blocked.by
                && may_move(met)
                && !group.contains(&met)
            {
                group.push(met);
                continue;
            }
            last = Some(blocked);
            detours += 1;
            let detour = aside(remaining, blocked.away, plane);
            let Some(detour) = detour.filter(|_| detours <= MAX_DETOURS) else { break };
            remaining = detour;
            parts.clone_into(&mut group);
        }
        moves.retain(|_, by| length(*by) > 0.0);
        Ok(Carried { moves: moves.into_iter().collect(), blocked: last })
    }

    /// Lowers a body straight down until the clearance to what is below or to the platform stops
    /// it; returns by how much, mm.
    ///
    /// # Errors
    /// [`Cancelled`] on request; the body has not moved then.
    pub fn drop_down(&mut self, part: usize, progress: &Progress) -> Result<f64, Cancelled> {
        let Some(bounds) = self.bounds.get(part).copied().flatten() else { return Ok(0.0) };
        let most = bounds.lo[2] - self.space.wall_clearance_mm;
        if most <= 0.0 {
            return Ok(0.0);
        }
        let carried = self.carry(&[part], [0.0, 0.0, -most], |_| false, progress)?;
        Ok(carried.moves.first().map_or(0.0, |(_, by)| -by[2]))
    }

    /// What is nearer to some bodies than `within_mm` or overlaps them, the nearest first, one of those
    /// bodies the first of each pair; and how far they are from each wall, in the order of
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

/// The rest of a way when it goes on along what is in the way; `None` if nothing is left of it.
fn aside(remaining: Vec3, away: Vec3, plane: [bool; 3]) -> Option<Vec3> {
    let flat = [0, 1, 2].map(|k| if plane[k] { away[k] } else { 0.0 });
    let size = length(flat);
    if size < MIN_SLOPE {
        return None;
    }
    let out = flat.map(|c| c / size);
    let into = dot(remaining, out);
    if into >= 0.0 {
        return None; // it leads away from the obstacle already, and is blocked all the same
    }
    let along = [0, 1, 2].map(|k| remaining[k] - into * out[k]);
    // Along a wall or the face of a box the direction is known exactly.
    let exact = out.iter().any(|c| c.abs() >= 1.0);
    let away_mm = if exact { 0.0 } else { AWAY_FRACTION * length(along) };
    let way = [0, 1, 2].map(|k| along[k] + away_mm * out[k]);
    (length(along) > SHORTEST_ASIDE_MM).then_some(way)
}
