//! Bodies moved all at once by linear programs, on arrangements whose distances follow from plain
//! formulas.

use super::{oracle, samples};
use crate::exact::separation::Goal;
use crate::{Body, PlacedBodies, Solid, Space};
use base::vec3::Vec3;
use base::{Affine, Progress};
use mesh::Mesh;
use proptest::prelude::*;
use std::sync::Arc;

const SPACE: Space =
    Space { size_mm: [100.0, 100.0, 100.0], wall_clearance_mm: 2.0, clearance_mm: 3.0 };

fn at(mesh: Mesh, place: Vec3) -> Body {
    Body { solid: Arc::new(Solid::new(Arc::new(mesh))), pose: Affine::translation(place) }
}

fn cube(edge: f64, place: Vec3) -> Body {
    at(samples::cuboid([0.0; 3], [edge; 3]), place)
}

fn separated(bodies: Vec<Body>, may_move: &[bool], goal: Goal) -> (PlacedBodies, f64) {
    let mut all = PlacedBodies::new(bodies, SPACE);
    let missing = all.separate(may_move, goal, 60, &Progress::default()).unwrap();
    (all, missing)
}

fn low(all: &PlacedBodies, index: usize) -> f64 {
    all.bounds[index].unwrap().lo[2]
}

/// More cubes than are moved at once, two by two a millimetre too near, in layers: slab by slab all of them
/// get their clearance.
#[test]
fn many_bodies_go_apart_slab_by_slab() {
    let place = |n: u32| {
        let [x, y, z] = [n % 8, n / 8 % 8, n / 64].map(f64::from);
        let near = if n % 2 == 1 { -1.0 } else { 0.0 };
        [-46.0 + 10.0 * x + near, -46.0 + 10.0 * y, 4.0 + 10.0 * z]
    };
    let bodies: Vec<Body> = (0..256).map(|n| cube(6.5, place(n))).collect();
    let (all, missing) = separated(bodies, &[true; 256], Goal::Separated);
    let proof = crate::proof(&all.bodies, &SPACE, &Progress::default()).unwrap();
    assert!(missing <= 0.0 && proof.holds());
}

#[test]
fn what_is_too_near_goes_apart_and_not_much_farther() {
    let balls = [0.0, 10.5].map(|x| at(samples::ball(5.0, 24), [x, 0.0, 20.0])).to_vec();
    let (all, missing) = separated(balls, &[true; 2], Goal::Separated);
    assert!(missing <= 0.0);
    let distance = oracle::least_distance(&all.bodies);
    assert!((3.0 - 1e-6..3.3).contains(&distance), "{distance}");
}

/// Counted by hand: the platform's clearance, three edges, twice the clearance between parts.
#[test]
fn a_tower_comes_down_to_its_edges_and_clearances() {
    let tower = [2.5, 17.0, 31.0].map(|z| cube(10.0, [0.0, 0.0, z])).to_vec();
    let (all, missing) = separated(tower, &[true; 3], Goal::LowestTop);
    let top = all.bounds[2].unwrap().hi[2];
    assert!(missing <= 0.0 && (top - 38.0).abs() < 1e-3, "{top}");
}

/// What touches is pressed together to the last digit: a cube on a cube, after both came down. Counted by
/// hand.
#[test]
fn what_may_touch_is_pressed_together() {
    let space = Space { clearance_mm: 0.0, ..SPACE };
    let tower = [2.5, 14.0, 25.0].map(|z| cube(10.0, [0.0, 0.0, z])).to_vec();
    let mut all = PlacedBodies::new(tower, space);
    all.press_together(&[true; 3], &Progress::default()).unwrap();
    let top = all.bounds[2].unwrap().hi[2];
    assert!((top - 32.0).abs() < 1e-3, "{top}");
    // Boxes: a cube lies on a cube if it is one edge higher.
    let heights = [0, 1, 2].map(|n| low(&all, n));
    assert!(heights.windows(2).all(|h| h[1] - h[0] >= 10.0 - 1e-6), "{heights:?}");
}

/// A ball above a gap that is too narrow for it: no move of one part alone lets it down.
#[test]
fn what_is_below_makes_way_unless_it_is_locked() {
    let parts = || {
        let ball = at(samples::ball(5.0, 24), [0.0, 0.0, 20.0]);
        vec![ball, cube(8.0, [-14.0, -4.0, 2.0]), cube(8.0, [6.0, -4.0, 2.0])]
    };
    let (all, missing) = separated(parts(), &[true; 3], Goal::Compact);
    assert!(missing <= 0.0 && (low(&all, 0) - 2.0).abs() < 0.05, "{}", low(&all, 0));
    let (all, missing) = separated(parts(), &[true, false, false], Goal::Compact);
    assert!(missing <= 0.0 && low(&all, 0) > 3.0, "{}", low(&all, 0));
    assert_eq!(all.bodies[1].pose, parts()[1].pose);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// What it says is missing is missing by the formula for boxes along the axes; what is locked stays
    /// where it is.
    #[test]
    fn what_counts_as_clear_is_clear_by_formula(
        edges in prop::collection::vec(3.0..9.0_f64, 9),
        shifts in prop::collection::vec(prop::array::uniform3(-1.4..1.4_f64), 9),
        locked in prop::collection::vec(any::<bool>(), 9),
        low in any::<bool>(),
    ) {
        let place = |n: usize, k: usize| {
            let cell = [n % 3, n / 3 % 3, 0][k] as f64;
            12.0 * cell + shifts[n][k] + if k == 2 { 4.0 } else { -20.0 }
        };
        let bodies: Vec<Body> =
            (0..9).map(|n| cube(edges[n], [0, 1, 2].map(|k| place(n, k)))).collect();
        let may_move: Vec<bool> = locked.iter().map(|l| !l).collect();
        let goal = if low { Goal::Compact } else { Goal::Separated };
        let before = bodies.clone();
        let (all, missing) = separated(bodies, &may_move, goal);
        for (n, body) in before.iter().enumerate().filter(|(n, _)| locked[*n]) {
            prop_assert_eq!(all.bodies[n].pose, body.pose);
        }
        let corner = |n: usize, k: usize| all.bodies[n].pose.rows[k][3];
        let distance = |a: usize, b: usize| {
            let square = |k: usize| {
                let (p, q) = (corner(a, k), corner(b, k));
                (p - (q + edges[b])).max(q - (p + edges[a])).max(0.0).powi(2)
            };
            (square(0) + square(1) + square(2)).sqrt()
        };
        let pairs = (0..9).flat_map(|a| (0..a).map(move |b| (a, b)));
        let free = pairs.filter(|(a, b)| may_move[*a] || may_move[*b]);
        let short: f64 =
            free.map(|(a, b)| (SPACE.clearance_mm - distance(a, b)).max(0.0)).sum();
        prop_assert!((short - missing).abs() < 1e-5, "{short} {missing}");
    }
}
