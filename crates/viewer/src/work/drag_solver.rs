//! How far clearances let what is dragged: the arrangement as the background knows it.

use crate::state::moves::{DragRequest, DragStart, moved};
use crate::state::nearby::Nearby;
use base::{Affine, Cancelled, PlacementId, Progress};
use job::Placement;
use nesting::{Blocked, Body, Motion, Obstacle, PlacedBodies, Space};
use pipeline::LoadedMesh;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// A placement when a gesture begins.
pub(crate) struct Member {
    pub(crate) at: PlacementId,
    pub(crate) placement: Placement,
    pub(crate) loaded: Arc<LoadedMesh>,
    pub(crate) scale: [f64; 3],
    pub(crate) pose: Affine,
    pub(crate) is_locked: bool,
}

/// Everything in the build space when a gesture begins.
pub(crate) struct Scene {
    pub(crate) members: Vec<Member>,
    pub(crate) space: Space,
    /// What is held.
    pub(crate) before: DragStart,
    /// Whether it pushes.
    pub(crate) pushes: bool,
}

/// What is asked for.
pub(crate) enum Question {
    /// What is dragged stands here already: what is near it?
    Nearby(Vec<(PlacementId, Placement)>),
    /// How far towards this do clearances let it?
    Reach(DragRequest),
    /// How far down do clearances let it, each placement by itself?
    Lower,
}

/// Where everything stands that has moved, and what is near what is dragged.
pub(crate) type Answer = (Vec<(PlacementId, Placement)>, Nearby);

/// How often what is held tries to get to where it is meant to be.
const TRIES: u32 = 4;
/// Less than this, mm, is not worth another try.
const WORTH_MM: f64 = 1e-3;

/// How far something is pushed at a time by what rotates, mm, and how often in one answer: a metre in
/// all takes several.
const PUSH_MM: f64 = 0.05;
const MOST_PUSHES: u32 = 400;

/// A gesture under way, with the arrangement, which is kept for the next one.
pub(crate) struct DragSolver {
    scene: Arc<Scene>,
    all: PlacedBodies,
    /// Numbers of what is held.
    held: Vec<usize>,
    /// How far what is held and what was pushed has moved, mm, by number.
    moves: BTreeMap<usize, [f64; 3]>,
    /// By how much what is held was rotated, degrees.
    rotated_deg: f64,
}

impl DragSolver {
    /// Begins; what the last gesture knew is taken over where it still holds.
    pub(crate) fn new(scene: Arc<Scene>, last: Option<Self>) -> Self {
        let alike = |last: &Self| {
            last.scene.space == scene.space
                && last.scene.members.len() == scene.members.len()
                && last
                    .scene
                    .members
                    .iter()
                    .zip(&scene.members)
                    .all(|(a, b)| Arc::ptr_eq(&a.loaded, &b.loaded))
        };
        let all = if let Some(Self { mut all, .. }) = last.filter(alike) {
            for (number, member) in scene.members.iter().enumerate() {
                if all.bodies()[number].pose != member.pose {
                    all.place(number, member.pose);
                }
            }
            all
        } else {
            let body = |member: &Member| Body { solid: member.loaded.solid(), pose: member.pose };
            PlacedBodies::new(scene.members.par_iter().map(body).collect(), scene.space)
        };
        let number = |at: PlacementId| scene.members.iter().position(|member| member.at == at);
        let held = scene.before.placements.iter().filter_map(|(at, _)| number(*at)).collect();
        Self { scene, all, held, moves: BTreeMap::new(), rotated_deg: 0.0 }
    }

    /// Answers a question; what is held is then where the answer says.
    pub(crate) fn answer(
        &mut self,
        question: Question,
        progress: &Progress,
    ) -> Result<Answer, Cancelled> {
        let placements = match question {
            Question::Nearby(placements) => {
                for (number, (_, placement)) in self.held.iter().zip(&placements) {
                    self.all.place(*number, self.scene.members[*number].pose_of(placement));
                }
                placements
            }
            Question::Reach(DragRequest::Move(by)) => self.carry(by, progress)?,
            Question::Reach(DragRequest::Rotate(axis, by)) => {
                self.rotate(&|by| DragRequest::Rotate(axis, by), by, progress)?
            }
            Question::Reach(DragRequest::Angle(index, by)) => {
                self.rotate(&|by| DragRequest::Angle(index, by), by, progress)?
            }
            Question::Lower => self.drop_down(progress)?,
        };
        let reach_mm = Nearby::reach_mm(self.scene.space.clearance_mm);
        let (gaps, walls) = self.all.around(&self.held, reach_mm, progress)?;
        let is_held = |at: PlacementId| self.scene.before.placements.iter().any(|p| p.0 == at);
        let of = placements.iter().filter(|(at, _)| is_held(*at)).copied().collect();
        let at = |number: usize| self.scene.members.get(number).map(|member| member.at);
        Ok((placements, Nearby::new(of, &gaps, &walls, reach_mm, at)))
    }

