//! Parts moved by hand, on arrangements whose answers are known.

#![expect(clippy::float_cmp, reason = "what does not move at all has moved by nothing")]

use super::{oracle, samples};
use crate::{Blocked, Body, Motion, Obstacle, PlacedBodies, Solid, Space, Wall};
use base::vec3::Vec3;
use base::{Affine, Progress};
use mesh::Mesh;
use proptest::prelude::*;
use std::sync::Arc;

/// Within two steps of the grid on which parts are moved.
const EXACT: f64 = 2e-6;

fn quiet() -> Progress {
    Progress::default()
}

fn body(mesh: &Mesh, at: Vec3) -> Body {
    Body { solid: Arc::new(Solid::new(Arc::new(mesh.clone()))), pose: Affine::translation(at) }
}

fn cube(at: Vec3) -> Body {
    body(&samples::cuboid([-5.; 3], [5.; 3]), at)
}

fn space(clearance_mm: f64) -> Space {
    Space { size_mm: [200., 200., 200.], wall_clearance_mm: 2.0, clearance_mm }
}

fn place(all: &PlacedBodies, index: usize) -> Vec3 {
    all.bodies()[index].pose.rows.map(|row| row[3])
}

#[track_caller]
fn near(found: Vec3, expected: Vec3) {
    let off = (0..3).map(|k| (found[k] - expected[k]).abs()).fold(0.0, f64::max);
    assert!(off < EXACT, "{found:?} is not {expected:?}");
}

/// By brute force.
fn least(all: &PlacedBodies) -> f64 {
    oracle::least_distance(all.bodies())
}

#[test]
fn a_box_stops_at_the_clearance_and_at_the_wall() {
    for clearance in [0.0, 0.01, 3.0, 12.0] {
        let bodies = vec![cube([0., 0., 20.]), cube([60., 3., 20.])];
        let mut all = PlacedBodies::new(bodies, space(clearance));
        let carried = all.carry(&[0], [90., 0., 0.], |_| false, &quiet()).unwrap();
        near(place(&all, 0), [50.0 - clearance, 0., 20.]);
        assert_eq!(carried.blocked.unwrap().by, Obstacle::Part(1));
        assert_eq!(carried.moves.len(), 1);
        let carried = all.carry(&[0], [-500., 0., 0.], |_| false, &quiet()).unwrap();
        near(place(&all, 0), [-93., 0., 20.]);
        assert_eq!(
            carried.blocked,
            Some(Blocked { by: Obstacle::Wall(Wall::Left), away: [1., 0., 0.] })
        );
        all.carry(&[0], [20.3, 0., 0.], |_| false, &quiet()).unwrap();
        near(place(&all, 0), [-72.7, 0., 20.]);
    }
}

/// Thin as a sheet and far away: a long drag does not jump over it.
#[test]
fn nothing_is_passed_through() {
    let sheet = samples::cuboid([-0.15, -40., -40.], [0.15, 40., 40.]);
    for clearance in [0.0, 0.05, 1.0] {
        let bodies = vec![cube([-60., 0., 60.]), body(&sheet, [20., 0., 60.])];
        let mut all = PlacedBodies::new(bodies, space(clearance));
        all.carry(&[0], [140., 0., 0.], |_| false, &quiet()).unwrap();
        near(place(&all, 0), [14.85 - clearance, 0., 60.]);
    }
}

#[test]
fn a_ball_stops_where_it_is_exactly_as_near_as_allowed() {
    // Poles of the balls look at each other along Z, so that the chords do not matter.
    let ball = samples::ball(5.0, 48);
    let bodies = vec![body(&ball, [0., 0., 60.]), body(&ball, [0., 0., 20.])];
    let mut all = PlacedBodies::new(bodies, space(3.0));
    all.carry(&[0], [0., 0., -40.], |_| false, &quiet()).unwrap();
    near(place(&all, 0), [0., 0., 33.]);
    // Off centre: the distance is what is wanted, whatever the shape.
    let ball = samples::ball(5.0, 16);
    let bodies = vec![body(&ball, [4.0, 1.0, 60.]), body(&ball, [0., 0., 20.])];
    let mut all = PlacedBodies::new(bodies, space(3.0));
    all.carry(&[0], [0., 0., -40.], |_| false, &quiet()).unwrap();
    let gap = least(&all);
    assert!((0.0..EXACT).contains(&(gap - 3.0)), "{gap}");
}

