//! Which colour a dose has.

use super::error::DoseError;

/// What is drawn where the dose is below the range of the colours. Where there is none at all,
/// nothing is drawn in any case.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outside {
    /// Nothing.
    Transparent,
    /// The first colour.
    First,
}

/// Colours for a range of doses: between neighbours they blend, above the range the last stays.
#[derive(Clone, Debug, PartialEq)]
pub struct DoseColours {
    low: f64,
    high: f64,
    colours: Vec<[f32; 4]>,
    outside: Outside,
}

impl DoseColours {
    /// Most colours of a table.
    pub const MOST: usize = 256;

    /// Takes the dose of the first and of the last colour, J/mm², and the colours, evenly spaced
    /// between: red, green, blue, opacity, 0 to 1, as shown on the screen, not premultiplied.
    ///
    /// # Errors
    /// [`DoseError::Colours`] unless `low < high` and there are 1 to [`Self::MOST`] colours.
    pub fn new(
        [low, high]: [f64; 2],
        colours: Vec<[f32; 4]>,
        outside: Outside,
    ) -> Result<Self, DoseError> {
        let is_range = low < high && (high - low).is_finite();
        if is_range && (1..=Self::MOST).contains(&colours.len()) {
            Ok(Self { low, high, colours, outside })
        } else {
            Err(DoseError::Colours { colours: colours.len(), low, high })
        }
    }

    /// Dose of the first and of the last colour, J/mm².
    pub fn range_j_mm2(&self) -> [f64; 2] {
        [self.low, self.high]
    }

    /// What is drawn below the range.
    pub fn outside(&self) -> Outside {
        self.outside
    }

    /// The colours, lowest dose first.
    pub fn colours(&self) -> &[[f32; 4]] {
        &self.colours
    }
}
