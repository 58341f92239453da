//! Small parts made by formula: each has something that vectors can get wrong.

use mesh::Mesh;
use std::f64::consts::TAU;
use std::fmt::Write;

/// Names and meshes of the six parts, mm.
pub(crate) fn parts() -> Vec<(&'static str, Mesh)> {
    vec![
        ("box", cuboid([0.0; 3], [5.0, 4.0, 0.8])),
        ("ladder", ladder()),
        ("plate", plate()),
        ("tube", tube(&circle(1.7, 28), &circle(0.7, 28), 1.6)),
        ("fin", fin()),
        ("comb", comb()),
    ]
}

/// A box from its lowest to its highest corner.
fn cuboid(low: [f64; 3], high: [f64; 3]) -> Mesh {
    let [x, y, z] = low;
    prism(&[[x, y], [high[0], y], [high[0], high[1]], [x, high[1]]], z, high[2])
}

/// A prism on a convex polygon, anticlockwise.
fn prism(corners: &[[f64; 2]], low: f64, high: f64) -> Mesh {
    let n = u32::try_from(corners.len()).unwrap();
    let at = |z: f64| corners.iter().map(move |[x, y]| [*x, *y, z]);
    let vertices = at(low).chain(at(high)).collect();
    let mut triangles = Vec::new();
    for i in 0..n {
        let j = (i + 1) % n;
        triangles.extend([[i, j, n + j], [i, n + j, n + i]]);
    }
    for i in 1..n - 1 {
        triangles.extend([[0, i + 1, i], [n, n + i, n + i + 1]]);
    }
    Mesh { vertices, triangles }
}

/// What lies between two rings of as many corners, from 0 to a height.
fn tube(outer: &[[f64; 2]], inner: &[[f64; 2]], height: f64) -> Mesh {
    let n = u32::try_from(outer.len()).unwrap();
    let mut vertices = Vec::new();
    for z in [0.0, height] {
        for ring in [outer, inner] {
            vertices.extend(ring.iter().map(|[x, y]| [*x, *y, z]));
        }
    }
    let mut triangles = Vec::new();
    for k in 0..n {
        let m = (k + 1) % n;
        // Below: outer k, inner n + k; above: outer 2n + k, inner 3n + k.
        for [a, b, c, d] in [
            [k, m, 2 * n + m, 2 * n + k],
            [n + m, n + k, 3 * n + k, 3 * n + m],
            [2 * n + k, 2 * n + m, 3 * n + m, 3 * n + k],
            [m, k, n + k, n + m],
        ] {
            triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    Mesh { vertices, triangles }
}

fn circle(radius: f64, corners: u32) -> Vec<[f64; 2]> {
    let angle = |i: u32| TAU * f64::from(i) / f64::from(corners);
    (0..corners).map(|i| [radius * angle(i).cos(), radius * angle(i).sin()]).collect()
}

/// A square with as many corners on its sides as a circle has, each seen under the same angle.
fn square(half: f64, corners: u32) -> Vec<[f64; 2]> {
    let onto = |[x, y]: [f64; 2]| {
        let reach = half / f64::max(x.abs(), y.abs());
        [x * reach, y * reach]
    };
    circle(1.0, corners).into_iter().map(onto).collect()
}

/// Walls from 0.2 to 3 mm, and one that grows from the one to the other.
fn ladder() -> Mesh {
    let mut x = 0.0;
    let mut walls = Vec::new();
    for width in [0.2, 0.3, 0.45, 0.6, 0.8, 1.0, 1.2, 1.45, 1.7, 2.2] {
        walls.push(cuboid([x, 0.0, 0.0], [x + width, 3.0, 0.6]));
        x += width + 0.6;
    }
    walls.push(prism(&[[0.0, 4.0], [9.0, 4.0], [9.0, 7.0], [0.0, 4.2]], 0.0, 0.6));
    joined(walls)
}

/// A square plate with a round hole beside a round one with a square hole.
fn plate() -> Mesh {
    let mut round = tube(&circle(2.4, 32), &square(1.0, 32), 0.7);
    round.vertices.iter_mut().for_each(|[x, _, _]| *x += 5.5);
    joined(vec![tube(&square(2.6, 32), &circle(1.1, 32), 0.7), round])
}

/// A fin on a block, and a ledge that reaches out over powder.
fn fin() -> Mesh {
    joined(vec![
        cuboid([0.0, 0.0, 0.0], [4.0, 3.5, 0.6]),
        cuboid([0.5, 1.0, 0.3], [3.5, 1.9, 1.1]),
        cuboid([-1.5, 2.2, 0.8], [3.8, 3.4, 1.3]),
        cuboid([3.0, 2.2, 0.3], [3.8, 3.4, 1.0]),
    ])
}

fn comb() -> Mesh {
    let mut all = vec![cuboid([0.0, 0.0, 0.0], [7.5, 1.6, 0.6])];
    let mut x = 0.0;
    for width in [0.25, 0.5, 0.7, 0.9, 1.3] {
        all.push(cuboid([x, 1.0, 0.0], [x + width, 4.0, 0.6]));
        x += width + 0.7;
    }
    joined(all)
}

fn joined(meshes: Vec<Mesh>) -> Mesh {
    let mut all = Mesh::default();
    for mesh in meshes {
        let offset = u32::try_from(all.vertices.len()).unwrap();
        all.vertices.extend(mesh.vertices);
        all.triangles.extend(mesh.triangles.iter().map(|t| t.map(|v| v + offset)));
    }
    all
}

/// As OBJ.
pub(crate) fn obj(mesh: &Mesh) -> String {
    let mut text = String::new();
    for [x, y, z] in &mesh.vertices {
        writeln!(text, "v {x} {y} {z}").unwrap();
    }
    for [a, b, c] in &mesh.triangles {
        writeln!(text, "f {} {} {}", a + 1, b + 1, c + 1).unwrap();
    }
    text
}