#[test]
fn a_slanting_move_goes_on_along_what_it_meets() {
    let bodies = vec![
        cube([0., 0., 20.]),
        body(&samples::cuboid([-5., -60., -5.], [5., 60., 5.]), [40., 0., 20.]),
    ];
    let mut all = PlacedBodies::new(bodies, space(3.0));
    all.carry(&[0], [60., 35., 0.], |_| false, &quiet()).unwrap();
    near(place(&all, 0), [27., 35., 20.]);
    // Into the corner between the box and the wall.
    all.carry(&[0], [10., 400., 0.], |_| false, &quiet()).unwrap();
    let found = place(&all, 0);
    near([found[0].min(27.0), found[1], found[2]], [27., 93., 20.]);
}

#[test]
fn a_part_that_is_too_near_comes_away_but_not_nearer() {
    let bodies = vec![cube([0., 0., 20.]), cube([11., 0., 20.]), cube([-4., 0., 20.])];
    let mut all = PlacedBodies::new(bodies, space(3.0)); // 1 mm from one, overlapping the other
    all.carry(&[0], [5., 0., 0.], |_| false, &quiet()).unwrap();
    near(place(&all, 0), [0., 0., 20.]);
    all.carry(&[0], [0., 30., 0.], |_| false, &quiet()).unwrap();
    near(place(&all, 0), [0., 30., 20.]);
    all.carry(&[0], [0., -30., 0.], |_| false, &quiet()).unwrap();
    near(place(&all, 0), [0., 13., 20.]);
}

#[test]
fn a_box_falls_on_the_box_below_or_on_the_platform() {
    let bodies = vec![cube([0., 0., 80.]), cube([4., 4., 20.]), cube([50., 0., 33.])];
    let mut all = PlacedBodies::new(bodies, space(3.0));
    let by = all.drop_down(0, &quiet()).unwrap();
    assert!((by - 47.0).abs() < EXACT, "{by}");
    near(place(&all, 0), [0., 0., 33.]);
    all.drop_down(2, &quiet()).unwrap();
    near(place(&all, 2), [50., 0., 7.]);
    assert_eq!(all.drop_down(2, &quiet()).unwrap(), 0.0);
    assert_eq!(all.drop_down(7, &quiet()).unwrap(), 0.0);
}

#[test]
fn boxes_are_pushed_in_a_row_until_something_stops_them() {
    let bodies = vec![
        cube([0., 0., 20.]),
        cube([20., 3., 20.]),
        cube([40., -3., 20.]),
        cube([0., 40., 20.]), // beside: stays
        cube([80., 0., 20.]), // locked
    ];
    let mut all = PlacedBodies::new(bodies.clone(), space(3.0));
    let carried = all.carry(&[0], [25., 0., 0.], |part| part != 4, &quiet()).unwrap();
    near(place(&all, 0), [25., 0., 20.]);
    near(place(&all, 1), [38., 3., 20.]);
    near(place(&all, 2), [51., -3., 20.]);
    near(place(&all, 3), [0., 40., 20.]);
    assert_eq!(carried.moves.iter().map(|m| m.0).collect::<Vec<_>>(), [0, 1, 2]);
    assert_eq!(carried.blocked, None);
    let carried = all.carry(&[0], [90., 0., 0.], |part| part != 4, &quiet()).unwrap();
    near(place(&all, 2), [67., -3., 20.]);
    near(place(&all, 0), [41., 0., 20.]);
    assert_eq!(carried.blocked.unwrap().by, Obstacle::Part(4));
    let mut all = PlacedBodies::new(bodies, space(3.0));
    let carried = all.carry(&[0], [500., 0., 0.], |_| true, &quiet()).unwrap();
    near(place(&all, 4), [93., 0., 20.]);
    near(place(&all, 0), [93. - 39., 0., 20.]);
    assert_eq!(carried.blocked.unwrap().by, Obstacle::Wall(Wall::Right));
}

