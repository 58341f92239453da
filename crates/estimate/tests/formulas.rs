//! The closed forms against the worked values of facts.md, sections B.1, C and G2.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use estimate::offset::{Profile, lone_contour, with_hatch};
use estimate::powder::Constituent;
use estimate::{Beam, EstimateError, Hatch, Powder, hatch};

const POWER: f64 = 30.0;
const SPEED: f64 = 5000.0;
const ENERGY: f64 = POWER / SPEED;
const SPACING: f64 = 0.2;
const LAYER: f64 = 0.1;
/// facts.md C8.
const THRESHOLD: f64 = 0.006_476_625;

fn beam() -> Beam {
    Beam::new(0.25).unwrap()
}

fn pa12() -> Powder {
    Powder {
        bed_temperature_c: 170.0,
        melting_temperature_c: 187.0,
        heat_capacity_j_g_k: 2.5,
        latent_heat_j_g: 100.0,
        bed_density_g_cm3: 1.01 * 0.45,
        part_density_g_cm3: 0.95,
        absorbed_fraction: 1.0,
    }
}

#[track_caller]
fn close(found: f64, expected: f64, relative: f64) {
    let error = (found - expected).abs() / expected.abs();
    assert!(error <= relative, "{found} instead of {expected}: {error:e}");
}

#[test]
fn c1_to_c3_and_c10_the_beam() {
    let beam = beam();
    close(beam.intensity_w_mm2(POWER, 0.0), 305.577_490_7, 1e-9); // C1
    close(beam.intensity_w_mm2(POWER, 0.25), 305.577_490_7 * (-2.0_f64).exp(), 1e-9);
    close(beam.diameter_mm(), 0.5, 1e-12); // C2
    close(beam.width_at_half_mm(), 0.294_352_5, 1e-7);
    close(beam.intensity_w_mm2(POWER, 0.5 * beam.width_at_half_mm()), 305.577_490_7 / 2.0, 1e-9);
    for (radii, share) in
        [(0.5, 0.393_469_3), (1.0, 0.864_664_7), (1.5, 0.988_891_0), (2.0, 0.999_664_5)]
    {
        close(beam.share_within(radii * 0.25), share, 1.3e-7); // C3
    }
    close(beam.share_within(0.588_705_0 * 0.25), 0.5, 1e-6);
    close(beam.edge_width_mm(), 0.320_387_891_4, 1e-9); // C10
    let at = |y| beam.dose_at_edge(1.0, y);
    let half = 0.5 * beam.edge_width_mm();
    close(at(half), 0.1, 1e-9);
    close(at(-half), 0.9, 1e-9);
}

#[test]
fn c4_c7_and_c8_one_line() {
    let beam = beam();
    let peak = beam.peak_of_line(ENERGY);
    close(peak, 0.019_149_229_46, 1e-9); // C4
    close(beam.dose_of_line(ENERGY, 0.25), peak * (-2.0_f64).exp(), 1e-12);
    close(peak / Hatch { energy_j_mm: ENERGY, spacing_mm: SPACING }.mean(), 0.638_307_6, 1e-6); // C7
    close(peak / THRESHOLD, 2.956_668, 1e-6);
    let width = beam.width_of_line(ENERGY, THRESHOLD);
    close(width, 0.368_113_932_2, 1e-9); // C8
    close(beam.dose_of_line(ENERGY, 0.5 * width), THRESHOLD, 1e-12);
    close(beam.energy_for_width(width, THRESHOLD), ENERGY, 1e-12);
    assert_eq!(beam.width_of_line(10.0 / SPEED, THRESHOLD).to_bits(), 0, "C18: no melt at 10 W");
    close(beam.energy_for_width(0.0, THRESHOLD) * SPEED, 10.146_56, 1e-6); // C18
}

