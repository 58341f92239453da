//! Angles of the mirrors against a ray that is traced.

use motion::geometry::{
    angles_rad, focus_excess_mm, growth, place_mm, slopes_mm, step_mm, stretch,
};

#[track_caller]
fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 1e-8 * wanted.abs().max(1.0), "{found} is not {wanted}");
}

/// Angles by ray tracing: the beam is reflected at two tilted planes, and nothing of the formulas is used.
fn traced([x, y]: [f64; 2], d: f64, e: f64) -> [f64; 2] {
    let reflect = |v: [f64; 3], n: [f64; 3]| {
        let dot = 2.0 * (v[0] * n[0] + v[1] * n[1] + v[2] * n[2]);
        [v[0] - dot * n[0], v[1] - dot * n[1], v[2] - dot * n[2]]
    };
    // In from +X; the first mirror (axis Z, the mechanical angle is half of the optical) sends it along -Y,
    // the second (axis X) down.
    let a = std::f64::consts::FRAC_PI_4 - x / 2.0;
    let first = reflect([-1.0, 0.0, 0.0], [a.cos(), -a.sin(), 0.0]);
    let from = [0.0, e, d];
    let to_second = e / -first[1]; // its axis lies at y = 0, parallel to X
    let on_second = [from[0] + to_second * first[0], 0.0, d];
    let b = std::f64::consts::FRAC_PI_4 - y / 2.0;
    let second = reflect(first, [0.0, b.cos(), -b.sin()]);
    let down = d / -second[2];
    [on_second[0] + down * second[0], on_second[1] + down * second[1]]
}

#[test]
fn places_are_those_of_a_ray_reflected_at_two_mirrors() {
    for angles in [[0.0, 0.0], [0.1, 0.0], [0.0, 0.2], [0.2273, 0.245], [-0.3, 0.1]] {
        let (found, wanted) = (place_mm(angles, 400.0, 20.0), traced(angles, 400.0, 20.0));
        for i in 0..2 {
            near(found[i].abs(), wanted[i].abs());
        }
        let back = angles_rad(found, 400.0, 20.0);
        near(back[0], angles[0]);
        near(back[1], angles[1]);
    }
}

#[test]
fn angles_and_steps_are_those_of_an_independent_ray_trace_in_python() {
    // d = 400 mm, e = 20 mm; worked out with numpy by reflecting a ray at two planes
    let [x, y] = angles_rad([100.0, 100.0], 400.0, 20.0).map(f64::to_degrees);
    near(x, 13.024_312_78);
    near(y, 14.036_243_47);
    let [x, y] = angles_rad([150.0, 150.0], 400.0, 20.0).map(f64::to_degrees);
    near(x, 18.542_495_89);
    near(y, 20.556_045_22);
    // 300 mm in 2¹⁶, 2¹⁸, 2²⁰ steps, by division
    for (bits, um) in [(16, 4.577_636_719), (18, 1.144_409_180), (20, 0.286_102_295)] {
        near(step_mm(300.0, bits) * 1000.0, um);
    }
}

/// Focus, incidence and resolution off the centre, d = 400 mm, e = 20 mm: worked out with numpy from the traced
/// ray, and the Jacobian by differences of it.
#[test]
fn off_the_centre_the_spot_is_out_of_focus_and_oblique() {
    for (at, excess, oblique) in [
        ([100.0, 100.0], 23.725_62, 1.057_994),
        ([150.0, 150.0], 51.686_34, 1.126_478),
        ([100.0, 0.0], 11.740_66, 1.027_954),
        ([0.0, 100.0], 12.310_56, 1.030_776),
    ] {
        let angles = angles_rad(at, 400.0, 20.0);
        assert!((focus_excess_mm(at, 400.0, 20.0) - excess).abs() < 1e-5, "{at:?}");
        assert!((stretch(angles) - oblique).abs() < 1e-6, "{at:?}");
    }
    let [x, y] = slopes_mm(angles_rad([100.0, 100.0], 400.0, 20.0), 400.0, 20.0);
    near(x, 455.442_081_6);
    near(y, 425.0);
    // 23.73 mm beside the focus of a CO2 laser's beam of 0.2 mm, z = 11.855 mm
    assert!((growth(23.73, 0.2, 0.0106) * 0.2 - 0.447_51).abs() < 1e-5);
}