#[test]
fn several_move_as_one() {
    let bodies = vec![cube([0., 0., 20.]), cube([0., 13., 20.]), cube([40., 16., 20.])];
    let mut all = PlacedBodies::new(bodies, space(3.0));
    all.carry(&[0, 1], [90., 0., 0.], |_| false, &quiet()).unwrap();
    near(place(&all, 0), [27., 0., 20.]);
    near(place(&all, 1), [27., 13., 20.]);
    let (gaps, walls) = all.around(&[0, 1], 30.0, &quiet()).unwrap();
    assert_eq!(gaps[0].bodies, [1, 2]);
    assert!((gaps[0].distance_mm - 3.0).abs() < EXACT);
    assert_eq!(walls.len(), 6);
    assert!((walls[3].distance_mm - 82.0).abs() < 1e-9, "the second is nearer to the back");
}

#[test]
fn a_turn_stops_at_the_clearance() {
    // A bar of 40 × 4 turned about Z towards a box whose face is at y = 15.
    let bar = samples::cuboid([-20., -2., -2.], [20., 2., 2.]);
    let wide = samples::cuboid([-30., 0., -5.], [30., 10., 5.]);
    let bodies = vec![body(&bar, [0., 0., 20.]), body(&wide, [0., 15., 20.])];
    let mut all = PlacedBodies::new(bodies, space(3.0));
    let start = all.bodies()[0].pose;
    let at = |time: f64| vec![start * Affine::rotation_deg([0., 0., 90.0 * time])];
    let reach_mm = 90.0_f64.to_radians() * 21.0;
    let end = all.advance(&Motion { parts: &[0], at: &at, reach_mm }, &quiet()).unwrap();
    // The corner (20, 2) comes to y = 12: 20 sin φ + 2 cos φ = 12.
    let (sin, cos) = (90.0 * end.time).to_radians().sin_cos();
    assert!((20.0 * sin + 2.0 * cos - 12.0).abs() < EXACT, "{}", end.time);
    assert_eq!(end.blocked.unwrap().by, Obstacle::Part(1));
    let free = Motion { parts: &[], at: &|_| Vec::new(), reach_mm: 1.0 };
    assert_eq!(all.advance(&free, &quiet()).unwrap().time, 0.0);
}

#[test]
fn cancelled_work_says_so() {
    let mut all = PlacedBodies::new(vec![cube([0., 0., 20.]), cube([60., 3., 20.])], space(3.0));
    let progress = quiet();
    progress.cancel();
    assert!(all.carry(&[0], [90., 0., 0.], |_| false, &progress).is_err());
    near(place(&all, 0), [0., 0., 20.]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    /// Whatever is done by hand, nothing comes nearer than the clearance.
    #[test]
    fn no_move_ever_breaks_a_clearance(
        moves in prop::collection::vec((0..3_usize, -60.0..60.0_f64, -60.0..60.0_f64, -30.0..30.0_f64, any::<bool>()), 1..6),
    ) {
        let ball = samples::ball(8.0, 12);
        let bodies = vec![cube([-30., 0., 30.]), body(&ball, [0., 0., 30.]), cube([30., 10., 30.])];
        let mut all = PlacedBodies::new(bodies, space(2.0));
        for (part, x, y, z, pushes) in moves {
            all.carry(&[part], [x, y, z], |_| pushes, &quiet()).unwrap();
            prop_assert!(least(&all) > 2.0 - 1e-6, "{}", least(&all));
            for body in all.bodies() {
                oracle::assert_within_walls(&oracle::triangles_of(body), &space(2.0));
            }
        }
    }
}
