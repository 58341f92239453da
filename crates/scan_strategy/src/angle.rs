//! The scan angle of a layer.

use job::recipe::{Hatch, HatchPass, Pattern};

/// Scan angle of `layer`, degrees from +X in 0 … 360: the angle of layer 0, rotated from layer to
/// layer, kept out of the forbidden window.
///
/// The window lies around the spreading direction and its opposite, since lines run along it
/// either way; where every other cell is hatched a quarter turn on, also around the directions at
/// right angles, so that neither of the two runs along it. An angle inside is moved to the nearer
/// end of the window; one exactly in the middle counter-clockwise. A rotation of 67° per layer
/// repeats after 360 layers, because 67 and 360 share no factor.
pub fn scan_angle_deg(hatch: &Hatch, layer: u32, spreading_direction_deg: f64) -> f64 {
    let angle = hatch.angle_deg + f64::from(layer) * hatch.rotation_per_layer_deg;
    kept_out(hatch, angle, spreading_direction_deg)
}

/// Scan angle of a pass in `layer`, degrees: that of the first pass, rotated as the pass is, and kept out of
/// the forbidden window likewise.
pub(crate) fn pass_angle_deg(
    hatch: &Hatch,
    pass: &HatchPass,
    layer: u32,
    spreading_direction_deg: f64,
) -> f64 {
    let first = scan_angle_deg(hatch, layer, spreading_direction_deg);
    // exactly the lines of the first, not but for rounding
    if pass.rotated_by_deg == 0.0 {
        return first;
    }
    kept_out(hatch, first + pass.rotated_by_deg, spreading_direction_deg)
}

/// The allowed angle nearest to an angle, degrees in 0 … 360.
fn kept_out(hatch: &Hatch, angle_deg: f64, spreading_direction_deg: f64) -> f64 {
    /// What is nearer to the middle of the window than this lies in it, but for rounding.
    const MIDDLE_DEG: f64 = 1e-9;
    let angle = angle_deg.rem_euclid(360.0);
    let Some(window) = hatch.forbidden else { return angle };
    // From one direction to be kept off to the next.
    let period = match hatch.pattern {
        Pattern::Lines | Pattern::Stripes { .. } => 180.0,
        Pattern::Cells { .. } => 90.0,
    };
    let within = window.within_deg.clamp(0.0, period / 2.0);
    let mut past = (angle - spreading_direction_deg).rem_euclid(period);
    if past > period - MIDDLE_DEG {
        past -= period;
    }
    let allowed = if past < within {
        angle + (within - past)
    } else if past > period - within {
        angle - (past - (period - within))
    } else {
        angle
    };
    allowed.rem_euclid(360.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use job::recipe::{CellOrder, ForbiddenAngles, Travel};

    fn hatch(angle_deg: f64, rotation_per_layer_deg: f64, within_deg: Option<f64>) -> Hatch {
        Hatch {
            spacing_mm: 0.2,
            gap_mm: 0.1,
            angle_deg,
            rotation_per_layer_deg,
            forbidden: within_deg.map(|within_deg| ForbiddenAngles { within_deg }),
            travel: Travel::Serpentine,
            pattern: Pattern::Lines,
            min_length_mm: 0.0,
            every_nth_layer: 1,
            exposures: vec!["hatch".to_owned()],
            further_passes: Vec::new(),
        }
    }

    /// Common practice, no source: 67° per layer.
    #[test]
    fn rotating_by_67_degrees_visits_every_whole_degree_once_in_360_layers() {
        let h = hatch(0.0, 67.0, None);
        let first: Vec<_> = (0..7).map(|layer| scan_angle_deg(&h, layer, 0.0)).collect();
        assert_eq!(first, [0.0, 67.0, 134.0, 201.0, 268.0, 335.0, 42.0]);
        let mut seen = [false; 360];
        for layer in 0..360 {
            let angle = scan_angle_deg(&h, layer, 0.0);
            assert!((angle - angle.round()).abs() < 1e-9);
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0..360")]
            let degree = angle.round() as usize;
            assert!(!std::mem::replace(&mut seen[degree], true), "{degree}° twice");
        }
    }

    #[test]
    fn angles_in_the_window_go_to_its_nearer_end() {
        for (angle, spreading, within, expected) in [
            (0.0, 0.0, 10.0, 10.0),     // exactly along: counter-clockwise
            (4.0, 0.0, 10.0, 10.0),     // just past
            (-4.0, 0.0, 10.0, 350.0),   // just before
            (176.0, 0.0, 10.0, 170.0),  // before the opposite direction
            (184.0, 0.0, 10.0, 190.0),  // past the opposite direction
            (10.0, 0.0, 10.0, 10.0),    // on the end: stays
            (45.0, 0.0, 10.0, 45.0),    // outside: stays
            (88.0, 90.0, 15.0, 75.0),   // turned spreading direction
            (271.0, 90.0, 15.0, 285.0), // its opposite
            (5.0, 355.0, 20.0, 15.0),   // across the turn of the circle
            (30.0, 0.0, 90.0, 90.0),    // widest window: only right angles are left
        ] {
            let found = scan_angle_deg(&hatch(angle, 0.0, Some(within)), 0, spreading);
            assert!((found - expected).abs() < 1e-9, "{angle} {spreading} {within}: {found}");
        }
    }

    #[test]
    fn no_layer_falls_into_the_window() {
        let h = hatch(12.3, 67.0, Some(25.0));
        for layer in 0..5000 {
            let past = (scan_angle_deg(&h, layer, 30.0) - 30.0).rem_euclid(180.0);
            assert!((25.0 - 1e-9..=155.0 + 1e-9).contains(&past), "{layer}");
        }
    }

    #[test]
    fn a_pass_is_rotated_from_the_first_as_it_runs_and_keeps_out_too() {
        let pass = |rotated_by_deg| HatchPass {
            exposure: "hatch".to_owned(),
            spacing_mm: 0.3,
            rotated_by_deg,
        };
        let h = hatch(4.0, 0.0, Some(10.0)); // runs at 10°
        for (rotated, expected) in [(0.0, 10.0), (90.0, 100.0), (-5.0, 10.0), (-15.0, 350.0)] {
            let found = pass_angle_deg(&h, &pass(rotated), 0, 0.0);
            assert!((found - expected).abs() < 1e-9, "{rotated}: {found}");
        }
    }

    /// How far two lines are apart, told from their unit vectors: asin of the cross product.
    #[test]
    fn neither_way_of_crossed_cells_falls_into_the_window() {
        let pattern = Pattern::Cells { size_mm: 5.0, overlap_mm: 0.1, order: CellOrder::RowByRow };
        for within in [0.0_f64, 25.0, 45.0] {
            let h = Hatch { pattern, ..hatch(12.3, 67.0, Some(within)) };
            for layer in 0..5000 {
                let angle = scan_angle_deg(&h, layer, 30.0);
                for way in [angle, angle + 90.0] {
                    let apart = (way - 30.0).to_radians().sin().abs().asin().to_degrees();
                    assert!(apart > within - 1e-6, "{layer}: {way}° is {apart}° off");
                }
                let moved = (angle - (12.3 + 67.0 * f64::from(layer)) + 180.0).rem_euclid(360.0);
                assert!((moved - 180.0).abs() < within + 1e-6, "{layer}: moved to {angle}°");
            }
        }
    }
}
