//! Layers of vectors in memory, and the vector file: read, write, verify alone.
//!
//! Knows nothing of meshes, regions or recipes: points, tables and bytes only.

mod layer;

pub use layer::{Block, ExposureKind, Layer, Paths, RegionKind};
