//! What an estimate cannot be made of.

use base::{Cancelled, OffGrid};

/// Why there is no estimate.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum EstimateError {
    /// A length, an energy or a threshold that must be above zero is not, or is not finite.
    #[error("{what} must be a positive number, but is {value}")]
    NotPositive {
        /// What the number is.
        what: &'static str,
        /// The number given.
        value: f64,
    },
    /// A stroke with an end or an energy that is not finite, or with negative energy.
    #[error("stroke {stroke} is not finite, or its energy is negative")]
    UnusableStroke {
        /// Index among the strokes given.
        stroke: usize,
    },
    /// More grid points than can be held.
    #[error("a grid of {columns} by {rows} points is too large")]
    GridTooLarge {
        /// Points along X.
        columns: usize,
        /// Points along Y.
        rows: usize,
    },
    /// A place outside the grid of nanometres.
    #[error(transparent)]
    OffGrid(#[from] OffGrid),
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// The number itself if it is positive and finite.
pub(crate) fn positive(what: &'static str, value: f64) -> Result<f64, EstimateError> {
    if value > 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(EstimateError::NotPositive { what, value })
    }
}
