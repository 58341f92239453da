//! How the mirrors of the scan head move, and what else takes time in a build.

use super::ranges;
use crate::check::{Checker, above};
use serde::{Deserialize, Serialize};

/// The scan head in motion. `crates/motion/HEAD.md` says how to measure each number on one's own machine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Head {
    /// Greatest acceleration of the spot along X and along Y, mm/s² at the bed.
    pub acceleration_mm_s2: [f64; 2],
    /// Greatest change of that acceleration, mm/s³ at the bed; not limited when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub jerk_mm_s3: Option<f64>,
    /// How long the spot trembles after a fast move, until a mark may begin, µs.
    pub settle_us: f64,
    /// How far the spot stays behind what is commanded, as a time, µs: at a steady speed, distance over speed.
    pub lag_us: f64,
    /// How the spot follows what is commanded.
    pub servo: Servo,
    /// From the command until the light is on, µs.
    pub laser_on_delay_us: f64,
    /// From the command until the light is off, µs.
    pub laser_off_delay_us: f64,
    /// Shortest time for which the light can be on, µs; 0 if there is none.
    pub shortest_mark_us: f64,
    /// Longest time for which the light can be on at a stretch, µs; not limited when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub longest_mark_us: Option<f64>,
    /// What becomes of corners in a row of marks that cannot be taken at full speed.
    pub corners: Corners,
    /// How far the spot may cut a corner, or run over it, without anybody minding, µm.
    pub corner_tolerance_um: f64,
    /// How often the mirrors get a new position, Hz.
    pub command_rate_hz: f64,
    /// Bits of a position, over the whole field.
    pub command_bits: u32,
    /// From the axis of the second mirror down to the bed, mm.
    pub distance_mm: f64,
    /// From the axis of the first mirror to that of the second, mm.
    pub mirror_separation_mm: f64,
    /// What lies between the mirrors and the bed.
    pub lens: Lens,
    /// What the mirrors can reach along X and Y, mm; its middle is that of the platform.
    pub field_size_mm: [f64; 2],
}

/// How the spot follows what is commanded.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Servo {
    /// It creeps up: what is missing shrinks by the same share in every moment.
    FirstOrder,
    /// It swings in, like a mass on a spring with a damper.
    SecondOrder {
        /// Share of the damping with which it would just not run over: above 0; below 1 it runs over.
        damping: f64,
    },
}

/// What becomes of a corner between two marks that cannot be taken at full speed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Corners {
    /// The beam slows down as far as the corner asks for, light on.
    SlowDown,
    /// The beam stops in the corner and waits, light on.
    Dwell {
        /// How long it waits, µs.
        wait_us: f64,
    },
    /// The beam runs straight past the corner, light off, and comes back along the next mark.
    RunPast,
}

/// What lies between the mirrors and the bed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Lens {
    /// Nothing: the spot is in focus on a bowl, and the machine refocuses or lives with it.
    None,
    /// A lens that makes the field flat.
    FlatField,
}

impl Head {
    /// Round numbers to begin with, of the order that small heads have. From memory, no source: measure.
    pub const TO_BEGIN_WITH: Self = Self {
        acceleration_mm_s2: [1e7, 1e7],
        jerk_mm_s3: None,
        settle_us: 200.0,
        lag_us: 200.0,
        servo: Servo::FirstOrder,
        laser_on_delay_us: 200.0,
        laser_off_delay_us: 200.0,
        shortest_mark_us: 20.0,
        longest_mark_us: None,
        corners: Corners::SlowDown,
        corner_tolerance_um: 10.0,
        command_rate_hz: 100_000.0,
        command_bits: 16,
        distance_mm: 400.0,
        mirror_separation_mm: 20.0,
        lens: Lens::FlatField,
        field_size_mm: [300.0, 300.0],
    };

    /// Run-in or run-out that a speed needs in any direction, mm: v²/2a with the slower axis' acceleration, and
    /// what the beam covers while the mirrors settle.
    pub fn run_in_mm(&self, speed_mm_s: f64) -> f64 {
        let [x, y] = self.acceleration_mm_s2;
        speed_mm_s * speed_mm_s / (2.0 * x.min(y)) + speed_mm_s * self.settle_us / 1e6
    }

    pub(super) fn check(&self, c: &mut Checker) {
        let axes = ["acceleration_mm_s2[0]", "acceleration_mm_s2[1]"];
        for (field, value) in axes.into_iter().zip(self.acceleration_mm_s2) {
            c.number(field, value, ranges::ACCELERATION_MM_S2);
        }
        if let Some(jerk) = self.jerk_mm_s3 {
            c.number("jerk_mm_s3", jerk, ranges::JERK_MM_S3);
        }
        c.number("settle_us", self.settle_us, ranges::DELAY_US);
        c.number("lag_us", self.lag_us, ranges::DELAY_US);
        if let Servo::SecondOrder { damping } = self.servo {
            c.number("servo.damping", damping, ranges::DAMPING);
        }
        c.number("laser_on_delay_us", self.laser_on_delay_us, ranges::DELAY_US);
        c.number("laser_off_delay_us", self.laser_off_delay_us, ranges::DELAY_US);
        c.number("shortest_mark_us", self.shortest_mark_us, ranges::DELAY_US);
        if let Some(longest) = self.longest_mark_us {
            c.number("longest_mark_us", longest, above(self.shortest_mark_us, 1e9));
        }
        if let Corners::Dwell { wait_us } = self.corners {
            c.number("corners.wait_us", wait_us, ranges::DELAY_US);
        }
        c.number("corner_tolerance_um", self.corner_tolerance_um, ranges::CORNER_TOLERANCE_UM);
        c.number("command_rate_hz", self.command_rate_hz, ranges::COMMAND_RATE_HZ);
        c.count("command_bits", self.command_bits, ranges::COMMAND_BITS);
        c.number("distance_mm", self.distance_mm, ranges::DISTANCE_MM);
        c.number("mirror_separation_mm", self.mirror_separation_mm, ranges::MIRROR_SEPARATION_MM);
        let sides = ["field_size_mm[0]", "field_size_mm[1]"];
        for (field, value) in sides.into_iter().zip(self.field_size_mm) {
            c.number(field, value, ranges::BUILD_SPACE_MM);
        }
    }
}

/// What takes time in a build beside the beam and the recoating; 0 where it is not known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct BuildTimes {
    /// From the start until the first layer is exposed, s.
    pub warm_up_s: f64,
    /// Least time from one layer to the next, recoating included, s: the heat of the last one needs it.
    pub min_layer_s: f64,
    /// From the last layer until the part cake can be opened, s.
    pub cooling_s: f64,
}

impl BuildTimes {
    pub(super) fn is_unknown(&self) -> bool {
        *self == Self::default()
    }

    pub(super) fn check(&self, c: &mut Checker) {
        c.number("warm_up_s", self.warm_up_s, ranges::WARM_UP_S);
        c.number("min_layer_s", self.min_layer_s, ranges::RECOAT_TIME_S);
        c.number("cooling_s", self.cooling_s, ranges::COOLING_S);
    }
}
