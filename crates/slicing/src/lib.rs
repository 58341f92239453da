//! Mesh and heights to regions: the section of a placed mesh at the middle of every layer.
//!
//! Knows nothing of recipes, jobs or beams. Contours are chained from triangle to triangle along
//! the mesh's own adjacency; no distance decides what belongs together unless the mesh is broken,
//! and then the section says so.

mod chains;
mod cut;
mod error;
mod half_edge;
mod layer_index;
mod posed;
mod section;
mod slicer;
mod straight;

pub use error::SlicingError;
pub use section::{Gap, Section, SectionReport};
pub use slicer::{Scratch, Slicer};
