//! What the dose is made of, and which stretch of the plane is to be seen.

use super::error::DoseError;
use crate::plan::PlanView;

/// One straight move of the beam with the laser on, at constant speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DoseStroke {
    /// Where it starts, nm.
    pub from_nm: [i32; 2],
    /// Where it ends, nm. A stroke without length leaves no dose.
    pub to_nm: [i32; 2],
    /// Energy per length, J/mm: the laser's power over the speed.
    pub energy_j_mm: f32,
}

/// A picture to be made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DoseFrame {
    /// Where and how large.
    pub view: PlanView,
    /// Size of the picture, px; less than one counts as one.
    pub size_px: [u32; 2],
    /// Radius of the beam at which its intensity falls to 1/e² of the middle's, mm.
    pub beam_radius_mm: f64,
}

/// Largest radius, mm: a beam as wide as the largest build space.
const MOST_RADIUS_MM: f64 = 1000.0;
/// Smallest radius that is drawn, px. The dose of a line is a Gaussian of σ = radius / 2, so a
/// pixel is σ at most: what is finer than two pixels then holds less than exp(-π²/2) = 0.7 % of
/// the amplitude, and points sampled at pixels show all there is.
const LEAST_RADIUS_PX: f64 = 2.0;

impl DoseFrame {
    /// The beam radius that is drawn, mm: the beam's own, but at least two pixels.
    ///
    /// Where it is larger than the beam's own, a pixel holds the average of the dose around it,
    /// weighted by a Gaussian of radius √(drawn² - own²). That is exact, too: a Gaussian beam
    /// averaged by a Gaussian is a wider Gaussian beam of the same energy.
    pub fn drawn_radius_mm(&self) -> f64 {
        self.beam_radius_mm.max(LEAST_RADIUS_PX / self.view.limited().px_per_mm)
    }

    /// Whether pixels hold averages instead of the dose at their centres.
    pub fn is_averaged(&self) -> bool {
        self.drawn_radius_mm() > self.beam_radius_mm
    }

    /// The same with numbers that can be drawn.
    pub(super) fn checked(mut self) -> Result<Self, DoseError> {
        let radius_mm = self.beam_radius_mm;
        if !(radius_mm > 0.0 && radius_mm <= MOST_RADIUS_MM) {
            return Err(DoseError::Radius { radius_mm, most: MOST_RADIUS_MM });
        }
        self.view = self.view.limited();
        self.size_px = self.size_px.map(|size| size.max(1));
        Ok(self)
    }
}
