//! The machine: what one machine file describes.

use serde::{Deserialize, Serialize};

/// A laser-sintering machine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Machine {
    /// Version of this file's schema; see [`Machine::VERSION`].
    pub version: u32,
    /// What the person calls the machine.
    pub name: String,
    /// Where these numbers come from, cautions, anything worth keeping.
    #[serde(default)]
    pub notes: String,
    /// Size of the build space along X, Y and Z, mm; centred on the platform in X and Y.
    pub build_space_mm: [f64; 3],
    /// Direction in which the spreader travels over the bed, degrees from +X.
    pub spreading_direction_deg: f64,
    /// Time from the end of one layer's exposure to the start of the next, s.
    pub recoat_time_s: f64,
    /// The laser.
    pub laser: Laser,
    /// The two mirrors.
    pub scan_head: ScanHead,
}

/// The laser source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Laser {
    /// Wavelength, nm.
    pub wavelength_nm: f64,
    /// Largest power at the bed that an exposure may ask for, W.
    pub max_power_w: f64,
}

/// The scan head's limits. Its dynamics come with the time estimate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScanHead {
    /// Fastest mark an exposure may ask for, mm/s at the bed.
    pub max_mark_speed_mm_s: f64,
    /// Speed of jumps, mm/s at the bed.
    pub jump_speed_mm_s: f64,
}
