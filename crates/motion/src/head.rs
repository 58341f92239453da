//! What the head can do.

/// How the mirrors of a scan head can move. All numbers are above 0, or 0 where they are times.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Head {
    /// Greatest acceleration of the spot along X and along Y, mm/s² at the bed.
    pub acceleration_mm_s2: [f64; 2],
    /// Greatest change of that acceleration, mm/s³ at the bed, if it is limited.
    pub jerk_mm_s3: Option<f64>,
    /// Time before a mark that begins at a standstill, s.
    pub settle_s: f64,
    /// What becomes of corners that cannot be taken at full speed.
    pub corners: Corners,
    /// How far the spot may be from a corner, mm.
    pub corner_tolerance_mm: f64,
}

/// What becomes of a corner between two marks that cannot be taken at full speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Corners {
    /// The beam slows down as far as the corner asks for, lit.
    SlowDown,
    /// The beam stops in the corner and waits, lit.
    Dwell {
        /// How long, s.
        wait_s: f64,
    },
    /// The beam runs past the corner, dark, and comes back along the next mark.
    RunPast,
}

impl Head {
    /// Acceleration along a direction of length 1, mm/s²: the axis with least to spare decides.
    pub fn acceleration_along(&self, direction: [f64; 2]) -> f64 {
        let [x, y] = [0, 1].map(|axis| self.acceleration_mm_s2[axis] / direction[axis].abs());
        x.min(y)
    }

    /// Acceleration that there is in every direction, mm/s².
    pub fn least_acceleration(&self) -> f64 {
        self.acceleration_mm_s2[0].min(self.acceleration_mm_s2[1])
    }

    /// How much longer two ramps take because of the jerk, s: a/j.
    pub fn jerk_s(&self) -> f64 {
        self.jerk_mm_s3.map_or(0.0, |jerk| self.least_acceleration() / jerk)
    }
}
