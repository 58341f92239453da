//! Sections of solids with known formulas (elementary geometry; names as in common reference works
//! of mathematics).

use crate::shapes::{ball, cuboid, placed, region_at, section_at, spaced, stack, torus};
use base::Affine;
use region::Region;
use slicing::{Scratch, Slicer};
use std::f64::consts::PI;

/// Area of a regular `n`-gon over that of its circumscribed circle.
fn polygon_share(n: u32) -> f64 {
    let angle = 2.0 * PI / f64::from(n);
    angle.sin() / angle
}

#[track_caller]
fn assert_near(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value} instead of {expected} ± {tolerance}");
}

/// Rounding to the grid moves a point by at most 0.71 nm, so an area by less than 1 nm times the
/// perimeter.
fn rounding(perimeter_mm: f64) -> f64 {
    1e-6 * perimeter_mm
}

/// Σ area · thickness over all layers, mm³.
fn summed(slicer: &Slicer) -> f64 {
    let mut scratch = Scratch::default();
    slicer
        .layers()
        .map(|layer| {
            let section = slicer.section(layer, &mut scratch);
            assert!(section.exact);
            section.rings.area_mm2() * 0.1
        })
        .sum()
}

/// Area π(r² − z²); levels of vertices lie in the planes, so the sections are regular polygons.
#[test]
fn ball_area() {
    let n = 720;
    let solid = ball(10.0, &[-10.0, -8.0, 0.0, 6.0, 9.95, 10.0], n);
    for (z, area) in [(6.0, 201.061_929_8), (9.95, 3.133_738_672)] {
        let section = section_at(&solid, z);
        assert!(section.exact);
        assert_eq!(section.rings.ring_count(), 1);
        let expected = area * polygon_share(n);
        assert_near(section.rings.area_mm2(), expected, rounding(section.rings.perimeter_mm()));
    }
}

/// Area 4πR√(r² − z²); total length of contours 4πR at every height.
#[test]
fn torus_area_and_the_length_of_its_contours() {
    let n = 360;
    let torus = torus(20.0, 5.0, n, 360);
    let side_share = (PI / f64::from(n)).sin() / (PI / f64::from(n));
    for z in [-4.9, -3.0, 0.0, 1.234, 3.0, 4.0, 4.99] {
        let rings = section_at(&torus, z).rings;
        assert_eq!(rings.ring_count(), 2, "z {z}");
        // A point every 0.17 mm, each moved by less than 0.71 nm: relative 1e-5 at the very worst.
        assert_near(rings.perimeter_mm(), 251.327_412_3 * side_share, 1e-5 * 251.0);
        // The hole is a ring of its own, clockwise.
        let mut areas: Vec<f64> =
            rings.rings().map(|ring| Region::from_proper_rings([ring]).area_mm2()).collect();
        areas.sort_by(f64::total_cmp);
        assert!(areas[0] < 0.0 && areas[1] > -areas[0], "z {z}: {areas:?}");
    }
    // Sagitta of the 360-gon of the minor circle: r(1 − cos 0.5°) = 0.00019 mm.
    for (z, area) in [(0.0, 1_256.637_061), (3.0, 1_005.309_649)] {
        let rings = section_at(&torus, z).rings;
        let expected = area * polygon_share(n);
        assert_near(rings.area_mm2(), expected, 2.0 * 0.000_19 * rings.perimeter_mm());
        assert!(region::is_proper(&region_at(&torus, z)));
    }
}

#[test]
fn cone() {
    let n = 500;
    let cone = stack(&[0.0, 30.0], n, |z, _| 10.0 * (1.0 - z / 30.0));
    let rings = section_at(&cone, 12.0).rings;
    let expected = 113.097_335_5 * polygon_share(n);
    assert_near(rings.area_mm2(), expected, rounding(rings.perimeter_mm()));
}

#[test]
fn ellipsoid() {
    let (n, levels) = (500, [-4.0, -1.0, 2.0, 4.0]);
    let unit = stack(&levels.map(|z| z / 4.0), n, |z, _| (1.0 - z * z).max(0.0).sqrt());
    let pose = Affine::translation([0.0, 0.0, 4.0]) * Affine::scaling([10.0, 6.0, 4.0]);
    let slicer = placed(&unit, &pose, 4.0); // layer 1 is cut at 6, 2 above the middle
    let rings = slicer.section(1, &mut Scratch::default()).rings;
    let expected = 141.371_669_4 * polygon_share(n);
    assert_near(rings.area_mm2(), expected, rounding(rings.perimeter_mm()));
}

