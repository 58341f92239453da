//! Run-ins and run-outs that follow from the head, by a rule of the proof's own.

use crate::build::Build;
use job::Machine;
use job::recipe::{Exposure, Runs, ThinWalls};
use scan_path::ExposureRow;

/// Stretch in which a beam gets to a speed, mm, to the nearest nine decimals, as a file has it: half of the
/// speed times the time that it takes along the slower axis, then the time in which mirrors settle at full speed.
fn run_mm(machine: &Machine, speed_mm_s: f64) -> Option<f64> {
    let head = machine.head.as_ref()?;
    let slower = head.acceleration_mm_s2.into_iter().fold(f64::INFINITY, f64::min);
    let speeding_up_s = speed_mm_s / slower;
    let run_mm = speed_mm_s * (speeding_up_s / 2.0 + head.settle_us * 1e-6);
    Some((run_mm * 1e9).round() / 1e9)
}

/// An exposure with the lengths that the head gives it, if it asks for them.
pub(super) fn by_head(machine: &Machine, exposure: &Exposure) -> Exposure {
    let mut exposure = exposure.clone();
    let run_mm = run_mm(machine, exposure.speed_mm_s).filter(|_| exposure.runs == Runs::Auto);
    if let Some(run_mm) = run_mm {
        (exposure.path_run_in_mm, exposure.path_run_out_mm) = (run_mm, run_mm);
    }
    exposure
}

/// Run-in and run-out of a row of walls at a speed, mm: those of the row that it is made of, or what the head gives
/// at this speed.
pub(super) fn of_walls(build: &Build, of: &ExposureRow, speed_mm_s: f64) -> [f64; 2] {
    let recipes = build.loaded.recipes.iter().map(|entry| &entry.recipe);
    let mut asks = recipes.filter(|recipe| recipe.name == of.recipe).filter_map(|recipe| {
        let ThinWalls::Expose { exposure: name, .. } = &recipe.thin_walls else { return None };
        recipe.exposures.iter().find(|exposure| exposure.name == *name)
    });
    let is_auto = asks.any(|exposure| exposure.runs == Runs::Auto);
    let by_head = run_mm(&build.loaded.machine, speed_mm_s).filter(|_| is_auto);
    by_head.map_or([of.path_run_in_mm, of.path_run_out_mm], |run_mm| [run_mm; 2])
}