/// C6, and the table of ripples.
#[test]
fn c6_hatch_and_its_ripple() {
    let beam = beam();
    let mean = Hatch { energy_j_mm: ENERGY, spacing_mm: SPACING }.mean();
    close(mean, 0.03, 1e-12);
    let table = [
        (0.5, 1.000_000_005_4, 0.999_999_994_6, 5.350_576e-9, 1e-10),
        (0.8, 1.000_896_080, 0.999_103_920, 8.960_796e-4, 1e-9),
        (1.0, 1.014_383_772, 0.985_616_239, 0.014_383_77, 1e-9),
        (1.2, 1.064_974_233, 0.935_030_222, 0.064_972_01, 1e-9),
        (1.5, 1.223_417_968, 0.777_201_476, 0.223_108_2, 1e-9),
        (2.0, 1.596_839_763, 0.431_927_781, 0.582_425_9, 1e-9),
    ];
    for (ratio, most, least, first, tolerance) in table {
        let spacing_mm = ratio * 0.25;
        let hatch = Hatch { energy_j_mm: ENERGY, spacing_mm };
        close(hatch.mean() * spacing_mm / ENERGY, 1.0, 1e-12);
        let [low, high] = hatch.ripple(beam);
        close(high, most, tolerance);
        close(low, least, 1.5 * tolerance);
        close(hatch::first_harmonic(beam, spacing_mm), first, 1e-6);
        // The series against the plain sum of 121 lines, mid-way between line and gap.
        let y = 0.3 * spacing_mm;
        let lines = (-60..=60).map(|k| beam.dose_of_line(ENERGY, y - f64::from(k) * spacing_mm));
        close(hatch.dose(beam, y), lines.sum(), 1e-9);
    }
    for (amplitude, ratio) in [(0.01, 0.965_085_7), (0.05, 1.156_612), (0.1, 1.283_463)] {
        close(hatch::spacing_for_ripple(beam, amplitude) / 0.25, ratio, 1e-6);
    }
}

#[test]
fn c12_and_c13_the_edge_of_a_hatch() {
    let half_plane = Profile { beam: beam(), lines: Vec::new(), half_plane: Some((0.0, 0.03)) };
    let front = half_plane.melt_front(THRESHOLD).unwrap();
    close(front, 0.098_269_734_72, 1e-8); // C12: outside of the dose's edge
    let lines = (0..60).map(|k| (-(f64::from(k) + 0.5) * SPACING, ENERGY)).collect();
    let discrete = Profile { beam: beam(), lines, half_plane: None };
    let front = discrete.melt_front(THRESHOLD).unwrap();
    close(front, 0.086_198_47, 1e-7); // C13
    close(front + 0.5 * SPACING, 0.186_198_5, 1e-6);
}

#[test]
fn offsets_follow_from_the_lines_beside_them() {
    let beam = beam();
    let lone = lone_contour(beam, ENERGY, THRESHOLD).unwrap();
    close(lone, 0.184_057_0, 1e-6); // C8
    assert_eq!(lone_contour(beam, 10.0 / SPEED, THRESHOLD), None);
    // Nothing beside it, or far away: the lone line again.
    let offset =
        |contours: &[f64], mean, gap| with_hatch(beam, contours, SPACING, mean, gap, THRESHOLD);
    close(offset(&[ENERGY], 0.0, 0.1).unwrap(), lone, 1e-9);
    close(offset(&[ENERGY], 0.03, 3.0).unwrap(), lone, 1e-9);
    // Without contours: the edge of the hatch, C12.
    close(offset(&[], 0.03, 0.0).unwrap(), 0.098_269_734_72, 1e-8);
    close(offset(&[], 0.03, 0.5).unwrap(), 0.098_269_734_72 - 0.5, 1e-8);
    // The dose where it ends is the threshold, by the formulas alone.
    let end = offset(&[ENERGY, 0.5 * ENERGY], 0.03, 0.15).unwrap();
    assert!(end > lone, "{end}");
    let dose = beam.dose_of_line(ENERGY, end)
        + beam.dose_of_line(0.5 * ENERGY, end + SPACING)
        + beam.dose_at_edge(0.03, end + SPACING + 0.15);
    close(dose, THRESHOLD, 1e-9);
    assert_eq!(offset(&[0.1 * ENERGY], 0.0, 0.1), None);
}

#[test]
fn a_weak_contour_leaves_the_front_inside() {
    let front = with_hatch(beam(), &[0.01 * ENERGY], SPACING, 0.03, 1.0, THRESHOLD).unwrap();
    close(front, 0.098_269_734_72 - 1.0, 1e-6);
}

#[test]
fn c17_out_of_focus() {
    let cases =
        [(0.2, 10_600.0, 1.0, 11.855_07, 0.261_650_8), (0.1, 445.0, 10.0, 7.059_759, 0.173_390_1)];
    for (waist, wavelength_nm, quality, range, at_10) in cases {
        let waist = Beam::new(waist).unwrap();
        let found = waist.rayleigh_range_mm(wavelength_nm, quality);
        close(found, range, 1e-6);
        close(waist.out_of_focus(10.0, found).radius_mm(), at_10, 1e-6);
    }
}

