//! Polygons with holes on the nanometre grid: boolean operations, offset, area, containment,
//! centrelines.
//!
//! Knows nothing of meshes, layers or recipes. Topology is decided in integers.

mod region;

pub use region::Region;
