//! Arrangement of parts in the build space: dense, low, apart by a clearance, removable.
//!
//! [`nest()`] arranges, [`figures()`] tells what came of it, [`boxes_baseline`] is the yardstick,
//! [`cage()`] makes a box of bars around small parts. Meshes and plain values in, poses out; knows
//! nothing of jobs, files or clocks.

mod apart;
mod bed;
mod boxes;
pub mod cage;
mod compact;
pub mod figures;
mod grid;
mod mask;
mod model;
mod nest;
mod perfect;
mod random;
#[cfg(test)]
mod samples;
mod search;
mod shape;
#[cfg(test)]
mod tests;
mod turns;
mod voxel;

pub use boxes::boxes_baseline;
pub use cage::{CageShape, bounds_of, cage};
pub use figures::{Figures, figures, time_saved_s};
pub use model::{Arrangement, Item, Locked, NestError, Options, Placed, Space, Summary, Turns};
pub use nest::{OnBetter, nest};
