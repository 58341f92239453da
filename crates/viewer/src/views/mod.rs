//! The four drawings on the sheet.
//!
//! Each reads the model and returns actions; what it keeps for itself is only how it looks at
//! things (zoom, direction, toggles).

mod chamber;
mod dimensions;
mod elevation;
pub(crate) mod numbers;
mod plan;
mod trace;
pub(crate) mod traveller;

pub(crate) use chamber::{ChamberView, Prepared, palette, rgba};
pub(crate) use elevation::ElevationView;
pub(crate) use plan::PlanView;
pub(crate) use trace::TraceView;
