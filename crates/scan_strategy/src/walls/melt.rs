//! What the beam melts, as far as walls ask for it.

use estimate::Beam;

/// A beam and the energy that melts one layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Melt {
    /// The beam.
    pub beam: Beam,
    /// Energy per area that melts one layer, J/mm².
    pub threshold_j_mm2: f64,
}

impl Melt {
    /// Energy of the line that melts this width, J/mm.
    pub(crate) fn energy_for_width(self, width_mm: f64) -> f64 {
        self.beam.energy_for_width(width_mm, self.threshold_j_mm2)
    }

    /// Width that a long line melts, mm.
    pub(crate) fn width_of_line(self, energy_j_mm: f64) -> f64 {
        self.beam.width_of_line(energy_j_mm, self.threshold_j_mm2)
    }

    /// How far a line melts beyond its end, mm; negative if less than to its end. Dose on the axis falls
    /// across the end as it does across the straight edge of a field.
    pub(crate) fn reach_beyond_end(self, energy_j_mm: f64) -> f64 {
        let radius = self.beam.radius_mm();
        let peak = self.beam.peak_of_line(energy_j_mm);
        let (mut melted, mut not) = (-3.0 * radius, 3.0 * radius);
        for _ in 0..40 {
            let middle = f64::midpoint(melted, not);
            let is_melted = self.beam.dose_at_edge(peak, middle) >= self.threshold_j_mm2;
            *(if is_melted { &mut melted } else { &mut not }) = middle;
        }
        f64::midpoint(melted, not)
    }
}
