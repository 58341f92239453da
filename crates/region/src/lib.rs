//! Polygons with holes on the nanometre grid: boolean operations, offset, area, containment,
//! centrelines.
//!
//! Knows nothing of meshes, layers or recipes. Topology is decided in integers: what leaves this
//! crate was either proved proper on the grid or comes out of the general polygon engine, which
//! only the module `engine` knows.

mod boolean;
mod centreline;
mod clip;
mod engine;
mod islands;
mod offset;
mod properness;
mod region;
mod ring_index;
mod untouched;

pub use boolean::{FillRule, difference, intersection, resolve, union, union_all, xor};
pub use centreline::{Centreline, CentrelineError, CentrelineOptions, Centrelines, centrelines};
pub use clip::clip_polyline;
pub use offset::{Inset, Join, inset, inset_with_lost, opening, outset, unreached};
pub use properness::is_proper;
pub use region::{Containment, Region};
