//! The machine's head, as the motion of the beam takes it.

use crate::build::Build;
use job::Machine;
use job::machine::{Corners, Servo};
use motion::{Head, Timeline};
use scan_path::Layer;

/// µs in a second.
const US_PER_S: f64 = 1e6;
/// µm in a mm.
const UM_PER_MM: f64 = 1e3;

/// How the mirrors of a machine move; `None` where it does not say.
pub fn head(machine: &Machine) -> Option<Head> {
    let head = machine.head.as_ref()?;
    Some(Head {
        acceleration_mm_s2: head.acceleration_mm_s2,
        jerk_mm_s3: head.jerk_mm_s3,
        settle_s: head.settle_us / US_PER_S,
        corners: match head.corners {
            Corners::SlowDown => motion::Corners::SlowDown,
            Corners::Dwell { wait_us } => motion::Corners::Dwell { wait_s: wait_us / US_PER_S },
            Corners::RunPast => motion::Corners::RunPast,
        },
        corner_tolerance_mm: head.corner_tolerance_um / UM_PER_MM,
    })
}

/// How the spot follows what is commanded; `None` where the machine does not say it.
pub fn servo(machine: &Machine) -> Option<motion::servo::Servo> {
    let head = machine.head.as_ref()?;
    let lag_s = head.lag_us / US_PER_S;
    Some(match head.servo {
        Servo::FirstOrder => motion::servo::Servo::FirstOrder { lag_s },
        Servo::SecondOrder { damping } => motion::servo::Servo::SecondOrder { lag_s, damping },
    })
}

impl Build {
    /// A layer of this build in time, on the machine's head; at commanded speeds where the machine has none.
    pub fn timeline(&self, layer: &Layer) -> Timeline {
        Timeline::new(layer, &self.header, head(&self.loaded.machine).as_ref())
    }
}
