//! Triangle meshes: import from bytes, health report, measures, bounding volume hierarchy.
//!
//! Knows nothing of paths on disk, jobs or the plane: bytes and plain arrays in, values out.

pub mod import;
mod mesh;

pub use mesh::Mesh;
