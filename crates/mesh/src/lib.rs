//! Triangle meshes: import from bytes, health report, measures, bounding volume hierarchy.
//!
//! Knows nothing of paths on disk, jobs or the plane: bytes and plain arrays in, values out.

pub mod distance;
pub mod flat;
pub mod health;
pub mod hierarchy;
pub mod import;
pub mod intersect;
pub mod measures;
mod mesh;
mod nearest;
pub mod powder;
pub mod thickness;
mod topology;

pub use health::{HealthReport, health};
pub use hierarchy::{Hierarchy, Hit};
pub use measures::{Measures, measures};
pub use mesh::Mesh;
pub use nearest::Near;
pub use topology::{Opposite, OverSharedEdge, Topology};
