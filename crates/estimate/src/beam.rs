//! The Gaussian beam, and what one long line of it does.
//!
//! Sources: ISO 11146-1 for the width, Siegman, *Lasers*, for the intensity and the waist; doses follow
//! by integrating the intensity along the line. Here `w` is the radius at which the intensity has
//! fallen to 1/e² of the centre's.

use std::f64::consts::{FRAC_2_PI, LN_2, PI};

use crate::error::{EstimateError, positive};

/// The 90 % quantile of the normal distribution.
const NORMAL_90: f64 = 1.281_551_565_544_600_4;

/// A round Gaussian beam where it meets the powder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beam {
    radius_mm: f64,
}

impl Beam {
    /// A beam by its 1/e² radius, mm: half the second-moment width of ISO 11146-1.
    ///
    /// # Errors
    /// [`EstimateError::NotPositive`].
    pub fn new(radius_mm: f64) -> Result<Self, EstimateError> {
        positive("beam radius", radius_mm).map(|radius_mm| Self { radius_mm })
    }

    /// A beam by a radius that is known to be positive.
    pub(crate) fn of_radius(radius_mm: f64) -> Self {
        Self { radius_mm }
    }

    /// The 1/e² radius, mm.
    pub fn radius_mm(self) -> f64 {
        self.radius_mm
    }

    /// Second-moment diameter, mm: four standard deviations.
    pub fn diameter_mm(self) -> f64 {
        2.0 * self.radius_mm
    }

    /// Full width at half the intensity, mm: w·√(2 ln 2).
    pub fn width_at_half_mm(self) -> f64 {
        self.radius_mm * (2.0 * LN_2).sqrt()
    }

    /// Intensity at a distance from the centre, W/mm²: 2P/(πw²)·exp(−2r²/w²).
    pub fn intensity_w_mm2(self, power_w: f64, distance_mm: f64) -> f64 {
        let w = self.radius_mm;
        2.0 * power_w / (PI * w * w) * self.falloff(distance_mm)
    }

    /// Share of the power within a distance from the centre: 1 − exp(−2r²/w²).
    pub fn share_within(self, distance_mm: f64) -> f64 {
        let r = distance_mm / self.radius_mm;
        -libm::expm1(-2.0 * r * r)
    }

    /// Dose in the middle of a long line, J/mm²: √(2/π)·E/w, for E in J/mm.
    pub fn peak_of_line(self, energy_j_mm: f64) -> f64 {
        FRAC_2_PI.sqrt() * energy_j_mm / self.radius_mm
    }

    /// Dose beside a long line, J/mm², at a distance from its middle.
    pub fn dose_of_line(self, energy_j_mm: f64, distance_mm: f64) -> f64 {
        self.peak_of_line(energy_j_mm) * self.falloff(distance_mm)
    }

    /// Width over which a long line reaches a threshold (J/mm²), mm: w·√(2·ln(peak/threshold)), and
    /// zero where it nowhere does.
    pub fn width_of_line(self, energy_j_mm: f64, threshold_j_mm2: f64) -> f64 {
        let ratio = self.peak_of_line(energy_j_mm) / threshold_j_mm2;
        if ratio > 1.0 { self.radius_mm * (2.0 * libm::log(ratio)).sqrt() } else { 0.0 }
    }

    /// Energy per length with which a long line is that wide, J/mm; the inverse of
    /// [`Self::width_of_line`]. For width 0 it is what the line needs to melt at all.
    pub fn energy_for_width(self, width_mm: f64, threshold_j_mm2: f64) -> f64 {
        let w = width_mm / self.radius_mm;
        threshold_j_mm2 * self.radius_mm / FRAC_2_PI.sqrt() * libm::exp(0.5 * w * w)
    }

    /// Dose of a half plane of even energy, J/mm², at a distance outside its edge (negative:
    /// inside): ½·mean·erfc(√2·y/w).
    pub fn dose_at_edge(self, mean_j_mm2: f64, outside_mm: f64) -> f64 {
        0.5 * mean_j_mm2 * libm::erfc(std::f64::consts::SQRT_2 * outside_mm / self.radius_mm)
    }

    /// Distance over which the dose at such an edge rises from 10 to 90 %, mm.
    pub fn edge_width_mm(self) -> f64 {
        NORMAL_90 * self.radius_mm
    }

    /// The beam at a distance from its waist, which is this beam: w·√(1 + (distance/range)²), with the
    /// range from [`Self::rayleigh_range_mm`].
    #[must_use]
    pub fn out_of_focus(self, distance_mm: f64, rayleigh_range_mm: f64) -> Self {
        Self { radius_mm: self.radius_mm * 1.0_f64.hypot(distance_mm / rayleigh_range_mm) }
    }

    /// Distance from the waist at which the spot's area has doubled, mm: πw²/(M²λ). The beam quality
    /// M² of ISO 11146-1 is 1 for an ideal beam, else larger.
    pub fn rayleigh_range_mm(self, wavelength_nm: f64, beam_quality: f64) -> f64 {
        PI * self.radius_mm * self.radius_mm / (beam_quality * wavelength_nm * 1e-6)
    }

    /// Beam and threshold (J/mm²) that measured widths of single lines tell, from pairs of energy
    /// per length (J/mm) and width (mm).
    ///
    /// W² = 2w²·ln E + constant: a straight line by least squares, its slope gives w, its root the
    /// threshold (J. M. Liu, Opt. Lett. 7, 196, 1982, did so for craters of pulses). `None` for fewer
    /// than two different energies, or widths that do not grow with them.
    pub fn from_line_widths(lines: &[(f64, f64)]) -> Option<(Self, f64)> {
        let n = lines.len() as f64;
        let points = || lines.iter().map(|&(energy, width)| (libm::log(energy), width * width));
        let mean_x = points().map(|(x, _)| x).sum::<f64>() / n;
        let mean_y = points().map(|(_, y)| y).sum::<f64>() / n;
        let xy: f64 = points().map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
        let xx: f64 = points().map(|(x, _)| (x - mean_x) * (x - mean_x)).sum();
        let slope = xy / xx; // not a number for fewer than two energies, which `new` refuses
        let beam = Self::new((0.5 * slope).sqrt()).ok()?;
        let least_energy = libm::exp(mean_x - mean_y / slope);
        Some((beam, beam.peak_of_line(least_energy)))
    }

    /// exp(−2r²/w²).
    fn falloff(self, distance_mm: f64) -> f64 {
        let r = distance_mm / self.radius_mm;
        libm::exp(-2.0 * r * r)
    }
}
