//! How much laser energy every spot of a layer gets, and what will melt.
//!
//! The beam is a Gaussian spot that moves in straight [`Stroke`]s. The energy per area that they leave
//! behind, the *dose*, has a closed form ([`DoseField`]). Where it reaches what the [`Powder`] needs,
//! the layer melts ([`melted`]); how far that outline lies from the section says whether the part
//! comes out true ([`compare`]), and [`offset`] proposes the beam offset that makes it so.
//!
//! Lengths are mm, energies J, powers W, speeds mm/s. Heat does not flow here: energy stays where it
//! was absorbed. Formulas are from Siegman, *Lasers*, and ISO 11146-1 (beam), and plain superposition.

pub mod beam;
mod buckets;
mod error;
pub mod field;
pub mod hatch;
pub mod offset;
pub mod outline;
pub mod powder;
pub mod stroke;

pub use beam::Beam;
pub use error::EstimateError;
pub use field::{DoseField, Grid};
pub use hatch::Hatch;
pub use outline::{Ring, compare, melted};
pub use powder::Powder;
pub use stroke::Stroke;
