//! Units of length that mesh files come in.

use serde::{Deserialize, Serialize};

/// A unit of length; the list is that of the 3MF core specification.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
pub enum Unit {
    /// 0.001 mm.
    Micron,
    /// The unit of everything inside the program.
    #[default]
    Millimetre,
    /// 10 mm.
    Centimetre,
    /// 25.4 mm.
    Inch,
    /// 304.8 mm.
    Foot,
    /// 1000 mm.
    Metre,
}

impl Unit {
    /// Millimetres in one of these.
    pub fn mm(self) -> f64 {
        match self {
            Self::Micron => 0.001,
            Self::Millimetre => 1.0,
            Self::Centimetre => 10.0,
            Self::Inch => 25.4,
            Self::Foot => 304.8,
            Self::Metre => 1000.0,
        }
    }
}
