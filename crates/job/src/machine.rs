//! The machine: what one machine file describes.

pub mod ranges;

mod field;
mod head;

pub use field::{Correction, FieldCorrection, StepCorrection};
pub use head::{BuildTimes, Corners, Head, Lens, Servo};

use crate::Invalid;
use crate::check::{Checker, above};
use crate::recipe::ranges::RUN_MM;
use crate::recipe::{Exposure, Runs};
use serde::{Deserialize, Serialize};

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
    /// How fast the two mirrors may be asked to go.
    pub scan_head: ScanHead,
    /// How the mirrors move. Without it they are taken to be ideal: at the commanded speed at once.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub head: Option<Head>,
    /// What takes time in a build beside beam and recoating; nothing when absent.
    #[serde(default, skip_serializing_if = "BuildTimes::is_unknown")]
    pub times: BuildTimes,
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
        if let Some(head) = &self.head {
            c.within("head", |c| head.check(c));
        }
        c.within("times", |c| self.times.check(c));
        field::check(&mut c, &self.field_corrections, self.build_space_mm);
        c.finish()
    }

    /// What is corrected at a place, mm to the right and to the back of the centre of the platform.
    pub fn correction_at(&self, at_mm: [f64; 2]) -> Correction {
        Correction::between(&self.field_corrections, at_mm)
    }

    /// Run-ins can follow from the head only where there is one, and must have room.
    pub(crate) fn check_runs(&self, c: &mut Checker, exposure: &Exposure) {
        if exposure.runs == Runs::Typed {
            return;
        }
        let Some(head) = &self.head else {
            let allowed = format_args!(
                "Typed, since machine {:?} does not say how its head moves (exposure {:?})",
                self.name, exposure.name
            );
            return c.report("runs", "Auto", allowed);
        };
        let run_mm = head.run_in_mm(exposure.speed_mm_s);
        let most_mm = RUN_MM.end();
        if run_mm > *most_mm {
            let value = format_args!("{run_mm:.3} mm by the head (exposure {:?})", exposure.name);
            c.report("path_run_in_mm", value, format_args!("at most {most_mm}"));
        }
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

/// The scan head's limits; [`Head`] says how it moves.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScanHead {
    /// Fastest mark an exposure may ask for, mm/s at the bed.
    pub max_mark_speed_mm_s: f64,
    /// Speed of jumps, mm/s at the bed.
    pub jump_speed_mm_s: f64,
}
