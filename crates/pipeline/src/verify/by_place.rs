//! What a placement is exposed with otherwise because of its place, worked out anew from what was measured.

use crate::build::Build;
use base::PlacementId;

/// What the place of a placement asks for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ByPlace {
    /// Share of the power to command, whole percents.
    pub(super) percent: f64,
    /// What beam offsets get on top, mm, in whole micrometres.
    pub(super) offset_mm: f64,
}

impl ByPlace {
    /// By where a placement has the middle of its bounding box: the mean of all that was measured, by the
    /// inverse square of the distance.
    pub(super) fn of(build: &Build, PlacementId { part, copy }: PlacementId) -> Self {
        let [x, y, _] = build.loaded.job.parts[part].placements[copy].location_mm;
        let measured = build.loaded.machine.field_corrections.iter().map(|m| {
            let away = ((m.x_mm - x).powi(2) + (m.y_mm - y).powi(2)).sqrt();
            (away, [100.0 * m.power_factor, 1e3 * m.offset_change_mm])
        });
        let measured: Vec<(f64, [f64; 2])> = measured.collect();
        let met = measured.iter().find(|(away, _)| *away < 1e-6).map(|(_, values)| *values);
        let whole: f64 = measured.iter().map(|(away, _)| away.powi(-2)).sum();
        let mean = |k: usize| -> f64 {
            measured.iter().map(|(away, values)| values[k] * away.powi(-2) / whole).sum()
        };
        let [percent, um] = match met {
            Some(values) => values,
            None if measured.is_empty() => [100.0, 0.0],
            None => [mean(0), mean(1)],
        };
        // halves go up, with a billionth for what the sums lose
        let [percent, um] = [percent, um].map(|value| (value + 0.500_000_001).floor());
        Self { percent, offset_mm: um / 1e3 }
    }
}
