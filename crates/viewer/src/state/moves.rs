//! Moves and rotations of placements: what a drag means, snapped, and the edit that it makes.

use crate::state::arrangement::{Arrangement, PosedPlacement, array};
use crate::state::edit::Edit;
use crate::state::rotation::{self, tidy};
use base::PlacementId;
use glam::DMat3;
use job::Placement;
use std::ops::RangeInclusive;

/// Steps that a drag snaps to.
const MOVE_STEP_MM: f64 = 0.1;
const ROTATION_STEP_DEG: f64 = 5.0;

/// What a drag means, from where it began.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum DragRequest {
    /// Move by this much, mm.
    Move([f64; 3]),
    /// Rotate by this much, degrees, about the axis X, Y or Z of the build space.
    Rotate(usize, f64),
    /// Add this much, degrees, to the angle A, B or C of each.
    Angle(usize, f64),
}

/// Placements before a change, with the middle of them all.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct DragStart {
    pub(crate) placements: Vec<(PlacementId, Placement)>,
    pub(crate) centre: [f64; 3],
}

impl DragStart {
    /// Of these; `None` of none.
    pub(crate) fn of(placed: &[&PosedPlacement]) -> Option<Self> {
        let (low, high) = Arrangement::bounds(placed.iter().copied())?;
        let placements: Vec<_> =
            placed.iter().map(|placed| (placed.at, placed.placement)).collect();
        // A single part is named by its own location, to the last digit.
        let centre = match placements[..] {
            [(_, only)] => only.location_mm,
            _ => array(low.midpoint(high)),
        };
        Some(Self { placements, centre })
    }

    /// What is meant, in whole steps unless it is `free`.
    pub(crate) fn snapped(&self, meant: DragRequest, free: bool) -> DragRequest {
        let step = |by: f64| (by / ROTATION_STEP_DEG).round() * ROTATION_STEP_DEG;
        match meant {
            DragRequest::Move(by) if free => DragRequest::Move(by.map(|c| (c * 1e6).round() / 1e6)),
            _ if free => meant,
            DragRequest::Move(by) => DragRequest::Move(self.snapped_move(by)),
            DragRequest::Rotate(axis, by) => DragRequest::Rotate(axis, step(by)),
            DragRequest::Angle(..) => meant,
        }
    }

    /// The placements after what is meant, wherever others are.
    pub(crate) fn after(&self, meant: DragRequest) -> Vec<(PlacementId, Placement)> {
        match meant {
            DragRequest::Move(by) => self.moved(by),
            DragRequest::Rotate(axis, by) => self.rotated(axis, by),
            DragRequest::Angle(index, by) => {
                let angled = |mut placement: Placement| {
                    placement.rotation_deg[index] += by;
                    allowed(placement)
                };
                self.placements.iter().map(|&(at, placement)| (at, angled(placement))).collect()
            }
        }
    }

    /// A move after which the middle lies on whole steps in every direction that moves.
    fn snapped_move(&self, by: [f64; 3]) -> [f64; 3] {
        [0, 1, 2].map(|k| {
            if by[k].abs() < 1e-12 {
                return 0.0;
            }
            let to = ((self.centre[k] + by[k]) / MOVE_STEP_MM).round() * MOVE_STEP_MM;
            to - self.centre[k]
        })
    }

    /// All of them moved by the same, mm.
    pub(crate) fn moved(&self, by: [f64; 3]) -> Vec<(PlacementId, Placement)> {
        let moved = |placement: Placement| moved(placement, by);
        self.placements.iter().map(|&(at, placement)| (at, moved(placement))).collect()
    }

    /// All of them rotated about an axis of the build space through their middle, degrees.
    pub(crate) fn rotated(&self, axis: usize, by_deg: f64) -> Vec<(PlacementId, Placement)> {
        let (sin, cos) = base::affine::sin_cos_deg(by_deg);
        let [u, v] = [(axis + 1) % 3, (axis + 2) % 3];
        let rotated = |mut placement: Placement| {
            let at = placement.location_mm;
            let (du, dv) = (at[u] - self.centre[u], at[v] - self.centre[v]);
            placement.location_mm[u] = self.centre[u] + cos * du - sin * dv;
            placement.location_mm[v] = self.centre[v] + sin * du + cos * dv;
            if axis == 2 {
                placement.rotation_deg[2] += by_deg; // the last of the three rotations
            } else {
                let angle = by_deg.to_radians();
                let about = if axis == 0 {
                    DMat3::from_rotation_x(angle)
                } else {
                    DMat3::from_rotation_y(angle)
                };
                placement.rotation_deg =
                    rotation::angles_of(about * rotation::rotation(placement.rotation_deg));
            }
            allowed(placement)
        };
        if by_deg.abs() < 1e-9 {
            return self.placements.clone(); // to the last digit
        }
        self.placements.iter().map(|&(at, placement)| (at, rotated(placement))).collect()
    }
}

