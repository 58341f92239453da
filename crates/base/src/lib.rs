//! What every other crate shares: the nanometre grid, vectors, affine maps, units, layer counts,
//! findings, progress and cancellation.
//!
//! Knows nothing of meshes, jobs or files.

pub mod affine;
pub mod duration;
pub mod finding;
pub mod grid;
pub mod layers;
pub mod placement;
pub mod progress;
pub mod unit;
pub mod vec3;

pub use affine::Affine;
pub use duration::duration;
pub use finding::{Finding, Kind, NamedPlacement, Place, Problem, Severity};
pub use grid::{GRID_LIMIT_NM, NM_PER_MM, OffGrid, Point, mm_from_nm, nm_from_mm};
pub use placement::{PlacementId, PlacementName};
pub use progress::{Cancelled, Progress};
pub use unit::Unit;
