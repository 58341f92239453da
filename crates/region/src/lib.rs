//! Polygons with holes on the nanometre grid: boolean operations, offset, area, containment,
//! centrelines.
//!
//! Knows nothing of meshes, layers or recipes. Topology is decided in integers.

mod centreline;
mod region;

pub use centreline::{Centreline, CentrelineError, CentrelineOptions, Centrelines, centrelines};
pub use region::Region;
