//! Why there is no picture of the dose.

use crate::picture::ReadBackError;

/// Why there is no picture of the dose.
#[derive(Debug, thiserror::Error)]
pub enum DoseError {
    /// A beam has no such radius.
    #[error("the beam radius must be above 0 and at most {most} mm, not {radius_mm}")]
    Radius {
        /// What was asked for, mm.
        radius_mm: f64,
        /// The largest that is drawn, mm.
        most: f64,
    },
    /// A stroke's energy is not a number.
    #[error("the energy of stroke {stroke} is not a finite number")]
    Energy {
        /// Index of the stroke.
        stroke: usize,
    },
    /// The range of colours is empty or not a number, or there are too few or too many colours.
    #[error("{colours} colours cannot show a dose of {low} to {high} J/mm²")]
    Colours {
        /// How many colours there are; 1 to 256 are possible.
        colours: usize,
        /// Dose of the first colour, J/mm².
        low: f64,
        /// Dose of the last colour, J/mm².
        high: f64,
    },
    /// More would have to be summed up than memory is set aside for.
    #[error(
        "the dose needs {pairs} pairs of stroke and tile, more than {most}; zoom in, or draw fewer \
         strokes"
    )]
    TooMuch {
        /// Pairs found until the limit was passed.
        pairs: usize,
        /// The limit.
        most: usize,
    },
    /// The graphics card runs no programs but those that draw.
    #[error("this graphics driver cannot compute (it has no compute shaders)")]
    NoCompute,
    /// The graphics card cannot hold it.
    #[error("the graphics card takes {most} {what} at most, the dose needs {needed}")]
    Device {
        /// Of what, in the plural.
        what: &'static str,
        /// How many are needed.
        needed: u64,
        /// The device's limit.
        most: u64,
    },
    /// The picture did not come back.
    #[error(transparent)]
    ReadBack(#[from] ReadBackError),
}
