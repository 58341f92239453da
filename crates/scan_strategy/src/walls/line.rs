//! Energy of one line.

use crate::error::ExposeError;
use job::Recipe;

/// Energy per length of an exposure, J/mm.
pub(crate) fn line_energy(recipe: &Recipe, name: &str) -> Result<f64, ExposeError> {
    let exposure = recipe.exposure(name);
    let unknown = || ExposeError::UnknownExposure { name: name.to_owned() };
    exposure.map(|e| job::energy::line_energy_j_mm(e.power_w, e.speed_mm_s)).ok_or_else(unknown)
}
