//! Endless parallel lines at one spacing.

use std::f64::consts::{PI, SQRT_2};

use crate::beam::Beam;

/// Beyond this exponent a term adds less than the last digit of a double.
const NEGLIGIBLE_EXPONENT: f64 = 40.0;

/// Parallel lines, all with the same energy per length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hatch {
    /// Energy per length of each line, J/mm.
    pub energy_j_mm: f64,
    /// From line to line, mm.
    pub spacing_mm: f64,
}

impl Hatch {
    /// Mean dose, J/mm²: energy per length over spacing.
    pub fn mean(&self) -> f64 {
        self.energy_j_mm / self.spacing_mm
    }

    /// Dose far from all ends, J/mm², at a distance from the middle of a line.
    ///
    /// The sum over all lines as a Fourier series (Poisson's summation formula):
    /// mean·[1 + 2·Σ exp(−π²w²k²/(2h²))·cos(2πky/h)].
    pub fn dose(&self, beam: Beam, from_line_mm: f64) -> f64 {
        let phase = 2.0 * PI * from_line_mm / self.spacing_mm;
        let exponent = first_exponent(beam, self.spacing_mm);
        let waves = (1_u32..).map(f64::from);
        let sum: f64 = waves
            .take_while(|k| exponent * k * k < NEGLIGIBLE_EXPONENT)
            .map(|k| libm::exp(-exponent * k * k) * libm::cos(k * phase))
            .sum();
        self.mean() * (1.0 + 2.0 * sum)
    }

    /// Smallest and largest dose over the mean: between two lines, and on one.
    pub fn ripple(&self, beam: Beam) -> [f64; 2] {
        [0.5 * self.spacing_mm, 0.0].map(|y| self.dose(beam, y) / self.mean())
    }
}

/// Amplitude of the first harmonic over the mean: 2·exp(−π²w²/(2h²)).
pub fn first_harmonic(beam: Beam, spacing_mm: f64) -> f64 {
    2.0 * libm::exp(-first_exponent(beam, spacing_mm))
}

/// The widest spacing, mm, whose first harmonic stays within `amplitude` of the mean, for an
/// amplitude between 0 and 2: π·w/√(2·ln(2/amplitude)).
pub fn spacing_for_ripple(beam: Beam, amplitude: f64) -> f64 {
    PI * beam.radius_mm() / (SQRT_2 * libm::log(2.0 / amplitude).sqrt())
}

fn first_exponent(beam: Beam, spacing_mm: f64) -> f64 {
    let ratio = PI * beam.radius_mm() / spacing_mm;
    0.5 * ratio * ratio
}
