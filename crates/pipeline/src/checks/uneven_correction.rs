//! Whether a part is too wide to be corrected as one by its place in the build space.

use base::Finding;
use base::finding::{JobProblem, UNEVEN_OFFSET_MM, UNEVEN_POWER_PERCENT};
use job::Machine;

/// What adding up a few numbers may lose, percent and mm.
const ROUNDING: f64 = 1e-9;

/// A finding if what the machine corrects differs too much between the middle and the corners of bounds, mm.
pub(crate) fn uneven_correction(
    machine: &Machine,
    (low, high): ([f64; 3], [f64; 3]),
) -> Option<Finding> {
    let middle = machine.correction_at([0, 1].map(|k| f64::midpoint(low[k], high[k])));
    let (mut power_percent, mut offset_mm) = (0.0_f64, 0.0_f64);
    for x in [low[0], high[0]] {
        for y in [low[1], high[1]] {
            let corner = machine.correction_at([x, y]);
            let power = corner.power_factor / middle.power_factor - 1.0;
            power_percent = power_percent.max(100.0 * power.abs());
            let offset = corner.offset_change_mm - middle.offset_change_mm;
            offset_mm = offset_mm.max(offset.abs());
        }
    }
    let is_uneven =
        power_percent > UNEVEN_POWER_PERCENT + ROUNDING || offset_mm > UNEVEN_OFFSET_MM + ROUNDING;
    is_uneven.then(|| Finding::new(JobProblem::UnevenCorrection { power_percent, offset_mm }))
}
