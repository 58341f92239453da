//! Proof, removal and placed bodies on arrangements with known answers.

use super::{oracle, samples};
use crate::{
    Body, Contact, Hold, PlacedBodies, Proof, Removal, Solid, Space, Wall, proof, removal,
};
use base::vec3::Vec3;
use base::{Affine, Progress};
use mesh::Mesh;
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::sync::Arc;

fn body(mesh: &Mesh, pose: Affine) -> Body {
    Body { solid: Arc::new(Solid::new(Arc::new(mesh.clone()))), pose }
}

fn at(t: Vec3) -> Affine {
    Affine::translation(t)
}

fn space(clearance_mm: f64) -> Space {
    Space { size_mm: [200., 200., 200.], wall_clearance_mm: 3.0, clearance_mm }
}

fn prove(bodies: &[Body], clearance_mm: f64) -> Proof {
    proof(bodies, &space(clearance_mm), &Progress::default()).unwrap()
}

fn lift(bodies: &[Body]) -> Removal {
    removal(bodies, &Progress::default()).unwrap()
}

/// A box with a closed hollow.
fn shell(outer: f64, wall: f64) -> Mesh {
    let mut mesh = samples::cuboid([-outer; 3], [outer; 3]);
    let hollow = samples::cuboid([wall - outer; 3], [outer - wall; 3]);
    let n = u32::try_from(mesh.vertices.len()).unwrap();
    mesh.vertices.extend(hollow.vertices);
    mesh.triangles.extend(hollow.triangles.iter().map(|[a, b, c]| [a + n, c + n, b + n]));
    mesh
}

#[test]
fn pairs_nearer_than_twice_the_clearance_are_listed_and_judged() {
    let cube = samples::cuboid([-5.; 3], [5.; 3]);
    let bodies = [
        body(&cube, at([0., 0., 20.])),
        body(&cube, at([13., 0., 20.])), // 3 from the first: just right
        body(&cube, at([0., 12.5, 20.])), // 2.5: too near; from the second √(3² + 2.5²)
        body(&cube, at([0., 0., 36.1])), // 6.1: not listed
    ];
    let p = prove(&bodies, 3.0);
    let listed: Vec<_> = p.pairs.iter().map(|g| (g.bodies, g.violates)).collect();
    assert_eq!(listed, [([0, 2], true), ([0, 1], false), ([1, 2], false)]);
    for (gap, expected) in p.pairs.iter().zip([2.5, 3.0, (9.0_f64 + 6.25).sqrt()]) {
        assert!((gap.distance_mm - expected).abs() < 1e-9, "{gap:?}");
        let [a, b] = gap.points_mm;
        let between: f64 = (0..3).map(|k| (a[k] - b[k]).powi(2)).sum();
        assert!((between.sqrt() - expected).abs() < 1e-9);
        assert_eq!(gap.contact, Contact::Apart);
    }
    assert!(p.walls.is_empty() && !p.holds());
}

#[test]
fn walls_are_measured_to_all_six_sides() {
    let cube = samples::cuboid([-5.; 3], [5.; 3]);
    let p = prove(&[body(&cube, at([-91., 0., 200.])), body(&cube, at([0., 92., 8.]))], 3.0);
    let walls: Vec<_> =
        p.walls.iter().map(|w| (w.body, w.wall, w.distance_mm.round(), w.violates)).collect();
    let expected = [
        (0, Wall::Top, -5.0, true),
        (1, Wall::Back, 3.0, false),
        (1, Wall::Platform, 3.0, false),
        (0, Wall::Left, 4.0, false),
    ];
    assert_eq!(walls, expected);
}