/// A placement moved by so much, mm.
pub(crate) fn moved(mut placement: Placement, by: [f64; 3]) -> Placement {
    placement.location_mm = [0, 1, 2].map(|k| placement.location_mm[k] + by[k]);
    allowed(placement)
}

/// Where a job allows the middle of a part along X, Y, Z, mm.
pub(crate) const LOCATION_MM: [RangeInclusive<f64>; 3] =
    [-1000.0..=1000.0, -1000.0..=1000.0, 0.0..=2000.0];
/// Angles that are typed, degrees.
pub(crate) const ROTATION_DEG: RangeInclusive<f64> = -360.0..=360.0;

/// Brings numbers into the ranges that a job allows, without binary noise: ten picometres are left,
/// as nesting writes them, so that moving by whole nanometres keeps distances as they are.
pub(crate) fn allowed(mut placement: Placement) -> Placement {
    let clean =
        |value: f64, low: f64, high: f64| ((value * 1e8).round() / 1e8).clamp(low, high) + 0.0;
    let [x, y, z] = placement.location_mm;
    let [in_x, in_y, in_z] = LOCATION_MM.map(RangeInclusive::into_inner);
    placement.location_mm =
        [clean(x, in_x.0, in_x.1), clean(y, in_y.0, in_y.1), clean(z, in_z.0, in_z.1)];
    placement.rotation_deg = placement.rotation_deg.map(tidy);
    placement
}

/// What a step of undo is called.
pub(crate) fn label(verb: &str, count: usize) -> String {
    if count == 1 { format!("{verb} a placement") } else { format!("{verb} {count} placements") }
}

/// Puts placements where they are to be.
pub(crate) fn edit(label: impl Into<String>, placements: Vec<(PlacementId, Placement)>) -> Edit {
    Edit::new(label, move |content| {
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

    fn before(locations: &[[f64; 3]], centre: [f64; 3]) -> DragStart {
        let placement = |(copy, &location_mm): (usize, &[f64; 3])| {
            let at = PlacementId { part: 0, copy };
            (at, Placement { location_mm, rotation_deg: [0.0; 3] })
        };
        DragStart { placements: locations.iter().enumerate().map(placement).collect(), centre }
    }

    #[track_caller]
    fn check(after: &[(PlacementId, Placement)], expected: &[[f64; 3]]) {
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
        let by = DragRequest::Move([2.03, 0.0, 0.0]);
        check(&start.after(start.snapped(by, false)), &[[3.3, 5.0, 9.87]]);
        check(&start.after(start.snapped(by, true)), &[[3.264, 5.0, 9.87]]);
    }

    #[test]
    fn several_rotate_about_their_middle_by_whole_steps() {
        let start = before(&[[10., 0., 5.], [-10., 0., 5.]], [0., 0., 5.]);
        let after = start.after(start.snapped(DragRequest::Rotate(2, 88.0), false));
        check(&after, &[[0., 10., 5.], [0., -10., 5.]]);
        assert!(after.iter().all(|(_, p)| p.rotation_deg == [0.0, 0.0, 90.0]));
    }

    #[test]
    fn a_rotation_about_x_or_y_moves_what_points_along_the_other_axes() {
        let start = before(&[[0., 10., 50.], [0., -10., 50.]], [0., 0., 50.]);
        let after = start.after(DragRequest::Rotate(0, 90.0));
        check(&after, &[[0., 0., 60.], [0., 0., 40.]]);
        assert!(after.iter().all(|(_, p)| p.rotation_deg == [90.0, 0.0, 0.0]));
        let start = before(&[[10., 0., 50.], [-10., 0., 50.]], [0., 0., 50.]);
        let after = start.after(DragRequest::Rotate(1, 90.0));
        check(&after, &[[0., 0., 40.], [0., 0., 60.]]);
        assert_eq!(start.after(DragRequest::Rotate(1, 0.0)), start.placements);
    }

    #[test]
    fn nothing_leaves_what_a_job_allows() {
        let start = before(&[[0., 0., 5.]], [0., 0., 5.]);
        check(&start.after(DragRequest::Move([5e3, 0., -80.0])), &[[1000., 0., 0.]]);
    }
}
