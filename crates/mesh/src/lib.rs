//! Triangle meshes: import from bytes, health report, measures, bounding volume hierarchy.
//!
//! Knows nothing of paths on disk, jobs or the plane: bytes and plain arrays in, values out.

mod mesh;
mod topology;

pub use mesh::Mesh;
pub use topology::{Opposite, OverSharedEdge, Topology};