#[test]
fn a_part_in_a_hollow_keeps_its_distance_and_one_in_material_overlaps() {
    let small = samples::cuboid([-1.; 3], [1.; 3]);
    let (hollow, solid) = (shell(10.0, 2.0), samples::cuboid([-10.; 3], [10.; 3]));
    let pose = at([20., 20., 50.]);
    let p = prove(&[body(&hollow, pose), body(&small, pose)], 4.0);
    assert!((p.pairs[0].distance_mm - 7.0).abs() < 1e-9 && p.holds());
    // The surfaces are 9 apart, farther than anybody asked for.
    for order in [[&solid, &small], [&small, &solid]] {
        let p = prove(&order.map(|m| body(m, pose)), 1.0);
        assert_eq!((p.pairs.len(), p.pairs[0].contact), (1, Contact::Overlap));
        assert!(p.pairs[0].violates && p.pairs[0].distance_mm == 0.0);
    }
    // In the wall of the shell.
    let p = prove(
        &[body(&hollow, pose), body(&samples::cuboid([-0.5; 3], [0.5; 3]), at([29., 20., 50.]))],
        1.0,
    );
    assert_eq!(p.pairs[0].contact, Contact::Overlap);
    // Through it.
    let p = prove(&[body(&hollow, pose), body(&small, at([30., 20., 50.]))], 1.0);
    assert_eq!(p.pairs[0].contact, Contact::Overlap);
}

#[test]
fn touching_is_allowed_where_no_clearance_is_asked_for_but_filling_the_same_place_is_not() {
    let cube = samples::cuboid([0.; 3], [0.1; 3]);
    let third = 0.1 + 0.2 - 0.1; // a rounding away from where it should be
    for x in [0.1, 0.1 - 1e-9, third - 0.1] {
        let p = prove(&[body(&cube, at([0., 0., 9.])), body(&cube, at([x, 0., 9.]))], 0.0);
        assert!(p.holds(), "{x} {p:?}");
    }
    for t in [[0., 0., 9.], [0.1 - 1e-5, 0., 9.], [0.05, 0., 9.]] {
        let p = prove(&[body(&cube, at([0., 0., 9.])), body(&cube, at(t))], 0.0);
        assert!(!p.holds(), "{t:?} {p:?}");
    }
}

#[test]
fn parts_come_out_from_the_top_and_aside_where_they_must() {
    let cube = samples::cuboid([-5.; 3], [5.; 3]);
    let stack: Vec<Body> =
        (0..4).map(|i| body(&cube, at([0., 0., 10. + 14. * f64::from(i)]))).collect();
    let r = lift(&stack);
    assert!(r.is_free());
    assert_eq!(r.order.iter().map(|o| o.0).collect::<Vec<_>>(), [3, 2, 1, 0]);
    // A cube in a bowl leaves by the top before the lid's way is asked for; under a bridge, aside.
    let bridge = samples::polycube(&[[0, 0, 0], [0, 0, 1], [1, 0, 1], [2, 0, 1], [2, 0, 0]], 14.0);
    let r = lift(&[body(&bridge, at([0.; 3])), body(&cube, at([21., 7., 7.]))]);
    assert!(r.is_free(), "{r:?}");
}

/// facts: ring on a rod and linked tori are to be flagged, a part in a closed shell too.
#[test]
fn linked_rings_rods_through_rings_and_shells_around_parts_are_flagged() {
    let ring = samples::ring(20.0, 5.0, 24);
    let linked = [
        body(&ring, at([0., 0., 50.])),
        body(&ring, at([20., 0., 50.]) * Affine::rotation_deg([90., 0., 0.])),
        body(&samples::cuboid([-3.; 3], [3.; 3]), at([-60., 0., 50.])),
    ];
    assert!(prove(&linked, 4.0).holds());
    let r = lift(&linked);
    assert_eq!(r.trapped.len(), 1, "{r:?}");
    assert_eq!((r.trapped[0].hold, r.trapped[0].body, r.trapped[0].by[0]), (Hold::Hooked, 0, 1));
    assert_eq!(r.order.len(), 3);

    let rod = samples::cuboid([-4., -4., -40.], [4., 4., 40.]);
    let r = lift(&[body(&ring, at([0., 0., 50.])), body(&rod, at([0., 0., 50.]))]);
    assert_eq!(r.trapped.iter().map(|t| t.hold).collect::<Vec<_>>(), [Hold::Threaded]);
    // With knobs on its ends it does not come out at all.
    let knobs = samples::cross_rod();
    let r = lift(&[body(&ring, at([0., 0., 50.])), body(&knobs, at([0., 0., 50.]))]);
    assert_eq!(r.trapped.iter().map(|t| t.hold).collect::<Vec<_>>(), [Hold::Hooked]);

    let cube = samples::cuboid([-2.; 3], [2.; 3]);
    let pose = at([0., 0., 50.]);
    for order in [[&shell(10.0, 2.0), &cube], [&cube, &shell(10.0, 2.0)]] {
        let r = lift(&order.map(|m| body(m, pose)));
        assert_eq!(r.trapped[0].hold, Hold::Enclosed);
        assert_eq!(order[r.trapped[0].body].vertices.len(), 8, "the small one is enclosed");
    }
    // In an open bowl nothing is flagged.
    let r = lift(&[body(&samples::bowl(10.0), at([0.; 3])), body(&cube, at([20., 20., 15.]))]);
    assert!(r.is_free(), "{r:?}");
}

