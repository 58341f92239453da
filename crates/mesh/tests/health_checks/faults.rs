//! Sound meshes with one fault planted: it must be found, at its place, and nothing else.

use crate::support::{assert_close, cube, joined, kinds, moved, report, sphere, torus, turned};
use base::{Affine, Cancelled, Progress, Severity};
use mesh::health::{PLACES_KEPT, ShellRole};
use mesh::{Mesh, health};
use proptest::prelude::*;

fn sound() -> Mesh {
    torus(20.0, 5.0, 24, 12)
}

/// Ends of the edges of a triangle, lower index first, sorted.
fn edges(mesh: &Mesh, t: usize) -> Vec<[u32; 2]> {
    let [a, b, c] = mesh.triangles[t];
    let mut edges = [[a, b], [b, c], [c, a]].map(|[a, b]| [a.min(b), a.max(b)]).to_vec();
    edges.sort_unstable();
    edges
}

#[test]
fn sound_meshes_have_no_findings() {
    for mesh in [sound(), sphere(10.0, 32), cube(10.0, [1.0; 3])] {
        for at in [[0.0; 3], [1000.0, -500.0, 0.1]] {
            let report = report(&moved(&mesh, &Affine::translation(at)));
            assert!(report.is_sound());
            assert_eq!(report.findings, []);
            assert_eq!(report.shells[0].role, ShellRole::Solid);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    #[test]
    fn a_removed_triangle_leaves_its_three_edges_open(t in 0..576_usize) {
        let mut mesh = sound();
        let expected = edges(&mesh, t);
        mesh.triangles.remove(t);
        let report = report(&mesh);
        prop_assert_eq!(kinds(&report), ["open_edges"]);
        let mut found: Vec<_> = report.open_edges.first.iter().map(|e| e.vertices).collect();
        found.sort_unstable();
        prop_assert_eq!(found, expected);
        prop_assert_eq!(report.open_edges.count, 3);
        prop_assert_eq!(report.shells[0].role, ShellRole::Open);
        prop_assert!(!report.is_sound());
    }

    #[test]
    fn a_turned_triangle_disagrees_with_its_three_neighbours(t in 0..576_usize) {
        let mut mesh = sound();
        mesh.triangles[t].reverse();
        let report = report(&mesh);
        prop_assert_eq!(kinds(&report), ["inconsistent_orientation"]);
        let mut found: Vec<_> = report.inconsistent_edges.first.iter().map(|e| e.vertices).collect();
        found.sort_unstable();
        prop_assert_eq!(found, edges(&mesh, t));
        prop_assert!(report.shells.len() == 1 && report.shells[0].closed);
        prop_assert!(!report.is_sound());
    }

    #[test]
    fn a_copied_triangle_is_found_whichever_way_it_faces(t in 0..576_usize, turn in any::<bool>()) {
        let mut mesh = sound();
        let mut copy = mesh.triangles[t];
        copy.rotate_left(1);
        if turn {
            copy.reverse();
        }
        mesh.triangles.push(copy);
        let report = report(&mesh);
        prop_assert_eq!(kinds(&report), ["over_shared_edges", "duplicate_triangles"]);
        prop_assert_eq!(report.duplicate_triangles.count, 1);
        prop_assert_eq!(report.duplicate_triangles.first[0].triangle, 576);
        prop_assert_eq!(report.over_shared_edges.count, 3);
        prop_assert_eq!(report.shells.len(), 1);
        prop_assert!(!report.is_sound());
    }

    #[test]
    fn an_overlapping_cube_is_found_where_it_crosses(u in 0.0..360.0_f64) {
        // Side 2 mm, centred on the outermost circle of the torus.
        let small = moved(&cube(2.0, [24.0, -1.0, -1.0]), &Affine::rotation_deg([0.0, 0.0, u]));
        let mesh = joined(&sound(), &small);
        let report = report(&mesh);
        prop_assert_eq!(kinds(&report), ["self_intersections"]);
        let found = &report.self_intersections;
        prop_assert_eq!(found.count, found.between_shells);
        prop_assert!(found.count >= 8);
        let centre = Affine::rotation_deg([0.0, 0.0, u]).apply([25.0, 0.0, 0.0]);
        for contact in &found.first {
            prop_assert!(contact.triangles[0] < 576 && contact.triangles[1] >= 576);
            let off = (0..3).map(|k| (contact.point_mm[k] - centre[k]).powi(2)).sum::<f64>();
            prop_assert!(off.sqrt() < 3.0, "{} mm off", off.sqrt());
        }
        let roles: Vec<_> = report.shells.iter().map(|s| s.role).collect();
        prop_assert_eq!(roles, [ShellRole::Solid, ShellRole::Solid]);
    }
}

#[test]
fn an_inside_out_mesh_is_found_and_mended_by_turning_it() {
    let mut mesh = turned(&sound());
    let wrong = report(&mesh);
    assert_eq!(kinds(&wrong), ["inside_out"]);
    assert!(wrong.is_inside_out() && !wrong.is_sound());
    assert_eq!(wrong.shells[0].role, ShellRole::InsideOut);
    assert!(wrong.findings[0].sentence().contains("whole mesh"));
    mesh::health::turn_inside_out(&mut mesh);
    assert!(report(&mesh).is_sound());
}

#[test]
fn one_shell_inside_out_beside_another_is_not_the_whole_mesh() {
    let mesh = joined(&sound(), &turned(&cube(1.0, [0.0; 3]))); // in the hole of the torus
    let report = report(&mesh);
    assert_eq!(kinds(&report), ["inside_out"]);
    assert!(!report.is_inside_out());
    assert!(report.findings[0].sentence().starts_with("1 closed shell is inside out"));
}

#[test]
fn a_cavity_is_found_with_its_volume_and_place() {
    let inner = sphere(2.0, 24);
    let mesh =
        joined(&sphere(10.0, 32), &turned(&moved(&inner, &Affine::translation([3., 2., 1.]))));
    let report = report(&mesh);
    assert_eq!(kinds(&report), ["cavities"]);
    assert!(report.shells[1].is_cavity());
    assert_close(report.shells[1].volume_mm3, -mesh::measures(&inner).volume_mm3, 1e-12);
    assert!(report.findings[0].sentence().contains("1 closed cavity of 32.")); // 4π·8/3 = 33.51
    let [x, y, z] = report.findings[0].place.point_mm.unwrap();
    assert_close((x - 3.0).hypot(y - 2.0).hypot(z - 1.0), 2.0, 0.05);
    assert!(report.is_sound(), "a cavity is a boundary like any other");
}

#[test]
fn shells_within_shells_take_their_roles_in_turn() {
    use ShellRole::{Cavity, Nested, Solid};
    // From outside in: solid, cavity, loose solid in the cavity, solid nested in that.
    let sizes = [(16.0, false), (12.0, true), (8.0, false), (4.0, false)];
    let mesh = sizes.iter().fold(Mesh::default(), |all, &(a, turn)| {
        let shell = cube(a, [-a / 2.0; 3]);
        joined(&all, &if turn { turned(&shell) } else { shell })
    });
    let report = report(&mesh);
    let roles: Vec<_> = report.shells.iter().map(|s| s.role).collect();
    assert_eq!(roles, [Solid, Cavity, Solid, Nested]);
    assert_eq!(kinds(&report), ["cavities", "nested_shells"]);
    assert_eq!(report.findings[1].severity(), Severity::Note);
    assert!(!report.is_sound());
}

#[test]
fn a_cavity_that_touches_the_outer_wall_is_still_a_cavity() {
    // The cavity's corner lies on a face of the outer cube.
    let mut pit = cube(4.0, [3.0; 3]);
    pit.vertices[0] = [0.0, 5.0, 5.0];
    let report = report(&joined(&cube(10.0, [0.0; 3]), &turned(&pit)));
    assert_eq!(report.shells[1].role, ShellRole::Cavity);
    assert_eq!(kinds(&report), ["cavities", "self_intersections"]);
}

#[test]
fn cubes_that_share_a_face_plane_touch() {
    let report = report(&joined(&cube(2.0, [0.0; 3]), &cube(1.0, [2.0, 0.5, 0.5])));
    assert_eq!(kinds(&report), ["self_intersections"]);
    assert!(report.findings[0].sentence().contains("all between different shells"));
}

#[test]
fn a_surface_folded_through_itself_crosses_within_one_shell() {
    let mut mesh = cube(10.0, [0.0; 3]);
    mesh.vertices[0] = [3.0, 4.0, 15.0]; // pulled through the lid
    let report = report(&mesh);
    assert!(kinds(&report).contains(&"self_intersections"));
    assert_eq!(report.self_intersections.between_shells, 0);
    assert!(!report.is_sound());
}

#[test]
fn degenerate_triangles_are_noted_and_do_no_harm() {
    let mut mesh = cube(10.0, [0.0; 3]);
    // Split the edge from 0 to 1 on one side only and fill the seam with a triangle without area.
    mesh.vertices.push([5.0, 0.0, 0.0]);
    mesh.triangles[1] = [0, 3, 8];
    mesh.triangles.extend([[8, 3, 1], [0, 8, 1], [2, 2, 5]]);
    let report = report(&mesh);
    let found: Vec<_> = report.degenerate_triangles.first.iter().map(|t| t.triangle).collect();
    assert_eq!(found, [13, 14]);
    assert_eq!(report.open_edges.count, 0);
    assert_eq!(report.findings[0].kind().as_str(), "degenerate_triangles");
    assert_eq!(report.findings[0].severity(), Severity::Note);
    // The new vertex lies on the edge of the triangle across the seam: they touch.
    assert_eq!(kinds(&report)[1..], ["self_intersections"]);
    assert_close(report.measures.volume_mm3, 1000.0, 1e-12);
}

#[test]
fn solids_that_touch_along_an_edge_are_two_shells_and_only_noted() {
    // Two cubes with one common edge, welded.
    let mut mesh = joined(&cube(1.0, [0.0; 3]), &cube(1.0, [1.0, 1.0, 0.0]));
    for v in mesh.triangles.iter_mut().flatten() {
        *v = match *v {
            8 => 3,
            12 => 7,
            v => v,
        };
    }
    let report = report(&mesh);
    assert_eq!(kinds(&report), ["over_shared_edges"]);
    assert_eq!(report.findings[0].severity(), Severity::Note);
    assert_eq!(report.over_shared_edges.first[0].vertices, [3, 7]);
    let place = report.findings[0].place.point_mm;
    assert_eq!(place, Some([1.0, 1.0, 0.5]));
    assert_eq!(report.shells.len(), 2);
    assert!(report.shells.iter().all(|shell| shell.euler == 2));
}

#[test]
fn meshes_without_sense_are_reported_and_nothing_panics() {
    let empty = report(&Mesh::default());
    assert_eq!(kinds(&empty), ["empty_mesh"]);
    assert_eq!(empty.findings[0].severity(), Severity::Stop);
    assert!(!empty.is_sound());

    let mut mesh = cube(1.0, [0.0; 3]);
    mesh.vertices.extend([[f64::NAN; 3], [f64::INFINITY, 0.0, 0.0], [f64::MAX; 3], [-f64::MAX; 3]]);
    mesh.triangles.extend([[0, 1, 8], [0, 1, 9], [0, 1, 99], [u32::MAX; 3], [0, 10, 11]]);
    let report = report(&mesh);
    assert_eq!(report.unusable_triangles, 4);
    assert_eq!(report.findings[0].kind().as_str(), "unusable_triangles");
    assert_eq!(report.findings[0].severity(), Severity::Stop);

    let sheet = Mesh { triangles: vec![[0, 1, 2], [2, 1, 0]], ..cube(1.0, [0.0; 3]) };
    let report = crate::support::report(&sheet);
    assert_eq!(kinds(&report), ["no_volume", "duplicate_triangles"]);
    assert_eq!(report.shells[0].role, ShellRole::Flat);
}

#[test]
fn a_hopeless_mesh_is_counted_in_full_and_listed_in_part() {
    // 40 × 40 triangles, no two connected, all through one another.
    let mesh = (0..40).fold(Mesh::default(), |all, i| {
        let i = f64::from(i);
        let a = Mesh {
            vertices: vec![
                [0., i, 0.],
                [50., i, 0.],
                [0., i, 50.],
                [i, 0., 1.],
                [i, 50., 1.],
                [i, 0., 9.],
            ],
            triangles: vec![[0, 1, 2], [3, 4, 5]],
        };
        joined(&all, &a)
    });
    let report = report(&mesh);
    assert_eq!(report.open_edges.count, 240);
    assert!(report.self_intersections.count > 1000);
    assert_eq!(report.self_intersections.first.len(), PLACES_KEPT);
    assert_eq!(report.shells.len(), 80);
}

#[test]
fn the_report_does_not_depend_on_welding_where_surfaces_touch() {
    let welded = joined(&sound(), &cube(2.0, [24.0, -1.0, -1.0]));
    let soup = Mesh {
        vertices: welded.triangles.iter().flatten().map(|v| welded.vertices[*v as usize]).collect(),
        triangles: (0..welded.triangles.len() as u32)
            .map(|t| [3 * t, 3 * t + 1, 3 * t + 2])
            .collect(),
    };
    let (a, b) = (report(&welded), report(&soup));
    assert_eq!(a.self_intersections.count, b.self_intersections.count);
    assert_eq!(a.self_intersections.first, b.self_intersections.first);
    assert_eq!(b.open_edges.count, 3 * soup.triangles.len());
}

#[test]
fn it_can_be_cancelled_and_credits_all_its_steps() {
    let progress = Progress::default();
    health(&sound(), &progress).unwrap();
    let (done, total) = progress.steps();
    assert_eq!((done, total), (4 * 576, 4 * 576));
    progress.cancel();
    assert_eq!(health(&sound(), &progress), Err(Cancelled));
}

#[test]
fn the_report_is_written_as_json_with_plain_names() {
    let json = serde_json::to_value(report(&turned(&cube(1.0, [0.0; 3])))).unwrap();
    assert_eq!(json["triangle_count"], 12);
    assert_eq!(json["measures"]["volume_mm3"], -1.0);
    assert_eq!(json["shells"][0]["role"], "inside_out");
    assert_eq!(json["findings"][0]["severity"], "caution");
    assert_eq!(json["open_edges"]["count"], 0);
}
