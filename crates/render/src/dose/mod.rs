//! The laser energy on each point of a layer, drawn on the graphics card.
//!
//! A stroke of a Gaussian beam of radius `w` (at 1/e² of its intensity) leaves behind, per area,
//!
//! `D(x, y) = D₀ · exp(-2y²/w²) · ½ [erf(√2 x/w) - erf(√2 (x - L)/w)]`, `D₀ = √(2/π) · E / w`,
//!
//! with `x` along the stroke from its start, `y` across it, `L` its length and `E` its energy per
//! length: the intensity 2P/(πw²) exp(-2r²/w²) integrated over the time of a move at constant
//! speed. The dose of a layer is the sum over its strokes.
//!
//! | step | where | what |
//! | --- | --- | --- |
//! | [`DoseTiles::new`] | any thread | which strokes reach which tile of the picture |
//! | [`DoseRenderer::prepare`] | window's thread | uploads that, lets the card sum up the dose |
//! | [`DoseRenderer::show`], [`DoseRenderer::paint`] | window's thread | colours it |
//! | [`DoseRenderer::dose`] | not the window's thread | J/mm² of each pixel |
//!
//! A picture that is moved or zoomed can be painted at once, where it belongs in the new view,
//! while tiles for that view are made.
//!
//! # Exactness
//!
//! A pixel holds the dose at its centre. Where pixels are larger than half a beam radius, points
//! would miss lines between them; there the beam is drawn wider, see
//! [`DoseFrame::drawn_radius_mm`], and callers should say so. No stroke is ever left out.
//!
//! The card's single precision sees positions relative to the middle of a tile only, so that the
//! error does not depend on where a tile lies, nor on the zoom. For each stroke that reaches a
//! pixel, the cut-off at three radii costs at most 2e-8 of `D₀`, the formula of erf 1.5e-7, and
//! rounding of places up to 1e-6, one way or the other. Measured, with what rounding of the sum
//! adds: 6e-7 of the mean in a hatched field, 9e-7 of the largest dose where 300 strokes overlap at
//! random. [`DOSE_ERROR`] is twice that.

mod colours;
mod error;
mod frame;
mod pipelines;
mod renderer;
mod tiles;

pub use colours::{DoseColours, Outside};
pub use error::DoseError;
pub use frame::{DoseFrame, DoseStroke};
pub use renderer::{DoseRenderer, DoseShow};
pub use tiles::{DOSE_ERROR, DoseTiles};
