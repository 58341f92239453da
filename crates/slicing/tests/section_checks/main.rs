//! Sections against known formulas, exact truth, properties, and broken meshes.

#![expect(clippy::unwrap_used, reason = "here a failed unwrap is a failed test")]

mod broken;
mod exact_truth;
mod properties;
mod shapes;
mod solids;
