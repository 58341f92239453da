//! Narrow walls: lines along them instead of hatch across, with as much energy as the width asks
//! for.
//!
//! What a wall gets follows from its width ([`rules`]); centrelines are cut where that changes
//! ([`mod@stretches`]), with energies in steps of a tenth ([`energy`]), and go on towards the caps of their
//! walls ([`caps`]). Where walls are, and how wide, is known to [`Body`](crate::body::Body).

pub(crate) mod caps;
pub(crate) mod energy;
pub(crate) mod rules;
pub(crate) mod stretches;

/// What a Gaussian beam melts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Melt {
    /// Radius at which the intensity has fallen to 1/e², mm.
    pub beam_radius_mm: f64,
    /// Energy per area that melts one layer, J/mm².
    pub threshold_j_mm2: f64,
}

impl Melt {
    /// Dose on the axis of a long line, J/mm²: √(2/π)·E/w.
    pub(crate) fn peak_of_line(self, energy_j_mm: f64) -> f64 {
        std::f64::consts::FRAC_2_PI.sqrt() * energy_j_mm / self.beam_radius_mm
    }

    /// Width that a long line melts, mm: w·√(2·ln(peak/threshold)), 0 if the peak stays below it.
    pub(crate) fn width_of_line(self, energy_j_mm: f64) -> f64 {
        let ratio = self.peak_of_line(energy_j_mm) / self.threshold_j_mm2;
        self.beam_radius_mm * (2.0 * ratio.max(1.0).ln()).sqrt()
    }

    /// How far a line melts beyond its end, mm; negative if less than to its end. On the axis the dose at
    /// `x` before the end is peak·½·(1 + erf(√2·x/w)).
    pub(crate) fn reach_beyond_end(self, energy_j_mm: f64) -> f64 {
        let needed = self.threshold_j_mm2 / self.peak_of_line(energy_j_mm);
        let part_at =
            |x: f64| 0.5 * libm::erfc(-std::f64::consts::SQRT_2 * x / self.beam_radius_mm);
        let (mut low, mut high) = (-3.0 * self.beam_radius_mm, 3.0 * self.beam_radius_mm);
        for _ in 0..40 {
            let middle = f64::midpoint(low, high);
            if part_at(middle) < needed { low = middle } else { high = middle }
        }
        -f64::midpoint(low, high)
    }

    /// Energy of the line that melts this width, J/mm.
    pub(crate) fn energy_for_width(self, width_mm: f64) -> f64 {
        let w = self.beam_radius_mm;
        let peak = self.threshold_j_mm2 * (width_mm * width_mm / (2.0 * w * w)).exp();
        peak * w / std::f64::consts::FRAC_2_PI.sqrt()
    }
}
