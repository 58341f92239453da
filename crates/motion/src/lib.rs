//! The beam in time: where it is, how fast, and whether it is lit, along the vectors of a layer.
//!
//! ```text
//! points of a path ─► speeds (corners, ends) ─► ramps: closed forms, mark by mark ┐
//! end of a path ─► turn ─► start of the next: closed form for each axis ──────────┴► moves ─► Timeline, sums
//!                                                  what is commanded ─► servo ─► what the spot does
//! ```
//!
//! **Model.** Along a mark the speed rises and falls at the head's acceleration in that direction, up to the
//! speed of the exposure. The laser does not wait for it: without a run-in a mark begins at a standstill, with
//! one as long as v²/2a at full speed. Between two paths each axis runs as fast as its acceleration allows,
//! and the way to the side runs at the same time ([`Turn`]). A corner is taken as fast as an arc through it,
//! within the tolerance, allows: v = √(a·r). Acceleration along the way and across it are not added up there.
//! A limited jerk makes each speeding up or slowing down longer by half of a/j, the time of an S-shaped ramp
//! with full phases; moves that are too short for these take up to a tenth longer than told (measured against
//! the exact form in the tests).
//!
//! Constant-acceleration kinematics, any textbook of mechanics. Without a [`Head`] everything runs at its
//! commanded speed from the first point to the last.

pub mod geometry;
pub mod heat;
pub mod returns;
pub mod servo;

mod corner;
mod grid;
mod head;
mod jumps;
mod least;
mod moves;
mod ramp;
mod speeds;
mod sums;
mod timeline;
mod turn;
mod walk;

pub use head::{Corners, Head};
pub use jumps::{Jumps, PathEnd};
pub use least::least_jumps_s;
pub use moves::{BeamState, Move, MoveKind};
pub use ramp::{Ramp, rest_to_rest_s, run_in_mm};
pub use sums::{LayerTime, layer_time};
pub use timeline::{Piece, Timeline};
pub use turn::Turn;
pub use walk::{Step, walk};
