//! Lengths of a recipe on the nanometre grid.

use crate::error::ExposeError;
use base::{OffGrid, nm_from_mm};

const ON_THE_GRID: &str = "give a finite number well below the size of the build space";

/// Rounds a length of the recipe to nm.
pub(crate) fn distance_nm(what: &'static str, mm: f64) -> Result<i32, ExposeError> {
    nm_from_mm(mm).map_err(|off| off_grid(what, off))
}

pub(crate) fn off_grid(what: &'static str, OffGrid { mm }: OffGrid) -> ExposeError {
    ExposeError::Distance { what, mm, advice: ON_THE_GRID }
}
