//! Parts moved by hand in the real window: chamber, elevation and plan, with the pointer, by
//! accessible names, against answers that are known for boxes.
//!
//! Set `HATCHWRIGHT_PICTURES` to a folder to keep a picture of each state.

#![expect(clippy::float_cmp, reason = "what does not move keeps its last digit")]

mod accepting;
mod choosing;
#[path = "../common/mod.rs"]
mod common;
mod contact;
mod fields;
mod flat;
mod hundreds;
mod meshes;
mod saving;
mod sheet;
mod telling;
mod window;
