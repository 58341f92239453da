//! Edits that move, turn and lay placements.

use super::handles::Meant;
use super::stage::{Actor, Stage};
use super::turning::tidy;
use crate::actions::Edit;
use crate::model::PlacementRef;
use job::Placement;

/// Steps that a drag snaps to.
const MOVE_STEP_MM: f64 = 0.1;
const TURN_STEP_DEG: f64 = 5.0;

/// Placements before a change, with the middle of them all.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Before {
    pub(super) placements: Vec<(PlacementRef, Placement)>,
    pub(super) centre: [f64; 3],
}

impl Before {
    /// Of these; `None` of none.
    pub(super) fn of(actors: &[&Actor]) -> Option<Self> {
        let (low, high) = Stage::bounds(actors.iter().copied())?;
        let placements: Vec<_> = actors.iter().map(|actor| (actor.at, actor.placement)).collect();
        // A single part is named by its own location, to the last digit.
        let centre = match placements[..] {
            [(_, only)] => only.location_mm,
            _ => super::stage::array(low.midpoint(high)),
        };
        Some(Self { placements, centre })
    }

    /// The placements after a drag that means this; snapped unless `free`.
    pub(super) fn after(&self, meant: Meant, free: bool) -> Vec<(PlacementRef, Placement)> {
        match meant {
            Meant::Move(by) => self.moved(if free { by } else { self.snapped(by) }),
            Meant::Turn(by) => {
                self.turned(if free { by } else { (by / TURN_STEP_DEG).round() * TURN_STEP_DEG })
            }
        }
    }

    /// A move after which the middle lies on whole steps in every direction that moves.
    fn snapped(&self, by: [f64; 3]) -> [f64; 3] {
        [0, 1, 2].map(|k| {
            if by[k].abs() < 1e-12 {
                return 0.0;
            }
            let to = ((self.centre[k] + by[k]) / MOVE_STEP_MM).round() * MOVE_STEP_MM;
            to - self.centre[k]
        })
    }

    /// All of them moved by the same, mm.
    pub(super) fn moved(&self, by: [f64; 3]) -> Vec<(PlacementRef, Placement)> {
        let moved = |mut placement: Placement| {
            placement.location_mm = [0, 1, 2].map(|k| placement.location_mm[k] + by[k]);
            allowed(placement)
        };
        self.placements.iter().map(|&(at, placement)| (at, moved(placement))).collect()
    }

    /// All of them turned about Z through their middle, degrees.
    pub(super) fn turned(&self, by_deg: f64) -> Vec<(PlacementRef, Placement)> {
        let (sin, cos) = base::affine::sin_cos_deg(by_deg);
        let [cx, cy, _] = self.centre;
        let turned = |mut placement: Placement| {
            let [x, y, z] = placement.location_mm;
            let (dx, dy) = (x - cx, y - cy);
            placement.location_mm = [cx + cos * dx - sin * dy, cy + sin * dx + cos * dy, z];
            placement.turns_deg[2] += by_deg;
            allowed(placement)
        };
        self.placements.iter().map(|&(at, placement)| (at, turned(placement))).collect()
    }
}

/// Brings numbers into the ranges that a job allows, without binary noise below a nanometre.
pub(super) fn allowed(mut placement: Placement) -> Placement {
    let clean =
        |value: f64, low: f64, high: f64| ((value * 1e6).round() / 1e6).clamp(low, high) + 0.0;
    let [x, y, z] = placement.location_mm;
    placement.location_mm =
        [clean(x, -1000.0, 1000.0), clean(y, -1000.0, 1000.0), clean(z, 0.0, 2000.0)];
    placement.turns_deg = placement.turns_deg.map(tidy);
    placement
}

/// Puts placements where they are to be.
pub(super) fn edit(verb: &str, placements: Vec<(PlacementRef, Placement)>) -> Edit {
    let what = match placements.len() {
        1 => format!("{verb} a placement"),
        many => format!("{verb} {many} placements"),
    };
    Edit::new(what, move |content| {
        for (at, placement) in placements {
            let parts = content.job.parts.get_mut(at.part);
            if let Some(slot) = parts.and_then(|part| part.placements.get_mut(at.copy)) {
                *slot = placement;
            }
        }
    })
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "snapped and tidied numbers are exact")]
mod tests {
    use super::*;

    fn before(locations: &[[f64; 3]], centre: [f64; 3]) -> Before {
        let placement = |(copy, &location_mm): (usize, &[f64; 3])| {
            let at = PlacementRef { part: 0, copy };
            (at, Placement { location_mm, turns_deg: [0.0; 3] })
        };
        Before { placements: locations.iter().enumerate().map(placement).collect(), centre }
    }

    #[track_caller]
    fn check(after: &[(PlacementRef, Placement)], expected: &[[f64; 3]]) {
        for ((_, placement), expected) in after.iter().zip(expected) {
            for k in 0..3 {
                let off = (placement.location_mm[k] - expected[k]).abs();
                assert!(off < 1e-6, "{:?} is not {expected:?}", placement.location_mm);
            }
        }
    }

    #[test]
    fn a_drag_ends_on_tenths_of_a_millimetre_unless_it_is_free() {
        let start = before(&[[1.234, 5.0, 9.87]], [1.234, 5.0, 9.87]);
        check(&start.after(Meant::Move([2.03, 0.0, 0.0]), false), &[[3.3, 5.0, 9.87]]);
        check(&start.after(Meant::Move([2.03, 0.0, 0.0]), true), &[[3.264, 5.0, 9.87]]);
    }

    #[test]
    fn several_turn_about_their_middle_by_whole_steps() {
        let start = before(&[[10., 0., 5.], [-10., 0., 5.]], [0., 0., 5.]);
        let after = start.after(Meant::Turn(88.0), false);
        check(&after, &[[0., 10., 5.], [0., -10., 5.]]);
        assert!(after.iter().all(|(_, p)| p.turns_deg == [0.0, 0.0, 90.0]));
    }

    #[test]
    fn nothing_leaves_what_a_job_allows() {
        let start = before(&[[0., 0., 5.]], [0., 0., 5.]);
        check(&start.after(Meant::Move([5e3, 0., -80.0]), true), &[[1000., 0., 0.]]);
    }
}