#[test]
fn c18_widths_tell_beam_and_threshold() {
    let widths = [
        (15.0, 0.221_053_1),
        (20.0, 0.291_246_9),
        (25.0, 0.335_734_5),
        (30.0, 0.368_113_9),
        (40.0, 0.414_087_1),
    ];
    for (power, width) in widths {
        close(beam().width_of_line(power / SPEED, THRESHOLD), width, 1e-6);
    }
    let lines = widths.map(|(power, width)| (power / SPEED, width));
    let (found, threshold) = Beam::from_line_widths(&lines).unwrap();
    close(found.radius_mm(), 0.25, 1e-6);
    close(threshold, THRESHOLD, 1e-6);
    assert_eq!(Beam::from_line_widths(&lines[..1]), None);
    assert_eq!(Beam::from_line_widths(&[(0.003, 0.4), (0.006, 0.3)]), None);
}

#[test]
fn b1_melt_energies() {
    let powder = pa12();
    close(powder.melt_energy_j_g(), 142.5, 1e-12);
    close(powder.melt_energy_j_mm3(), 0.064_766_25, 1e-9);
    close(powder.threshold_nominal(LAYER), THRESHOLD, 1e-9);
    let area_energy = ENERGY / SPACING;
    close(area_energy / powder.threshold_nominal(LAYER), 4.632_042_152, 1e-9);
    close(area_energy / powder.threshold_steady(LAYER), 2.216_066_482, 1e-9);
    let darker = Powder { absorbed_fraction: 0.95, ..powder };
    close(area_energy / darker.threshold_nominal(LAYER), 4.400_440, 1e-6);
    for (packing, density, cp, kelvin, latent, energy) in
        [(0.43, 1.01, 2.3, 12.0, 90.0, 0.051_07), (0.50, 1.02, 2.65, 17.0, 110.0, 0.079_08)]
    {
        let powder = Powder {
            melting_temperature_c: 170.0 + kelvin,
            heat_capacity_j_g_k: cp,
            latent_heat_j_g: latent,
            bed_density_g_cm3: density * packing,
            ..powder
        };
        close(powder.melt_energy_j_mm3(), energy, 1e-4);
    }
}

#[test]
fn b1_glass_filled_by_the_mixing_rule() {
    let constituent = |mass_share, density_g_cm3, heat_capacity_j_g_k, latent_heat_j_g| {
        Constituent { mass_share, density_g_cm3, heat_capacity_j_g_k, latent_heat_j_g }
    };
    let mixed =
        Constituent::mixed(&[constituent(0.6, 1.01, 2.5, 100.0), constituent(0.4, 2.5, 0.8, 0.0)]);
    close(mixed.density_g_cm3, 1.326_155_462, 1e-9);
    let powder = Powder {
        heat_capacity_j_g_k: mixed.heat_capacity_j_g_k,
        latent_heat_j_g: mixed.latent_heat_j_g,
        bed_density_g_cm3: mixed.density_g_cm3 * 0.5,
        ..pa12()
    };
    close(powder.melt_energy_j_g(), 90.94, 1e-9);
    close(powder.melt_energy_j_mm3(), 0.060_300_29, 1e-7);
}

#[test]
fn g2_powder_depths() {
    let powder = pa12();
    assert!(powder.powder_depth(0, LAYER).abs() < 1e-15);
    let depths = [0.1, 0.152_16, 0.179_36, 0.193_55, 0.200_95];
    for (n, depth) in (1..).zip(depths) {
        close(powder.powder_depth(n, LAYER), depth, 4e-5);
    }
    close(powder.powder_depth(1000, LAYER), 0.209_020_902_1, 1e-9);
    close(
        powder.threshold_steady(LAYER),
        powder.melt_energy_j_mm3() * powder.powder_depth(1000, LAYER),
        1e-9,
    );
}

#[test]
fn a_beam_has_a_positive_radius() {
    for bad in [0.0, -0.1, f64::NAN, f64::INFINITY] {
        let refused = Beam::new(bad);
        assert!(matches!(refused, Err(EstimateError::NotPositive { .. })), "{bad}: {refused:?}");
    }
}
