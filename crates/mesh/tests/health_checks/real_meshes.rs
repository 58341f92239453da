//! Meshes of the corpus against values found by other programs.

use crate::support::{assert_close, corpus, kinds, report};
use base::Progress;
use mesh::health::ShellRole;
use mesh::{Hierarchy, intersect, measures};
use std::collections::BTreeSet;
use std::ops::ControlFlow;

/// What trimesh 5.2.0 finds after an exact weld: triangles, vertices, then edges used once, more
/// than twice, and twice in the same direction, the number of extra copies of faces, the volume
/// and the area. Faces that name a vertex twice were left out of the counting of edges.
struct Known {
    path: &'static str,
    counts: [usize; 6],
    volume_mm3: f64,
    area_mm2: f64,
}

#[rustfmt::skip]
const TRIMESH: [Known; 10] = [
    Known { path: "solids/7_8ths_cube.stl", counts: [24, 14, 0, 0, 0, 0], volume_mm3: 55_999.995_930_991_34, area_mm2: 9_599.999_618_530_748 },
    Known { path: "solids/cylinder.stl", counts: [416, 210, 0, 0, 0, 0], volume_mm3: 25.092_387_531_871_28, area_mm2: 56.518_395_001_277_04 },
    Known { path: "broken/shared.STL", counts: [24, 14, 0, 1, 0, 0], volume_mm3: 2.0, area_mm2: 12.0 },
    Known { path: "broken/multibody.stl", counts: [32, 20, 0, 0, 12, 0], volume_mm3: f64::NAN, area_mm2: 0.367_238_951_199_928_9 },
    Known { path: "broken/not_convex.obj", counts: [96, 44, 0, 12, 0, 0], volume_mm3: 0.030_814_777_080_000_01, area_mm2: 3.515_090_759_999_999_6 },
    Known { path: "broken/wallhole.obj", counts: [66, 35, 0, 1, 0, 1], volume_mm3: 1_066.666_666_666_666_7, area_mm2: 761.421_356_237_309_5 },
    Known { path: "broken/two_objects.obj", counts: [16, 8, 0, 3, 0, 0], volume_mm3: 1.166_666_666_666_666_7, area_mm2: 8.366_025_403_784_437 },
    Known { path: "broken/sphereWithHole.stl", counts: [285, 146, 9, 0, 0, 0], volume_mm3: f64::NAN, area_mm2: 27.418_720_965_507_59 },
    Known { path: "broken/test_nm.obj", counts: [170, 97, 30, 0, 0, 0], volume_mm3: f64::NAN, area_mm2: 9.960_491_406_888_634 },
    Known { path: "overlapping_bodies/420.obj", counts: [460, 250, 0, 0, 0, 0], volume_mm3: 53.285_515_434_445_31, area_mm2: 147.301_783_969_149_45 },
];

#[test]
fn faults_and_measures_agree_with_trimesh() {
    for Known { path, counts, volume_mm3, area_mm2 } in TRIMESH {
        let report = report(&corpus(path));
        let found = [
            report.triangle_count,
            report.vertex_count,
            report.open_edges.count,
            report.over_shared_edges.count,
            report.inconsistent_edges.count,
            report.duplicate_triangles.count,
        ];
        assert_eq!(found, counts, "{path}");
        assert_close(report.measures.area_mm2, area_mm2, 1e-12);
        if volume_mm3.is_finite() {
            // The volume of an open or inconsistent mesh depends on the point it is taken from.
            assert_close(report.measures.volume_mm3, volume_mm3, 1e-11);
        }
        let has = |kind| kinds(&report).contains(&kind);
        assert_eq!(has("open_edges"), counts[2] > 0, "{path}");
        assert_eq!(has("over_shared_edges"), counts[3] > 0, "{path}");
        assert_eq!(has("inconsistent_orientation"), counts[4] > 0, "{path}");
        assert_eq!(has("duplicate_triangles"), counts[5] > 0, "{path}");
    }
}

/// trimesh 5.2.0, `center_mass`.
#[test]
fn the_centre_of_mass_agrees_with_trimesh() {
    let known = [
        ("solids/7_8ths_cube.stl", [-1.428_571_861_617, -1.428_570_714_938, -1.428_571_430_193]),
        ("overlapping_bodies/420.obj", [-0.131_071_139_106, 0.110_626_145_301, 0.208_956_307_443]),
    ];
    for (path, expected) in known {
        let centre = measures(&corpus(path)).centre_of_mass_mm.unwrap();
        for k in 0..3 {
            assert!((centre[k] - expected[k]).abs() < 1e-11, "{path}: {centre:?}");
        }
    }
}

/// Volume and area of the exact boundary representation, from `Open CASCADE`; the meshes deviate
/// from it by at most 0.1 mm, and much less where surfaces are flat.
#[test]
fn measures_approach_those_of_the_exact_boundary() {
    let known = [
        ("WaveShare_Mounting_Plate_SO101", 9_093.306_207_739_81, 5_345.629_834_219_472),
        ("base_interface_AP214", 1_257_991.525_626_849_6, 541_917.241_362_048_3),
    ];
    for (name, volume_mm3, area_mm2) in known {
        let report = report(&corpus(&format!("exact_truth/{name}_tol0.1.stl")));
        assert_close(report.measures.volume_mm3, volume_mm3, 1e-3);
        assert_close(report.measures.area_mm2, area_mm2, 1e-3);
        assert!(report.is_sound(), "{name}: {:?}", report.findings);
        assert_eq!(report.findings, []);
    }
}

#[test]
fn sound_meshes_of_the_corpus_have_no_findings() {
    for path in ["solids/7_8ths_cube.stl", "solids/cylinder.stl"] {
        let report = report(&corpus(path));
        assert!(report.is_sound(), "{path}");
        assert_eq!(report.findings, [], "{path}");
    }
}

/// Ten closed bodies. Which of them are in contact: manifold3d (the Python wheel), `min_gap` of 0
/// for four pairs, at least 1.4e-4 for all others.
#[test]
fn contacts_between_bodies_agree_with_manifold3d() {
    let mesh = corpus("overlapping_bodies/420.obj");
    let found = report(&mesh);
    assert_eq!(found.shells.len(), 10);
    assert!(found.shells.iter().all(|shell| shell.role == ShellRole::Solid && shell.euler == 2));
    assert_eq!(found.self_intersections.count, found.self_intersections.between_shells);

    // Bodies are known by their number of triangles.
    let starts: Vec<u32> = found.shells.iter().map(|shell| shell.first_triangle).collect();
    let body = |t: u32| found.shells[starts.partition_point(|start| *start <= t) - 1].triangles;
    let mut pairs = BTreeSet::new();
    Hierarchy::build(&mesh)
        .self_pairs(&Progress::default(), |s, t| {
            if intersect::touch_or_cross(&mesh.corners(s as usize), &mesh.corners(t as usize)) {
                let (p, q) = (body(s), body(t));
                pairs.insert((p.min(q), p.max(q)));
            }
            ControlFlow::Continue(())
        })
        .unwrap();
    let expected = BTreeSet::from([(74, 102), (42, 102), (28, 42), (28, 38)]);
    assert_eq!(pairs, expected);
}
