//! Measures of solids whose volume and area are known in closed form.
//!
//! Volumes and areas are those of elementary geometry; the volume formula Σ a·(b × c)/6 and
//! Euler's V − E + F = 2 − 2g likewise.

use crate::support::{assert_close, cube, report, revolved, sphere, torus};
use base::Affine;
use mesh::{Mesh, measures};
use std::f64::consts::PI;

/// A mesh with corners on a smooth surface is off by O(1/n²): halving the facets must divide the
/// error by 4, and extrapolating from both must leave next to nothing.
#[track_caller]
fn assert_converges(make: impl Fn(u32) -> Mesh, volume: f64, area: f64) {
    let [coarse, fine] = [96, 192].map(|n| measures(&make(n)));
    for (coarse, fine, exact) in
        [(coarse.volume_mm3, fine.volume_mm3, volume), (coarse.area_mm2, fine.area_mm2, area)]
    {
        let ratio = (coarse - exact) / (fine - exact);
        assert!((3.98..4.02).contains(&ratio), "errors shrink by {ratio}");
        assert_close((4.0 * fine - coarse) / 3.0, exact, 1e-5);
    }
}

#[test]
fn torus_and_sphere_converge_to_their_true_measures() {
    // R 20, r 5: 2π²Rr² and 4π²Rr.
    assert_converges(|n| torus(20.0, 5.0, n, n), 9_869.604_401, 3_947.841_760);
    // r 10: 4πr³/3 and 4πr².
    assert_converges(|n| sphere(10.0, n), 4_188.790_205, 1_256.637_061);
}

#[test]
fn a_faceted_cone_has_the_volume_of_its_pyramid() {
    // R 10, H 30 on a 71-gon of area 313.7493713 mm²; the round cone has 3141.592654 mm³ and its
    // lateral surface 993.4588266 mm².
    let solid = revolved(&[[0.0, 0.0], [10.0, 0.0], [0.0, 30.0]], 71);
    let m = measures(&solid);
    assert_close(m.volume_mm3, 313.749_371_3 * 30.0 / 3.0, 1e-9);
    assert_close(m.volume_mm3, 3_141.592_654, 1.4e-3);
    assert_close(m.area_mm2 - 313.749_371_3, 993.458_826_6, 1e-3);
    // The centre of mass of a cone lies at a quarter of its height.
    let centre = m.centre_of_mass_mm.unwrap();
    assert!(centre[0].abs() < 1e-12 && centre[1].abs() < 1e-12);
    assert_close(centre[2], 7.5, 1e-12);
    assert!(report(&solid).is_sound());
}

#[test]
fn a_cube_on_its_corner_keeps_its_measures_and_stands_a_root_three_high() {
    let on_corner = Affine::rotation_deg([0.0, 0.0, 45.0]);
    let tilt = Affine::rotation_deg([(2.0_f64.sqrt()).atan().to_degrees(), 0.0, 0.0]);
    let solid = crate::support::moved(&cube(10.0, [0.0; 3]), &(tilt * on_corner));
    let m = measures(&solid);
    assert_close(m.volume_mm3, 1000.0, 1e-12);
    assert_close(m.area_mm2, 600.0, 1e-12);
    let (lo, hi) = m.bounds_mm.unwrap();
    assert_close(hi[2] - lo[2], 17.320_508_08, 1e-9);
    assert!(report(&solid).is_sound());
}

#[test]
fn euler_tells_sphere_from_torus() {
    for (mesh, euler) in [(sphere(1.0, 24), 2), (torus(3.0, 1.0, 24, 12), 0)] {
        let report = report(&mesh);
        assert_eq!(report.shells.len(), 1);
        assert_eq!(report.shells[0].euler, euler);
    }
}

/// Slice by slice at constant height, a ring of n sectors is the difference of two regular n-gons,
/// n·sin(2π/n)/2·(R² − r²) instead of π·(R² − r²): so the volume is that of Pappus' theorem with
/// n·sin(2π/n) in the place of 2π.
#[test]
fn a_torus_of_flat_sectors_is_smaller_by_the_known_factor() {
    let (n, m) = (16, 12);
    let facets = f64::from(m) / 2.0 * (2.0 * PI / f64::from(m)).sin() * 25.0; // section, mm²
    let ring = f64::from(n) * (2.0 * PI / f64::from(n)).sin() * 20.0; // instead of 2π·R
    let volume = measures(&torus(20.0, 5.0, n, m)).volume_mm3;
    // The quads of a torus are planar trapezia, so the polyhedron is exactly this.
    assert_close(volume, facets * ring, 1e-12);
}