/// Borromean rings: no two are linked, and still the three do not come apart.
#[test]
fn parts_that_only_together_hold_each_other_are_reported_with_each_other() {
    let mut cells = Vec::new();
    for x in -4..=4_i32 {
        for y in -2..=2_i32 {
            if x.abs() == 4 || y.abs() == 2 {
                cells.push([x, y, 0]);
            }
        }
    }
    let frame = |axes: [usize; 3]| {
        let cells: Vec<[i32; 3]> = cells.iter().map(|c| axes.map(|k| c[k])).collect();
        body(&samples::polycube(&cells, 6.0), at([0., 0., 60.]))
    };
    let r = lift(&[frame([0, 1, 2]), frame([2, 0, 1]), frame([1, 2, 0])]);
    let held: Vec<_> = r.trapped.iter().filter(|t| t.hold == Hold::Held).collect();
    assert_eq!(held.len(), 3, "{r:?}");
    assert_eq!(held[0].by, [1, 2]);
    assert!(r.order.is_empty() && r.trapped.iter().all(|t| t.hold != Hold::Hooked));
    // Two bowls, mouth to mouth around a cube: the upper one comes off.
    let upside = at([0., 40., 64.]) * Affine::rotation_deg([180., 0., 0.]);
    let cube = samples::cuboid([-2.; 3], [2.; 3]);
    let r = lift(&[
        body(&samples::bowl(10.0), at([0.; 3])),
        body(&samples::bowl(10.0), upside),
        body(&cube, at([20., 20., 32.])),
    ]);
    assert!(r.is_free() && r.order[0].0 == 1, "{r:?}");
}

/// Against brute force, wherever a body is moved.
#[test]
fn all_near_bodies_are_found() {
    let ball = samples::ball(5.0, 8);
    let bodies: Vec<Body> = (0..27)
        .map(|i| body(&ball, at([i % 3, i / 3 % 3, i / 9].map(|c| 15.0 * f64::from(c) + 20.0))))
        .collect();
    let mut all = PlacedBodies::new(bodies.clone(), space(3.0));
    let within = 6.0;
    for step in 0..12 {
        let pose = at([20.0 + 2.0 * f64::from(step), 21.0, 27.0 + f64::from(step)]);
        let moved = oracle::triangles(&ball, &pose);
        let others = bodies.iter().enumerate().filter(|(n, _)| *n != 13);
        let mut expected: Vec<(f64, usize)> = others
            .map(|(n, other)| (oracle::distance(&moved, &oracle::triangles_of(other)), n))
            .filter(|(distance, _)| *distance < within)
            .collect();
        expected.sort_by(|a, b| a.0.max(0.0).total_cmp(&b.0.max(0.0)).then(a.1.cmp(&b.1)));
        let found = all.near(13, pose, within, &Progress::default()).unwrap();
        assert_eq!(found.len(), expected.len(), "{step}");
        for (gap, (distance, _)) in found.iter().zip(&expected) {
            assert!((gap.distance_mm - distance.max(0.0)).abs() < 1e-9, "{gap:?} {distance}");
            assert_eq!(gap.contact == Contact::Overlap, *distance < 0.0);
        }
        let found: BTreeSet<usize> = found.iter().map(|gap| gap.bodies[1]).collect();
        assert_eq!(found, expected.iter().map(|e| e.1).collect());
    }
    assert!(all.near(99, at([0.; 3]), within, &Progress::default()).unwrap().is_empty());
    let walls = all.walls(0).unwrap();
    assert!((walls[4].distance_mm - 15.0).abs() < 1e-9);
}