    fn carry(
        &mut self,
        to: [f64; 3],
        progress: &Progress,
    ) -> Result<Vec<(PlacementId, Placement)>, Cancelled> {
        // Once it has slid past what was in the way, the straight way on may be free.
        for _ in 0..TRIES {
            let so_far = self.held.first().and_then(|first| self.moves.get(first));
            let so_far = so_far.copied().unwrap_or_default();
            let remaining = [0, 1, 2].map(|k| to[k] - so_far[k]);
            let (members, pushes) = (&self.scene.members, self.scene.pushes);
            let may_move = |number: usize| pushes && !members[number].is_locked;
            let carried = self.all.carry(&self.held, remaining, may_move, progress)?;
            let came = carried.moves.iter().any(|(_, by)| by.iter().any(|c| c.abs() > WORTH_MM));
            let is_free = carried.blocked.is_none();
            self.note(carried.moves);
            if is_free || !came {
                break;
            }
        }
        Ok(self.moved())
    }

    fn drop_down(
        &mut self,
        progress: &Progress,
    ) -> Result<Vec<(PlacementId, Placement)>, Cancelled> {
        let height = |number: usize| self.all.walls(number).map_or(0.0, |w| w[4].distance_mm);
        let mut order: Vec<(f64, usize)> =
            self.held.iter().map(|number| (height(*number), *number)).collect();
        order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for (_, number) in order {
            let by = self.all.drop_down(number, progress)?;
            self.note(vec![(number, [0.0, 0.0, -by])]);
        }
        Ok(self.moved())
    }

    fn note(&mut self, moves: Vec<(usize, [f64; 3])>) {
        for (number, by) in moves {
            let sum = self.moves.entry(number).or_default();
            *sum = [0, 1, 2].map(|k| sum[k] + by[k]);
        }
    }

    /// Where everything stands that has moved, and what is held.
    fn moved(&self) -> Vec<(PlacementId, Placement)> {
        let mut numbers: Vec<usize> = self.held.clone();
        numbers.extend(self.moves.keys().filter(|number| !self.held.contains(number)));
        let placed = |number: usize| {
            let member = &self.scene.members[number];
            let by = self.moves.get(&number).copied().unwrap_or_default();
            (member.at, moved(member.placement, by))
        };
        numbers.into_iter().map(placed).collect()
    }

    /// Rotates as far as clearances let it.
    fn rotate_freely(
        &mut self,
        meant: &(dyn Fn(f64) -> DragRequest + Sync),
        to_deg: f64,
        progress: &Progress,
    ) -> Result<Option<Blocked>, Cancelled> {
        // The shorter way round.
        let remaining = (to_deg - self.rotated_deg + 180.0).rem_euclid(360.0) - 180.0;
        let (scene, held) = (&self.scene, &self.held);
        let at = |time: f64| {
            let placements = scene.before.after(meant(self.rotated_deg + remaining * time));
            let poses = held.iter().zip(placements);
            poses.map(|(number, (_, p))| scene.members[*number].pose_of(&p)).collect()
        };
        // A part's middle stays where it is put, so that what rotates also shifts: twice as fast.
        let radius = held.iter().map(|number| {
            let member = &scene.members[*number];
            let off = member.placement.location_mm;
            let off = [0, 1, 2].map(|k| off[k] - scene.before.centre[k]);
            2.2 * member.radius_mm() + off.iter().map(|c| c * c).sum::<f64>().sqrt()
        });
        let reach_mm = radius.fold(0.0, f64::max) * remaining.abs().to_radians();
        let motion = Motion { parts: held, at: &at, reach_mm };
        let came = self.all.advance(&motion, progress)?;
        self.rotated_deg += remaining * came.time;
        Ok(came.blocked)
    }

    /// Rotates, and if it pushes, makes room step by step, straight away from where parts meet.
    fn rotate(
        &mut self,
        meant: &(dyn Fn(f64) -> DragRequest + Sync),
        to_deg: f64,
        progress: &Progress,
    ) -> Result<Vec<(PlacementId, Placement)>, Cancelled> {
        for _ in 0..MOST_PUSHES {
            let Some(Blocked { by: Obstacle::Part(met), away }) =
                self.rotate_freely(meant, to_deg, progress)?
            else {
                break;
            };
            let (held, scene) = (&self.held, &self.scene);
            let may_move = |number: usize| {
                scene.pushes && !scene.members[number].is_locked && !held.contains(&number)
            };
            if !may_move(met) {
                break;
            }
            let by = away.map(|c| -c * PUSH_MM);
            let carried = self.all.carry(&[met], by, may_move, progress)?;
            if carried.moves.is_empty() {
                break;
            }
            self.note(carried.moves);
        }
        let mut placements = self.scene.before.after(meant(self.rotated_deg));
        let others = self.moved().split_off(self.held.len());
        placements.extend(others);
        Ok(placements)
    }
}

impl Member {
    fn pose_of(&self, placement: &Placement) -> Affine {
        let same = |a: [f64; 3], b: [f64; 3]| a.map(f64::to_bits) == b.map(f64::to_bits);
        if same(placement.rotation_deg, self.placement.rotation_deg) {
            let [from, to] = [self.placement.location_mm, placement.location_mm];
            return Affine::translation([0, 1, 2].map(|k| to[k] - from[k])) * self.pose;
        }
        placement.pose(self.loaded.mesh.vertices.iter().copied(), self.scale)
    }

    /// No point is farther from the part's middle than this, whatever its orientation.
    fn radius_mm(&self) -> f64 {
        let Some((low, high)) = self.loaded.mesh.bounds() else { return 0.0 };
        let half = (0..3).map(|k| (0.5 * (high[k] - low[k])).powi(2)).sum::<f64>().sqrt();
        half * self.scale.into_iter().fold(0.0, f64::max)
    }
}
