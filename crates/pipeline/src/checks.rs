//! The checks: from what was computed to findings, a file for each.
//!
//! A check is a small function, or sums with one: it knows no file, no thread and no other check.
//! Where the findings of a check go is said by whoever calls it.

mod accepted;
mod build_space;
mod clearance;
mod earlier_versions;
mod grouped;
mod growth;
mod heat;
mod layer_report;
mod mesh_files;
mod motion;
mod nesting;
mod overlap;
mod practice;
mod reheated;
mod removal;
mod sections;
mod shape;
mod span;
mod thin_walls;
mod uneven_correction;

pub use accepted::{Accepted, AcceptedGroup, Sorted, grouped_accepted, sorted_by_acceptance};
pub use grouped::{Group, grouped};
pub use layer_report::LayerReport;

pub(crate) use build_space::{nothing_to_build, outside_build_space, outside_field};
pub(crate) use clearance::clearance;
pub(crate) use earlier_versions::earlier_versions;
pub(crate) use growth::growth_rounded;
pub(crate) use heat::{Heat, near_wall};
pub(crate) use mesh_files::{missing_mesh, of_mesh_file};
pub(crate) use motion::Watch;
pub(crate) use nesting::{selection_does_not_fit, unplaced};
pub(crate) use practice::{energy_outside_window, outside_common_practice};
pub(crate) use removal::removal;
pub(crate) use shape::{BedPowder, shape};
pub(crate) use uneven_correction::uneven_correction;
