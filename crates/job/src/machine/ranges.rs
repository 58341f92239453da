//! The ranges of a machine's numbers, for its rules and for whoever offers them to be edited.

use std::ops::RangeInclusive;

/// Edges of the build space, mm: parts lie within ±1073 mm of its centre, where the grid ends.
pub const BUILD_SPACE_MM: RangeInclusive<f64> = 10.0..=2000.0;
/// Directions, degrees.
pub const ANGLE_DEG: RangeInclusive<f64> = -360.0..=360.0;
/// Time between two layers, s.
pub const RECOAT_TIME_S: RangeInclusive<f64> = 0.0..=3600.0;
/// Wavelength, nm.
pub const WAVELENGTH_NM: RangeInclusive<f64> = 100.0..=20_000.0;
/// Most power at the bed, W; it must be above 0.
pub const MAX_POWER_W: f64 = 1000.0;
/// Radius of the beam at the bed, mm.
pub const SPOT_RADIUS_MM: RangeInclusive<f64> = 0.01..=2.0;
/// Fastest mark or jump, mm/s; it must be above 0.
pub const MAX_SPEED_MM_S: f64 = 100_000.0;
/// How many times its power an exposure may get at a measured place.
pub const POWER_FACTOR: RangeInclusive<f64> = 0.5..=2.0;
/// What beam offsets may get on top at a measured place, mm.
pub const OFFSET_CHANGE_MM: RangeInclusive<f64> = -0.5..=0.5;
/// Acceleration of the spot along an axis, mm/s² at the bed.
pub const ACCELERATION_MM_S2: RangeInclusive<f64> = 1e3..=1e10;
/// Change of acceleration, mm/s³ at the bed.
pub const JERK_MM_S3: RangeInclusive<f64> = 1e6..=1e15;
/// Lag, settling, delays of the laser, waits in corners and the shortest mark, µs.
pub const DELAY_US: RangeInclusive<f64> = 0.0..=100_000.0;
/// Damping of a mirror's servo, as a share of the critical one.
pub const DAMPING: RangeInclusive<f64> = 0.05..=5.0;
/// How far the spot may cut a corner, µm.
pub const CORNER_TOLERANCE_UM: RangeInclusive<f64> = 0.1..=1000.0;
/// How often the mirrors get a new position, Hz.
pub const COMMAND_RATE_HZ: RangeInclusive<f64> = 100.0..=10_000_000.0;
/// Bits of a position.
pub const COMMAND_BITS: RangeInclusive<u32> = 8..=32;
/// From the second mirror to the bed, mm.
pub const DISTANCE_MM: RangeInclusive<f64> = 10.0..=5000.0;
/// From mirror to mirror, mm.
pub const MIRROR_SEPARATION_MM: RangeInclusive<f64> = 0.0..=500.0;
/// Warming up, s.
pub const WARM_UP_S: RangeInclusive<f64> = 0.0..=86_400.0;
/// Cooling, s.
pub const COOLING_S: RangeInclusive<f64> = 0.0..=604_800.0;
/// Most measured places: nobody builds as many coupons.
pub const MOST_PLACES: usize = 1000;
