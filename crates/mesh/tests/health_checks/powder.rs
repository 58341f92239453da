//! Powder that stays in, against volumes in closed form.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use crate::support::{assert_close, cube, joined, report, revolved, sphere, torus, turned};
use base::{Cancelled, Progress};
use mesh::powder::{Powder, Question, powder};
use mesh::{Hierarchy, Mesh};
use std::f64::consts::PI;

const QUESTION: Question = Question { opening_mm: 3.0, deepest_mm: 15.0, most_voxels: 2_000_000 };

fn look(mesh: &Mesh, question: &Question) -> Powder {
    let shells = report(mesh).shells;
    powder(mesh, &Hierarchy::build(mesh), &shells, question, &Progress::default()).unwrap()
}

/// A pot about Z with walls of 2 mm and a chamber of radius 6 and height 10, closed by a lid of 2 mm with a
/// hole of some radius.
fn pot(hole: f64) -> Mesh {
    let profile = [
        [0.0, 0.0],
        [8.0, 0.0],
        [8.0, 14.0],
        [hole, 14.0],
        [hole, 12.0],
        [6.0, 12.0],
        [6.0, 2.0],
        [0.0, 2.0],
    ];
    revolved(&profile, 96)
}

#[test]
fn a_closed_cavity_holds_what_its_shell_encloses() {
    let mesh = joined(&cube(20.0, [0.0; 3]), &turned(&sphere_at(5.0, [11.0, 10.0, 8.0])));
    let found = look(&mesh, &QUESTION);
    let [pocket] = found.pockets[..] else { panic!("{found:?}") };
    let shell = report(&mesh).shells[1].volume_mm3.abs();
    assert!(pocket.is_closed && pocket.uncertainty_mm3 == 0.0, "{pocket:?}");
    assert_close(pocket.volume_mm3, shell, 1e-12);
    // The wall is thinnest below: 3 mm.
    let hole = pocket.hole.unwrap();
    assert!((3.0..3.1).contains(&hole.length_mm) && hole.outside_mm[2].abs() < 1e-9, "{hole:?}");
    assert_eq!(found.passage, None);
}

fn sphere_at(radius: f64, at: [f64; 3]) -> Mesh {
    let mut mesh = sphere(radius, 64);
    mesh.vertices.iter_mut().for_each(|v| *v = [0, 1, 2].map(|k| v[k] + at[k]));
    mesh
}

#[test]
fn a_cavity_too_small_for_voxels_is_found_by_its_shell() {
    let mesh = joined(&cube(20.0, [0.0; 3]), &turned(&cube(0.5, [9.0; 3])));
    let found = look(&mesh, &QUESTION);
    assert_eq!(found.pockets.len(), 1, "{found:?}");
    assert_close(found.pockets[0].volume_mm3, 0.125, 1e-12);
}

#[test]
fn a_neck_holds_powder_back_if_no_ball_gets_through() {
    // 3.2 mm let a ball of 3 mm through, 1.6 mm do not.
    assert_eq!(look(&pot(1.6), &QUESTION).pockets, []);
    let found = look(&pot(0.8), &QUESTION);
    let [pocket] = found.pockets[..] else { panic!("{found:?}") };
    assert!(!pocket.is_closed, "{pocket:?}");
    // Half of the neck is nearer to the outside.
    let expected = PI * (36.0 * 10.0 + 0.8 * 0.8);
    assert!((pocket.volume_mm3 - expected).abs() < pocket.uncertainty_mm3, "{pocket:?} {expected}");
    assert!(pocket.uncertainty_mm3 < 0.2 * expected);
    assert_close(pocket.hole.unwrap().length_mm, 2.0, 1e-3);
    // Half of a part's size asks for half of an opening.
    assert_eq!(look(&pot(0.8), &Question { opening_mm: 1.5, ..QUESTION }).pockets, []);
}

#[test]
fn voxels_stay_within_their_number_and_thin_walls_hold() {
    let thin = joined(&cube(20.0, [0.0; 3]), &turned(&cube(19.8, [0.1; 3])));
    let question = Question { most_voxels: 200_000, ..QUESTION };
    let found = look(&thin, &question);
    assert!(found.voxel_mm > 0.1, "coarser than the walls: {found:?}");
    assert_eq!(found.pockets.len(), 1, "{found:?}");
    assert_close(found.pockets[0].volume_mm3, 19.8_f64.powi(3), 1e-12);
}

#[test]
fn rings_and_cups_hold_nothing_and_deep_bores_do() {
    let cup = [[0.0, 0.0], [8.0, 0.0], [8.0, 30.0], [6.0, 30.0], [6.0, 2.0], [0.0, 2.0]];
    for mesh in [torus(10.0, 3.0, 48, 24), revolved(&cup, 64), cube(15.0, [0.0; 3])] {
        let found = look(&mesh, &QUESTION);
        assert!(found.pockets.is_empty() && found.passage.is_none(), "{found:?}");
    }
    // A blind bore of 2 mm, 25 mm deep.
    let bore = [[0.0, 0.0], [8.0, 0.0], [8.0, 30.0], [1.0, 30.0], [1.0, 5.0], [0.0, 5.0]];
    let found = look(&revolved(&bore, 64), &QUESTION);
    let passage = found.passage.unwrap();
    assert!((23.0..26.0).contains(&passage.depth_mm), "{passage:?}");
    assert!(found.pockets.is_empty() && (passage.at_mm[2] - 5.0).abs() < 1.0, "{passage:?}");
}

#[test]
fn the_answer_is_the_same_on_one_thread_and_ends_when_it_is_asked_to() {
    let mesh = pot(0.8);
    let pool = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    let all = [1, 3].map(|threads| pool(threads).install(|| look(&mesh, &QUESTION)));
    assert_eq!(all[0], all[1]);
    let cancelled = Progress::default();
    cancelled.cancel();
    let tree = Hierarchy::build(&mesh);
    assert_eq!(powder(&mesh, &tree, &[], &QUESTION, &cancelled), Err(Cancelled));
}
