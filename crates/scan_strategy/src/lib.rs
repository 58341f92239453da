//! From a section and a recipe to contours, hatch and centrelines, in the order they are run.
//!
//! Knows nothing of meshes, files or machines beyond the direction of spreading.

mod frame;
mod scanline;

pub use frame::MIN_SPACING_NM;
pub use scanline::{HatchScratch, hatch_lines};
