//! Distances against brute force, formulas and parry3d.

use super::*;
use base::vec3::{dot, sub};
use parry3d::math::{Pose, Vector};
use parry3d::shape::TriMesh;
use proptest::prelude::*;

/// A torus about Z, `n` × `n` quads.
pub(crate) fn torus(large: f64, small: f64, n: u32) -> Mesh {
    let mut mesh = Mesh::default();
    for i in 0..n {
        for j in 0..n {
            let [u, v] = [i, j].map(|k| std::f64::consts::TAU * f64::from(k) / f64::from(n));
            let r = large + small * v.cos();
            mesh.vertices.push([r * u.cos(), r * u.sin(), small * v.sin()]);
            let corner = |i: u32, j: u32| (i % n) * n + j % n;
            let [a, b] = [corner(i, j), corner(i + 1, j)];
            let [c, d] = [corner(i + 1, j + 1), corner(i, j + 1)];
            mesh.triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    mesh
}

pub(crate) fn cuboid(lo: Vec3, hi: Vec3) -> Mesh {
    let vertices = (0..8).map(|i| [0, 1, 2].map(|k| if i >> k & 1 == 0 { lo[k] } else { hi[k] }));
    let faces =
        [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    Mesh {
        vertices: vertices.collect(),
        triangles: faces.iter().flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]).collect(),
    }
}

pub(crate) struct Solid(Surface);

impl Solid {
    pub(crate) fn new(mesh: Mesh) -> Self {
        Self(Surface::new(Arc::new(mesh)))
    }

    pub(crate) fn at(&self, pose: Affine) -> Posed<'_> {
        Posed { surface: &self.0, pose }
    }
}

fn ask(a: &Posed, b: &Posed) -> Nearest {
    distance(a, b, &Query::default(), &Progress::default()).unwrap().unwrap()
}

fn brute(a: &Posed, b: &Posed) -> f64 {
    let all = |p: &Posed| -> Vec<[Vec3; 3]> {
        let mesh = &p.surface.mesh;
        (0..mesh.triangles.len()).map(|t| mesh.corners(t).map(|c| p.pose.apply(c))).collect()
    };
    let mut least = f64::INFINITY;
    for s in all(a) {
        for t in all(b) {
            let d = if meet_deep(&s, &t).is_some() { 0.0 } else { measure(&s, &t).square.sqrt() };
            least = least.min(d);
        }
    }
    least
}

fn arbitrary_pose() -> impl Strategy<Value = Affine> {
    let scale = prop_oneof![Just([1.0; 3]), Just([1.03, 1.03, 1.025]), Just([0.7, 1.4, 1.0])];
    let turns = prop_oneof![Just([0.0; 3]), prop::array::uniform3(-180.0..180.0_f64)];
    (prop::array::uniform3(-25.0..25.0_f64), turns, scale).prop_map(|(t, r, s)| {
        Affine::translation(t) * (Affine::scaling(s) * Affine::rotation_deg(r))
    })
}

/// Turns a pose without scaling into parry's.
fn parry_pose(pose: &Affine) -> Pose {
    let column = |k: usize| Vector::from_array([0, 1, 2].map(|i| narrow(pose.rows[i][k])));
    let turn = parry3d::glamx::Mat3::from_cols(column(0), column(1), column(2));
    Pose::from_parts(column(3), parry3d::glamx::Quat::from_mat3(&turn))
}

#[expect(clippy::cast_possible_truncation, reason = "parry3d works in single precision")]
fn narrow(x: f64) -> f32 {
    x as f32
}

fn parry_mesh(mesh: &Mesh) -> TriMesh {
    let vertices = mesh.vertices.iter().map(|v| Vector::from_array(v.map(narrow))).collect();
    TriMesh::new(vertices, mesh.triangles.clone()).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn the_distance_is_that_of_the_nearest_of_all_pairs(
        a in arbitrary_pose(),
        b in arbitrary_pose(),
        limit in 0.0..30.0_f64,
    ) {
        let (ring, block) = (Solid::new(torus(8.0, 2.5, 11)), Solid::new(cuboid([-3.; 3], [4., 5., 9.])));
        for (p, q) in [(ring.at(a), block.at(b)), (block.at(a), block.at(b)), (ring.at(a), ring.at(b))] {
            let expected = brute(&p, &q);
            let found = ask(&p, &q);
            prop_assert!((found.distance_mm - expected).abs() < 1e-11, "{} {expected}", found.distance_mm);
            let d = sub(found.points_mm[0], found.points_mm[1]);
            prop_assert!((dot(d, d).sqrt() - found.distance_mm).abs() < 1e-11);
            let query = Query { limit_mm: limit, hint: Some(found.triangles), ..Query::default() };
            let limited = distance(&p, &q, &query, &Progress::default()).unwrap();
            prop_assert_eq!(limited.map(|l| l.distance_mm < 1e-9), (expected <= limit).then_some(expected < 1e-9));
        }
    }

    /// parry3d 0.31, single precision; its pairs of triangles are measured by an iteration that ends
    /// some 1e-3 mm too far.
    #[test]
    fn parry3d_finds_the_same(
        shift in prop::array::uniform3(-30.0..30.0_f64),
        turns in prop::array::uniform3(-180.0..180.0_f64),
    ) {
        let rings = [Solid::new(torus(20.0, 5.0, 24)), Solid::new(torus(12.0, 3.0, 20))];
        let pose = Affine::translation(shift) * Affine::rotation_deg(turns);
        let found = ask(&rings[0].at(Affine::IDENTITY), &rings[1].at(pose));
        let [a, b] = [&rings[0], &rings[1]].map(|r| parry_mesh(r.0.mesh()));
        let theirs = parry3d::query::distance(&parry_pose(&Affine::IDENTITY), &a, &parry_pose(&pose), &b);
        let theirs = f64::from(theirs.unwrap().distance);
        prop_assert!((-1e-4..4e-3).contains(&(theirs - found.distance_mm)), "{} {theirs}", found.distance_mm);
    }
}

