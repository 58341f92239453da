//! Arrangement of parts in the build space: dense, low, apart by a clearance, removable.
//!
//! Meshes and plain values go in, poses come out; the crate knows nothing of jobs, files or clocks.
//!
//! [`nest()`] arranges. [`boxes_baseline`] arranges bounding boxes only, for comparison. [`proof()`]
//! finds how far apart the parts of any arrangement are, [`removal()`] whether they can be taken out
//! of the powder one after the other, and [`figures()`] how high and how dense it is.
//! [`compaction()`] lets the parts of an arrangement sink. [`PlacedBodies`] moves single parts by
//! hand. [`cage()`] makes a box of bars around small parts.
//!
//! # Modules and data flow
//!
//! ```text
//!   items, space, options                            (model, orientation)
//!        │
//!        ▼
//!   search/voxels    every item in every allowed orientation becomes a mask of voxels
//!        │
//!   search/state     one build being arranged: which voxels are occupied, what blocks what
//!        │
//!   search/moves     insert, ruin and recreate, lower the ceiling
//!        │
//!   search/nest ───► exact   moves parts apart and down by distances of triangles
//!        │             │
//!        │             ▼
//!        ├─────────► judge   are all clearances kept, can every part be taken out, how high is it
//!        ▼
//!   arrangement      reported only if the judge accepts it
//! ```
//!
//! `exact` and `judge` know nothing of voxels. Of `exact` the judge imports only the distance of two
//! bodies (`exact::distance`), and both see parts through `solid`: an error in the search or in the
//! moves cannot hide itself, but one in these two could. The tests therefore compare the distance with
//! plain formulas of their own. `cage` and `compaction` are outside this diagram; of `boxes` the search
//! takes one arrangement to start from where it is the lower one, and of `shelves` the very first.

mod boxes;
pub mod cage;
mod compaction;
mod exact;
mod fill_order;
mod judge;
mod model;
mod orientation;
mod random;
mod search;
mod shelves;
mod solid;

pub use boxes::boxes_baseline;
pub use cage::{CageShape, bounds_of, cage};
pub use compaction::compaction;
pub use exact::distance::{Contact, Gap, TOLERANCE_MM, Wall, WallGap};
pub use exact::motion::{Blocked, Carried, Motion, MotionEnd, Obstacle};
pub use exact::placed_bodies::PlacedBodies;
pub use judge::figures::{Figures, figures, time_saved_s};
pub use judge::proof::{Proof, proof};
pub use judge::removal::{Hold, Removal, Trapped, removal};
pub use model::{
    Arrangement, CopyId, Item, Locked, NestError, OnBetter, Options, Orientations, Placed, Space,
    Summary,
};
pub use search::nest::{nest, nest_and_close};
pub use solid::{Body, Solid};

#[cfg(test)]
mod tests;
