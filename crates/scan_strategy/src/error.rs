//! What keeps a section from being exposed.

/// A recipe that cannot be carried out. A recipe that passed validation causes none of these.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ExposeError {
    /// A strategy names an exposure that the exposure table lacks.
    #[error("there is no exposure named \"{name}\"; add it to the recipe or name another")]
    UnknownExposure {
        /// The name looked for.
        name: String,
    },
    /// A line along a wall asks for an energy that the exposure table lacks.
    #[error(
        "the exposure of thin walls has no row for step {step} of its energy; this is a fault of \
             the program, please report it"
    )]
    UnknownStep {
        /// The step.
        step: i32,
    },
    /// The hatch spacing is not a usable number.
    #[error("a hatch spacing of {spacing_mm} mm cannot be used; give at least 0.001 mm")]
    Spacing {
        /// The spacing, mm.
        spacing_mm: f64,
    },
    /// Stripes or cells are too narrow or overlap too much.
    #[error(
        "stripes or cells of {width_mm} mm with an overlap of {overlap_mm} mm cannot be used; \
         the overlap must be 0 or more and at least 0.01 mm smaller than the width"
    )]
    Division {
        /// Width of a stripe or edge of a cell, mm.
        width_mm: f64,
        /// Their overlap, mm.
        overlap_mm: f64,
    },
    /// The scan angle is not a finite number.
    #[error(
        "a scan angle of {angle_deg}° cannot be used; give a finite angle and rotation per layer"
    )]
    Angle {
        /// The angle, degrees.
        angle_deg: f64,
    },
    /// A distance is not finite or leaves the grid.
    #[error("{what} of {mm} mm cannot be used; {advice}")]
    Distance {
        /// Which distance.
        what: &'static str,
        /// Its value, mm.
        mm: f64,
        /// What to do.
        advice: &'static str,
    },
}
