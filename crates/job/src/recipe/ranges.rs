//! The ranges of a recipe's numbers, for the rules and for whoever offers numbers to be edited.
//!
//! They are wide: they keep out slips and values that would not compute, and do not tell good
//! settings from bad ones.

use crate::check::above;
pub use crate::machine::ranges::{MAX_POWER_W, MAX_SPEED_MM_S};
use std::ops::{Bound, RangeInclusive};

/// Height of one spread of powder, mm.
pub const LAYER_THICKNESS_MM: RangeInclusive<f64> = 0.01..=1.0;
/// Shrinkage along an axis, percent.
pub const SHRINKAGE_PERCENT: RangeInclusive<f64> = -10.0..=20.0;
/// How far the melt reaches below, mm.
pub const Z_GROWTH_MM: RangeInclusive<f64> = 0.0..=2.0;
/// Beam offset, at outer boundaries or those of holes, mm.
pub const BEAM_OFFSET_MM: RangeInclusive<f64> = 0.0..=2.0;
/// How much deeper than the outermost contour a further pass lies, mm.
pub const DEEPER_MM: RangeInclusive<f64> = -2.0..=2.0;
/// Temperature of the powder bed, °C.
pub const BED_TEMPERATURE_C: RangeInclusive<f64> = 0.0..=400.0;
/// Temperature at which the powder melts, °C.
pub const MELTING_TEMPERATURE_C: RangeInclusive<f64> = 1.0..=500.0;
/// Specific heat capacity, J/(g·K). That of water is 4.2, of glass and minerals 0.8.
pub const HEAT_CAPACITY_J_G_K: RangeInclusive<f64> = 0.1..=10.0;
/// Heat of melting, J/g.
pub const LATENT_HEAT_J_G: RangeInclusive<f64> = 0.0..=500.0;
/// Densities of powder bed and part, g/cm³.
pub const DENSITY_G_CM3: RangeInclusive<f64> = 0.05..=10.0;
/// Share of the laser's power that the powder keeps.
pub const ABSORBED_FRACTION: RangeInclusive<f64> = 0.01..=1.0;
/// Largest distance of a chord from its arc, µm.
pub const CHORD_TOLERANCE_UM: RangeInclusive<f64> = 0.1..=100.0;
/// Largest reach of a mitred corner as a multiple of the offset.
pub const MITRE_LIMIT: RangeInclusive<f64> = 1.0..=10.0;
/// Distances of neighbouring lines, mm. Finer ones would fill memory with lines, not the part
/// with energy.
pub const SPACING_MM: RangeInclusive<f64> = 0.01..=10.0;
/// Distance from contour to hatch, mm.
pub const GAP_MM: RangeInclusive<f64> = 0.0..=10.0;
/// Directions, and rotations from layer to layer, degrees.
pub const ANGLE_DEG: RangeInclusive<f64> = -360.0..=360.0;
/// How far crossed cells can keep off the spreading direction, degrees: beyond, wherever one of their two
/// directions keeps out, the other falls in.
pub const CROSSED_WITHIN_DEG: RangeInclusive<f64> = 0.0..=45.0;
/// Times after which a spot may be heated again, ms.
pub const RETURN_MS: RangeInclusive<f64> = 0.0..=60_000.0;
/// Lengths below which something is left out, mm.
pub const SHORTEST_MM: RangeInclusive<f64> = 0.0..=100.0;
/// Limits of shapes: openings, walls and gaps, mm.
pub const SHAPE_LIMIT_MM: RangeInclusive<f64> = 0.0..=20.0;
/// Run-in and run-out of a path, mm.
pub const RUN_MM: RangeInclusive<f64> = 0.0..=50.0;
/// Widths of stripes and sizes of cells, mm.
pub const TILE_MM: RangeInclusive<f64> = 0.5..=1000.0;
/// Layers within which a region faces the powder.
pub const FACING_LAYERS: RangeInclusive<u32> = 1..=100;
/// Number of contours.
pub const CONTOURS: RangeInclusive<u32> = 1..=100;
/// Every how many layers a region is filled.
pub const EVERY_NTH_LAYER: RangeInclusive<u32> = 1..=100;

/// Power of an exposure, W: above 0.
pub(crate) fn power_w() -> (Bound<f64>, Bound<f64>) {
    above(0.0, MAX_POWER_W)
}

/// Speed of an exposure, mm/s: above 0.
pub(crate) fn speed_mm_s() -> (Bound<f64>, Bound<f64>) {
    above(0.0, MAX_SPEED_MM_S)
}