#[test]
fn parts_slide_until_the_clearance_stops_them_and_never_through_each_other() {
    let plate = samples::cuboid([-20., -20., -0.1], [20., 20., 0.1]);
    let cube = samples::cuboid([-5.; 3], [5.; 3]);
    let bodies = vec![body(&plate, at([0., 0., 30.])), body(&cube, at([0., 0., 70.]))];
    let mut all = PlacedBodies::new(bodies, space(3.0));
    let none = Progress::default();
    let way = all.slide(1, [0., 0., -2.], f64::INFINITY, &none).unwrap();
    // From 65 to 3 above 30.1, to 0.02.
    assert!((31.88..=31.9).contains(&way), "{way}");
    assert!((all.slide(1, [1., 0., 0.], 7.0, &none).unwrap() - 7.0).abs() < 1e-9);
    // Past the edge of the plate, then down to the platform: 3 above it.
    all.slide(1, [1., 0., 0.], 30.0, &none).unwrap();
    all.slide(1, [0., 0., -1.], f64::INFINITY, &none).unwrap();
    assert!((3.0..3.02).contains(&all.walls(1).unwrap()[4].distance_mm));
    all.sink(|_| true, 9, &none).unwrap();
    assert!(oracle::least_distance(all.bodies()) >= 3.0 - 1e-9);
    assert!((3.0..3.02).contains(&all.walls(0).unwrap()[4].distance_mm));
    assert!(all.slide(0, [0.; 3], 1.0, &none).unwrap() == 0.0);
    assert!(all.slide(9, [1., 0., 0.], 1.0, &none).unwrap() == 0.0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    /// Two balls: distance, overlap and removal by formula.
    #[test]
    fn balls_are_as_far_apart_as_their_centres_say(
        d in prop::array::uniform3(-20.0..20.0_f64),
        angles in prop::array::uniform3(-180.0..180.0_f64),
        scale in 0.9..1.1_f64,
    ) {
        let (a, b) = (samples::ball(6.0, 48), samples::ball(4.0, 48));
        let place = [60.0 + d[0], d[1], 80.0 + d[2]];
        let pose = at(place) * (Affine::scaling([scale; 3]) * Affine::rotation_deg(angles));
        let bodies = [body(&a, at([60., 0., 80.])), body(&b, pose)];
        let p = prove(&bodies, 8.0);
        let centres = d.iter().map(|c| c * c).sum::<f64>().sqrt();
        let expected = centres - 6.0 - 4.0 * scale;
        // Facets lie inside their balls by at most r (1 − cos² 3.75°), at corners of quads.
        let slack = (6.0 + 4.0 * scale) * (1.0 - 3.75_f64.to_radians().cos().powi(2));
        let found = p.pairs.first().map(|g| (g.distance_mm, g.contact));
        if expected > 0.0 && expected + slack < 16.0 {
            let (distance, contact) = found.unwrap();
            prop_assert!(contact == Contact::Apart);
            prop_assert!((-1e-9..slack).contains(&(distance - expected)), "{distance} {expected}");
        } else if expected + slack < 0.0 {
            prop_assert_eq!(found, Some((0.0, Contact::Overlap)));
        } else if expected > 16.0 {
            prop_assert_eq!(found, None);
        }
        if expected > 0.0 {
            prop_assert!(lift(&bodies).is_free());
        }
    }
}
