//! Walls and gaps against closed forms.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use crate::support::{cube, joined, revolved, sphere, turned};
use base::Progress;
use mesh::thickness::{Balls, Side, Spacing, Thin};
use mesh::{Hierarchy, Mesh};
use std::f64::consts::PI;

const SPACING: Spacing = Spacing { wanted_mm: 0.25, most: 100_000 };

fn thinner(mesh: &Mesh, side: Side, limit_mm: f64) -> Option<Thin> {
    let tree = Hierarchy::build(mesh);
    Balls::new(mesh, &tree).thinner(side, limit_mm, SPACING, &Progress::default()).unwrap()
}

fn cuboid(size: [f64; 3], at: [f64; 3]) -> Mesh {
    let mut mesh = cube(1.0, [0.0; 3]);
    for v in &mut mesh.vertices {
        *v = [0, 1, 2].map(|k| v[k] * size[k] + at[k]);
    }
    mesh
}

/// A wedge about its edge, the Y axis, of `angle` radians and `long` mm.
fn wedge(angle: f64, long: f64) -> Mesh {
    let (x, z) = (long * (angle / 2.0).cos(), long * (angle / 2.0).sin());
    let vertices = [-5.0, 5.0].iter().flat_map(|y| [[0.0, *y, 0.0], [x, *y, -z], [x, *y, z]]);
    let triangles = vec![
        [0, 1, 2],
        [3, 5, 4],
        [0, 3, 4],
        [0, 4, 1],
        [1, 4, 5],
        [1, 5, 2],
        [2, 5, 3],
        [2, 3, 0],
    ];
    Mesh { vertices: vertices.collect(), triangles }
}

/// At a point of one side, t from the edge, the ball that touches both sides has the radius t·tan(α/2).
#[test]
fn a_wedge_is_as_thick_as_the_ball_between_its_sides() {
    let angle = 20.0_f64.to_radians();
    let mesh = wedge(angle, 20.0);
    assert!(mesh::health(&mesh, &Progress::default()).unwrap().is_sound());
    let tree = Hierarchy::build(&mesh);
    let balls = Balls::new(&mesh, &tree);
    for t in [0.5, 2.0, 9.0] {
        let at = [t * (angle / 2.0).cos(), 0.3, -t * (angle / 2.0).sin()];
        let found = balls.diameter(2, at, Side::Inside, 50.0).unwrap();
        let expected = 2.0 * t * (angle / 2.0).tan();
        assert!((found - expected).abs() < 1e-6, "{t}: {found}, not {expected}");
        assert_eq!(
            balls.diameter(2, at, Side::Inside, expected),
            None,
            "the limit itself is allowed"
        );
    }
    // Where the ball is 1 mm: at t = 1/(2·tan 10°) from the edge, on both sides.
    let thin = thinner(&mesh, Side::Inside, 1.0).unwrap();
    let expected = 2.0 * 10.0 * 0.5 / (angle / 2.0).tan();
    assert!((thin.area_mm2 / expected - 1.0).abs() < 0.05, "{thin:?}, not {expected} mm²");
}

#[test]
fn plates_are_as_thick_at_their_edges_as_in_the_middle() {
    let plate = cuboid([20.0, 10.0, 0.6], [0.0; 3]);
    let thin = thinner(&plate, Side::Inside, 0.7).unwrap();
    assert!((thin.least_mm - 0.6).abs() < 1e-9, "{thin:?}");
    assert!((thin.area_mm2 - 400.0).abs() < 1e-9, "both large faces, no edge: {thin:?}");
    assert_eq!(thinner(&plate, Side::Inside, 0.6), None);
    assert_eq!(thinner(&plate, Side::Outside, 5.0), None);
}

#[test]
fn a_gap_of_a_hinge_is_as_wide_as_it_is() {
    let hinge = joined(&cuboid([10.0; 3], [0.0; 3]), &cuboid([10.0; 3], [10.45, 2.0, 0.0]));
    let thin = thinner(&hinge, Side::Outside, 0.5).unwrap();
    assert!((thin.least_mm - 0.45).abs() < 1e-6, "{thin:?}");
    // Both sides overlap on 8 × 10 mm. Beside it balls go on until the other face is half a millimetre off.
    assert!((157.0..166.0).contains(&thin.area_mm2), "{thin:?}");
    assert_eq!(thinner(&hinge, Side::Inside, 5.0), None);
}

/// Facets of n to the turn lie within r·(1 − cos(π/n)) of the true surface.
#[test]
fn spheres_pins_and_tubes_are_as_thick_as_their_facets_are() {
    let n = 32;
    let off = |r: f64| r * (1.0 - (PI / f64::from(n)).cos());
    let ball = thinner(&sphere(2.0, n), Side::Inside, 4.5).unwrap();
    // A facet looks up to π/n past the middle.
    let least = 1.0 - PI / f64::from(n);
    assert!((4.0 * least..=4.0).contains(&ball.least_mm), "{ball:?}");
    let pin = revolved(&[[0.0, 0.0], [0.3, 0.0], [0.3, 8.0], [0.0, 8.0]], n);
    let thin = thinner(&pin, Side::Inside, 0.7).unwrap();
    assert!((0.6 * least..=0.6).contains(&thin.least_mm), "{thin:?}");
    assert!((thin.area_mm2 / (2.0 * PI * 0.3 * 8.0) - 1.0).abs() < 0.01, "{thin:?}");
    let tube = revolved(&[[4.0, 0.0], [4.5, 0.0], [4.5, 8.0], [4.0, 8.0], [4.0, 0.0]], n);
    let thin = thinner(&tube, Side::Inside, 0.7).unwrap();
    assert!((thin.least_mm - 0.5).abs() < off(4.5) + 1e-9, "{thin:?}");
}

#[test]
fn what_bounds_nothing_is_no_wall() {
    // A plate within a block, and two blocks that cross by 0.3 mm: one solid each.
    let block = cube(10.0, [0.0; 3]);
    let inner = joined(&block, &cuboid([5.0, 5.0, 0.3], [2.0, 2.0, 4.0]));
    assert_eq!(thinner(&inner, Side::Inside, 0.7), None);
    let crossing = joined(&block, &cube(10.0, [9.7, 1.0, 1.0]));
    assert_eq!(thinner(&crossing, Side::Inside, 0.7), None);
    // The same plate turned around is a slit.
    let slit = joined(&block, &turned(&cuboid([5.0, 5.0, 0.3], [2.0, 2.0, 4.0])));
    assert!((thinner(&slit, Side::Outside, 0.5).unwrap().least_mm - 0.3).abs() < 1e-9);
}
