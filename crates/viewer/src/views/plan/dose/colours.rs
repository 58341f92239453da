//! The colours of the dose.

use render::dose::{DoseColours, DoseError, Outside};
use render::plan::ColourScale;

/// Share of the range over which the first colours fade in, so that the far tails of the beam end
/// without an edge.
const FADE: f32 = 0.06;

/// Those of a dose from 0 to `most`, J/mm².
pub(super) fn of_dose(scale: &ColourScale, most: f64) -> Result<DoseColours, DoseError> {
    let last = (scale.colours.len() - 1) as f32;
    let faded = scale.colours.iter().enumerate().map(|(place, colour)| {
        let [r, g, b, a] = colour.map(|c| f32::from(c) / 255.0);
        [r, g, b, a * (place as f32 / last / FADE).min(1.0)]
    });
    DoseColours::new([0.0, most], faded.collect(), Outside::First)
}
