//! Parts, placements, machine, recipe; the job file and its validation.
//!
//! Plain values with public fields. Reads and writes RON text; opens no file itself.

pub mod machine;
pub mod recipe;

mod job;

pub use job::{Job, PartEntry, Placement};
pub use machine::Machine;
pub use recipe::Recipe;
