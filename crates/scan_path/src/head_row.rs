//! How the head of the machine moves, and what else takes time: for controllers, and for whoever works out times.

use serde::{Deserialize, Serialize};

/// What takes time in a build beside the beam. All in seconds, 0 where nothing does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TimesRow {
    /// From the end of a layer's exposure to the start of the next one's.
    pub recoat_s: f64,
    /// From the start of the build to the first layer.
    pub warm_up_s: f64,
    /// Least time from layer to layer, recoating included.
    pub min_layer_s: f64,
    /// From the last layer until the part cake may be opened.
    pub cooling_s: f64,
}

/// How the head moves, as the machine's file says it. Lengths are at the bed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct HeadRow {
    /// Greatest acceleration along X and Y, mm/s².
    pub acceleration_mm_s2: [f64; 2],
    /// Greatest change of it, mm/s³; not limited when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub jerk_mm_s3: Option<f64>,
    /// How long the spot trembles after a jump, µs.
    pub settle_us: f64,
    /// How far the spot stays behind the command, µs.
    pub lag_us: f64,
    /// From the command until the light is on, and off, µs.
    pub laser_on_delay_us: f64,
    /// See [`Self::laser_on_delay_us`].
    pub laser_off_delay_us: f64,
    /// How often the mirrors get a new position, Hz.
    pub command_rate_hz: f64,
    /// Bits of a position, over the whole field.
    pub command_bits: u32,
    /// From the axis of the second mirror down to the bed, mm.
    pub distance_mm: f64,
    /// From the axis of the first mirror, which moves the spot along X, to that of the second, mm.
    pub mirror_separation_mm: f64,
    /// Whether a lens makes positions at the bed proportional to angles.
    pub has_flat_field_lens: bool,
    /// What the mirrors reach along X and Y, mm; its middle is that of the platform.
    pub field_size_mm: [f64; 2],
}

impl HeadRow {
    /// Whether every number can be what it says.
    pub(crate) fn is_valid(&self) -> bool {
        let positive = |x: f64| x.is_finite() && x > 0.0;
        let not_negative = |x: f64| x.is_finite() && x >= 0.0;
        let delays = [self.settle_us, self.lag_us, self.laser_on_delay_us, self.laser_off_delay_us];
        let sizes = [self.distance_mm, self.command_rate_hz];
        let by_axis = self.acceleration_mm_s2.into_iter().chain(self.field_size_mm);
        sizes.into_iter().chain(by_axis).chain(self.jerk_mm_s3).all(positive)
            && delays.into_iter().chain([self.mirror_separation_mm]).all(not_negative)
            && (1..=32).contains(&self.command_bits)
    }
}

impl TimesRow {
    /// Whether every number can be a time.
    pub(crate) fn is_valid(&self) -> bool {
        [self.recoat_s, self.warm_up_s, self.min_layer_s, self.cooling_s]
            .into_iter()
            .all(|s| s.is_finite() && s >= 0.0)
    }
}
