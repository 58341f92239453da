//! The machine: what one machine file describes.

mod field;

pub use field::{Correction, FieldCorrection, StepCorrection};

use crate::Invalid;
use crate::check::{Checker, above};
use serde::{Deserialize, Serialize};

/// The ranges of a machine's numbers, for its rules and for whoever offers them to be edited.
pub mod ranges {
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
    /// Most measured places: nobody builds as many coupons.
    pub const MOST_PLACES: usize = 1000;
}

/// A laser-sintering machine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Machine {
    /// Version of the schema that the file was written in; [`Machine::VERSION`] is written whatever it is.
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
    /// What was measured at places of the build space: how power and beam offsets are corrected there, and
    /// in between. Nothing is corrected when absent.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub field_corrections: Vec<FieldCorrection>,
}

impl Machine {
    /// Newest version of the machine file's schema, the one that is written.
    pub const VERSION: u32 = 3;

    /// Whether every value is in its range.
    ///
    /// # Errors
    /// All problems, in the order of the fields.
    pub fn validate(&self) -> Result<(), Vec<Invalid>> {
        let mut c = Checker::default();
        c.count("version", self.version, 1..=Self::VERSION);
        c.text("name", &self.name);
        c.numbers("build_space_mm", self.build_space_mm, &ranges::BUILD_SPACE_MM);
        c.number("spreading_direction_deg", self.spreading_direction_deg, ranges::ANGLE_DEG);
        c.number("recoat_time_s", self.recoat_time_s, ranges::RECOAT_TIME_S);
        c.number("laser.wavelength_nm", self.laser.wavelength_nm, ranges::WAVELENGTH_NM);
        c.number("laser.max_power_w", self.laser.max_power_w, above(0.0, ranges::MAX_POWER_W));
        c.number("laser.spot_radius_mm", self.laser.spot_radius_mm, ranges::SPOT_RADIUS_MM);
        let head = &self.scan_head;
        c.number(
            "scan_head.max_mark_speed_mm_s",
            head.max_mark_speed_mm_s,
            above(0.0, ranges::MAX_SPEED_MM_S),
        );
        c.number(
            "scan_head.jump_speed_mm_s",
            head.jump_speed_mm_s,
            above(0.0, ranges::MAX_SPEED_MM_S),
        );
        field::check(&mut c, &self.field_corrections, self.build_space_mm);
        c.finish()
    }

    /// What is corrected at a place, mm to the right and to the back of the centre of the platform.
    pub fn correction_at(&self, at_mm: [f64; 2]) -> Correction {
        Correction::between(&self.field_corrections, at_mm)
    }

    /// A power and a speed that an exposure asks for must be within the machine's limits.
    pub(crate) fn check_exposure(
        &self,
        c: &mut Checker,
        exposure: &str,
        power_w: Option<f64>,
        speed_mm_s: Option<f64>,
    ) {
        let (power_limit, speed_limit) =
            (self.laser.max_power_w, self.scan_head.max_mark_speed_mm_s);
        for (field, value, limit, unit) in [
            ("power_w", power_w, power_limit, "W"),
            ("speed_mm_s", speed_mm_s, speed_limit, "mm/s"),
        ] {
            if let Some(value) = value.filter(|value| *value > limit) {
                let value = format_args!("{value} (exposure {exposure:?})");
                let allowed = format_args!(
                    "at most {limit}, the most that machine {:?} allows, {unit}",
                    self.name
                );
                c.report(field, value, allowed);
            }
        }
    }
}

/// The laser source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Laser {
    /// Wavelength, nm.
    pub wavelength_nm: f64,
    /// Largest power at the bed that an exposure may ask for, W.
    pub max_power_w: f64,
    /// Radius of the beam at the bed where its intensity has fallen to 1/e² of that in the middle, mm:
    /// half the beam width D4σ of ISO 11146-1, if the beam is Gaussian.
    pub spot_radius_mm: f64,
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