/// Two crossing cylinders of radius 10 have square sections of side 2√(r² − z²).
#[test]
fn bicylinder() {
    let solid = stack(&spaced(-10.0, 10.0, 20), 8, |z, phi| {
        (100.0 - z * z).sqrt() / phi.cos().abs().max(phi.sin().abs())
    });
    let rings = section_at(&solid, 6.0).rings;
    assert_near(rings.area_mm2(), 256.0, rounding(rings.perimeter_mm()));
    assert_near(rings.perimeter_mm(), 64.0, 1e-5);
}

/// Three crossing cylinders: the square above, cut by the circle of radius 10.
#[test]
fn tricylinder() {
    let solid = stack(&spaced(-10.0, 10.0, 20), 720, |z, phi| {
        ((100.0 - z * z).sqrt() / phi.cos().abs().max(phi.sin().abs())).min(10.0)
    });
    // Arcs of 0.5°: sagitta 0.0001 mm; where arc and side meet between two directions, a corner
    // of at most 0.5° · 10 mm = 0.087 mm width is cut, 8 times less than 0.004 mm².
    for (z, area) in
        [(0.0, 314.159_265_4), (3.0, 306.754_907_9), (6.0, 248.758_821_8), (8.0, 144.0)]
    {
        let rings = section_at(&solid, z).rings;
        assert_near(rings.area_mm2(), area, 0.0001 * rings.perimeter_mm() + 0.032);
    }
}

/// A cube of edge 10 stood on its corner: a regular hexagon half way up, a triangle below a third.
#[test]
fn cube_on_its_corner() {
    let (s2, s3, s6) = (2.0_f64.sqrt(), 3.0_f64.sqrt(), 6.0_f64.sqrt());
    let upright = Affine {
        rows: [
            [1.0 / s2, -1.0 / s2, 0.0, 0.0],
            [1.0 / s6, 1.0 / s6, -2.0 / s6, 0.0],
            [1.0 / s3, 1.0 / s3, 1.0 / s3, 0.0],
        ],
    };
    let cube = cuboid([0.0; 3], [10.0; 3]);
    let section = |layer: u32, thickness_mm: f64| {
        let slicer = placed(&cube, &upright, thickness_mm);
        assert!(slicer.layers().contains(&layer));
        slicer.section(layer, &mut Scratch::default()).rings
    };
    let hexagon = section(1, 5.0 * s3 / 1.5);
    assert_near(hexagon.area_mm2(), 129.903_810_6, rounding(hexagon.perimeter_mm()));
    let triangle = section(0, 4.0);
    assert_near(triangle.area_mm2(), 10.392_304_85, rounding(triangle.perimeter_mm()));
}

/// Sums over layers of 0.1 mm, cut at mid-height and at the end of the layer (mid-point and
/// end-point rule on the exact section areas).
#[test]
fn volumes_summed_over_layers() {
    let n = 360;
    // Vertices in all planes of both kinds: the sections are regular polygons.
    let ball = ball(10.0, &spaced(-10.0, 10.0, 400), n);
    let tolerance = 200.0 * 0.1 * rounding(20.0 * PI);
    for (lift_mm, expected) in [
        (0.0, 4_188.842_565),                 // V + πRt²/6
        (-0.05, 4_188.790_205 - 0.104_719_8), // V − πRt²/3
    ] {
        let slicer = placed(&ball, &Affine::translation([0.0, 0.0, 10.0 + lift_mm]), 0.1);
        assert_near(summed(&slicer) / polygon_share(n), expected, tolerance);
    }
    let cone = stack(&[0.0, 30.0], n, |z, _| 10.0 * (1.0 - z / 30.0));
    let sum = summed(&placed(&cone, &Affine::IDENTITY, 0.1));
    assert_near(sum / polygon_share(n), 3_141.592_654 - 0.008_726_646, 300.0 * 0.1 * 4e-5);
}

#[test]
fn layers_are_those_whose_middle_cuts_the_part() {
    let cube = cuboid([0.0; 3], [1.0; 3]);
    let layers = |z: f64| placed(&cube, &Affine::translation([0.0, 0.0, z]), 0.1).layers();
    assert_eq!(layers(0.0), 0..10);
    assert_eq!(layers(0.2), 2..12);
    assert_eq!(layers(0.26), 3..13);
    assert_eq!(layers(-0.5), 0..5); // what is below the platform has no layers
    assert!(layers(-3.0).is_empty());
    let thin = cuboid([0.0; 3], [1.0, 1.0, 0.04]);
    assert!(placed(&thin, &Affine::IDENTITY, 0.1).layers().is_empty());
}
