//! Laser energy per length, area and volume: what exposures can be compared by.
//!
//! Published magnitudes for dense polyamide 12: about 0.01 to 0.03 J/mm² (from memory of Caulfield
//! et al. 2007, J. Mater. Process. Technol. 182, 477) and [`PA12_WINDOW_J_MM3`]. Guidance to show, never a
//! limit.

/// Energy per volume that was published for dense parts of polyamide 12, J/mm³; see [`PA12_SOURCE`].
pub const PA12_WINDOW_J_MM3: [f64; 2] = [0.2, 0.4];
/// Where that stands, to follow the numbers in a sentence.
pub const PA12_SOURCE: &str =
    "for polyamide 12 by Wegner and Witt 2012, Physics Procedia 39, 480, cited from memory";

/// Energy per length of a mark, J/mm: `P / v`.
pub fn line_energy_j_mm(power_w: f64, speed_mm_s: f64) -> f64 {
    power_w / speed_mm_s
}

/// Energy per area of a hatch, J/mm²: `P / (v · h)`, after Nelson 1993 (doctoral thesis, University
/// of Texas at Austin).
pub fn area_energy_j_mm2(power_w: f64, speed_mm_s: f64, spacing_mm: f64) -> f64 {
    line_energy_j_mm(power_w, speed_mm_s) / spacing_mm
}

/// Energy per volume of a hatch, J/mm³: `P / (v · h · t)`, by the nominal layer thickness (source
/// as for [`area_energy_j_mm2`]).
pub fn volume_energy_j_mm3(
    power_w: f64,
    speed_mm_s: f64,
    spacing_mm: f64,
    layer_thickness_mm: f64,
) -> f64 {
    area_energy_j_mm2(power_w, speed_mm_s, spacing_mm) / layer_thickness_mm
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reference parameters P 30 W, v 5000 mm/s, h 0.2 mm, t 0.1 mm; formulas of Nelson 1993.
    #[test]
    fn reference_parameters_give_the_reference_energies() {
        assert!((line_energy_j_mm(30.0, 5000.0) - 0.006).abs() < 1e-12);
        assert!((area_energy_j_mm2(30.0, 5000.0, 0.2) - 0.03).abs() < 1e-12);
        assert!((volume_energy_j_mm3(30.0, 5000.0, 0.2, 0.1) - 0.3).abs() < 1e-12);
    }
}