/// Linked tori, R 20 and r 5 offset by 20 with one turned 90°: the tube of each passes through the
/// middle of the other, 20 − 2·5 from its inner rim all around.
#[test]
fn linked_tori_are_ten_apart_to_within_their_facets() {
    let ring = Solid::new(torus(20.0, 5.0, 64));
    let other = Affine::translation([20., 0., 0.]) * Affine::rotation_deg([90., 0., 0.]);
    let found = ask(&ring.at(Affine::IDENTITY), &ring.at(other));
    // Facets lie inside the tube and outside the hole by at most (R + r)(1 − cos(π/64)) = 0.03.
    assert!((10.0 - 0.04..10.0 + 0.07).contains(&found.distance_mm), "{found:?}");
    assert!(!found.crosses);
}

#[test]
fn boxes_touch_cross_and_keep_apart() {
    let block = Solid::new(cuboid([0.; 3], [10., 20., 30.]));
    let at = |t: Vec3| ask(&block.at(Affine::IDENTITY), &block.at(Affine::translation(t)));
    let close = |x: f64, y: f64| (x - y).abs() < 1e-12;
    assert!(close(at([13., 24., 0.]).distance_mm, 5.0));
    assert!(close(at([12., 21., 32.]).distance_mm, 3.0));
    let touch = at([10., 3., 0.]);
    assert!(touch.distance_mm == 0.0 && !touch.crosses, "{touch:?}");
    let cross = at([8., 3., 5.]);
    assert!(cross.distance_mm == 0.0 && cross.crosses);
    // Less deep than asked for, surfaces touch.
    let query = Query { touch_mm: 1e-6, ..Query::default() };
    let (p, q) = (block.at(Affine::IDENTITY), block.at(Affine::translation([10.0 - 1e-9, 3., 5.])));
    let shallow = distance(&p, &q, &query, &Progress::default()).unwrap().unwrap();
    assert!(shallow.distance_mm == 0.0 && !shallow.crosses);
    let q = block.at(Affine::translation([10.0 - 1e-5, 3., 5.]));
    let deep = distance(&p, &q, &query, &Progress::default()).unwrap().unwrap();
    assert!(deep.crosses);
}

#[test]
fn inside_is_where_the_surface_winds_around() {
    let ring = Solid::new(torus(20.0, 5.0, 32));
    let pose = Affine::translation([3., 0., 0.]) * Affine::rotation_deg([90., 0., 30.]);
    let inside = |p: Vec3| is_inside(&ring.at(pose), pose.apply(p));
    assert!(inside([20., 0., 0.]) && !inside([0.; 3]) && !inside([30., 0., 0.]));
}

#[test]
fn what_has_no_surface_has_no_distance() {
    let (none, block) = (Solid::new(Mesh::default()), Solid::new(cuboid([0.; 3], [1.; 3])));
    let ask =
        |a: &Posed, b: &Posed| distance(a, b, &Query::default(), &Progress::default()).unwrap();
    assert_eq!(ask(&none.at(Affine::IDENTITY), &block.at(Affine::IDENTITY)), None);
    let flat = Affine::scaling([1., 1., 0.]);
    assert_eq!(ask(&block.at(flat), &block.at(Affine::IDENTITY)), None);
    let lost = Affine::translation([f64::NAN; 3]);
    assert_eq!(ask(&block.at(lost), &block.at(Affine::IDENTITY)), None);
    let cancelled = Progress::default();
    cancelled.cancel();
    let ring = Solid::new(torus(8.0, 2.0, 64));
    let linked = Affine::translation([8., 0., 0.]) * Affine::rotation_deg([90., 0., 0.]);
    let result =
        distance(&ring.at(Affine::IDENTITY), &ring.at(linked), &Query::default(), &cancelled);
    assert_eq!(result, Err(Cancelled));
}
