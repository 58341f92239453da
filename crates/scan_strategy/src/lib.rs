//! From a section and a recipe to contours, hatch and centrelines, in the order they are run.
//!
//! [`expose()`] does all of it. Sections are compared with the layers around them ([`facing()`]),
//! inset; walls too narrow for contours or hatch get lines along them (module `walls`); contours are given an
//! order and starts; what is left is crossed with parallel lines, divided into stripes or cells, and the
//! pieces are put in an order with short jumps ([`fill()`]).
//!
//! Knows nothing of meshes, files or machines beyond the direction of spreading.

mod angle;
mod body;
mod distance;
mod divide;
mod error;
mod expose;
mod facing;
mod fill;
mod frame;
mod holes;
mod improve;
mod kind;
mod moved;
mod nearest;
mod order;
mod place;
mod polyline;
mod prepare;
mod scanline;
mod thin;
mod walls;

pub use angle::scan_angle_deg;
pub use error::ExposeError;
pub use expose::{Context, Exposed, Round, expose, expose_prepared};
pub use facing::{Facing, facing};
pub use fill::{Area, FillScratch, fill};
pub use frame::MIN_SPACING_NM;
pub use prepare::{Known, Prepared, prepare};
pub use scanline::{HatchScratch, hatch_lines};
pub use thin::ThinReport;
pub use walls::energy::{energy_factor, energy_steps};
pub use walls::melt::Melt;
