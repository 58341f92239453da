//! Energy of one line, by itself or in place of the lines of a hatch.

use crate::error::ExposeError;
use job::Recipe;
use job::recipe::{Hatch, HatchPass};

/// Energy per length of an exposure, J/mm.
pub(crate) fn line_energy(recipe: &Recipe, name: &str) -> Result<f64, ExposeError> {
    let exposure = recipe.exposure(name);
    let unknown = || ExposeError::UnknownExposure { name: name.to_owned() };
    exposure.map(|e| job::energy::line_energy_j_mm(e.power_w, e.speed_mm_s)).ok_or_else(unknown)
}

/// Energy per length, J/mm, of lines that lie as far apart as those of the first pass of a hatch and bring the
/// energy per area of another pass of it.
pub(crate) fn pass_energy(
    recipe: &Recipe,
    hatch: &Hatch,
    pass: &HatchPass,
) -> Result<f64, ExposeError> {
    Ok(line_energy(recipe, &pass.exposure)? * (hatch.spacing_mm / pass.spacing_mm))
}
