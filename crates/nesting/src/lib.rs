//! Arrangement of parts in the build space: dense, low, apart by a clearance, removable.
//!
//! [`nest()`] arranges, [`figures()`] tells what came of it, [`boxes_baseline`] is the yardstick,
//! [`cage()`] makes a box of bars around small parts. By means of their own, [`proof()`] finds how
//! far apart the parts of any arrangement are, exactly, and [`removal()`] whether they can be taken
//! out; [`Neighbours`] does the first for one part while it is moved. Meshes and plain values in,
//! poses out; knows nothing of jobs, files or clocks.

mod apart;
mod bed;
mod boxes;
pub mod cage;
mod compact;
pub mod figures;
mod grid;
mod levels;
mod mask;
mod model;
mod motion;
#[cfg(test)]
mod motion_tests;
mod neighbours;
mod nest;
mod perfect;
mod proof;
#[cfg(test)]
mod proof_tests;
mod random;
mod removal;
#[cfg(test)]
mod samples;
mod search;
mod settle;
mod shape;
mod show;
mod solid;
#[cfg(test)]
mod tests;
mod tighten;
mod turns;
mod vector;
mod voxel;

pub use boxes::boxes_baseline;
pub use cage::{CageShape, bounds_of, cage};
pub use figures::{Figures, figures, time_saved_s};
pub use model::{Arrangement, Item, Locked, NestError, Options, Placed, Space, Summary, Turns};
pub use motion::{Came, Carried, Held, Motion, Obstacle};
pub use neighbours::Neighbours;
pub use nest::{OnBetter, nest};
pub use proof::{Contact, Gap, Proof, TOLERANCE_MM, Wall, WallGap, proof};
pub use removal::{Hold, Removal, Trapped, removal};
pub use settle::compaction;
pub use solid::{Body, Solid};
