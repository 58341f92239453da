//! Energies of lines along walls: a named exposure times a power of 1.1.

use super::line::{line_energy, pass_energy};
use super::melt::Melt;
use super::rules::{SHARES, single_below_nm};
use crate::distance::distance_nm;
use crate::error::ExposeError;
use base::mm_from_nm;
use job::Recipe;
use job::recipe::ThinWalls;
use std::ops::RangeInclusive;

/// A tenth more from step to step: a wall comes out within 0.02 mm of its width at 0.2 mm, and
/// nearer when it is wider.
const STEP: f64 = 1.1;

/// Steps beyond these are not made, whatever a recipe says: energies from a fourteenth to fourteen times
/// the named one.
const MOST_STEPS: i32 = 28;

/// Factor of a step: how many times the energy per length of the named exposure a line gets.
pub fn energy_factor(step: i32) -> f64 {
    STEP.powi(step)
}

/// The step nearest to a factor.
pub(crate) fn step_for(factor: f64) -> i32 {
    let steps = factor.ln() / STEP.ln();
    #[expect(clippy::cast_possible_truncation, reason = "clamped; NaN becomes 0")]
    let step = steps.round().clamp(-f64::from(MOST_STEPS), f64::from(MOST_STEPS)) as i32;
    step
}

/// The steps that walls of this recipe may ask for, so that their exposures can stand in a table
/// before the first layer is made; `None` if the recipe exposes no thin walls.
///
/// # Errors
/// [`ExposeError`] if the recipe cannot be carried out; a validated recipe always can.
pub fn energy_steps(
    recipe: &Recipe,
    melt: Melt,
) -> Result<Option<RangeInclusive<i32>>, ExposeError> {
    let ThinWalls::Expose { exposure, min_width_mm, .. } = &recipe.thin_walls else {
        return Ok(None);
    };
    let energy = line_energy(recipe, exposure)?;
    let (mut low, mut high) = (0, 0);
    let mut include = |joules: f64| {
        let step = step_for(joules / energy);
        (low, high) = (low.min(step), high.max(step));
    };
    let widest = mm_from_nm(single_below(recipe, melt)?);
    for width_mm in [*min_width_mm, widest] {
        include(melt.energy_for_width(width_mm));
    }
    for strategy in recipe.strategies() {
        let (Some(hatch), Some(_)) = (&strategy.hatch, &strategy.contours) else { continue };
        for pass in hatch.passes() {
            let energy = pass_energy(recipe, hatch, &pass)?;
            for share in SHARES {
                include(share * energy);
            }
        }
    }
    Ok(Some(low..=high))
}

/// Width below which a wall of this recipe gets one centreline instead of contours, nm; where it is to have
/// none, the width below which contours do not fit.
pub(crate) fn single_below(recipe: &Recipe, melt: Melt) -> Result<i32, ExposeError> {
    let ThinWalls::Expose { exposure, .. } = &recipe.thin_walls else {
        return distance_nm("a beam offset", 2.0 * recipe.beam_offset_mm);
    };
    let contour = recipe.core.contours.as_ref().and_then(|contours| contours.exposures.first());
    let name = contour.unwrap_or(exposure);
    single_below_nm(recipe.beam_offset_mm, line_energy(recipe, name)?, melt)
}
