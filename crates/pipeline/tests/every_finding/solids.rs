//! Meshes made by formula, and their files.

use base::Affine;
use mesh::Mesh;
use std::f64::consts::TAU;
use std::fmt::Write;

/// A box from its lowest to its highest corner.
pub(crate) fn cuboid(low: [f64; 3], high: [f64; 3]) -> Mesh {
    let corner = |k: usize| {
        std::array::from_fn(|axis| if k >> axis & 1 == 0 { low[axis] } else { high[axis] })
    };
    let quads =
        [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    Mesh {
        vertices: (0..8).map(corner).collect(),
        triangles: quads.iter().flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]).collect(),
    }
}

pub(crate) fn cube(edge: f64) -> Mesh {
    cuboid([0.0; 3], [edge; 3])
}

/// A torus about Z.
pub(crate) fn ring(large: f64, small: f64) -> Mesh {
    const N: u32 = 24;
    let mut mesh = Mesh::default();
    for i in 0..N {
        for j in 0..N {
            let [u, v] = [i, j].map(|k| TAU * f64::from(k) / f64::from(N));
            let r = large + small * v.cos();
            mesh.vertices.push([r * u.cos(), r * u.sin(), small * v.sin()]);
            let corner = |i: u32, j: u32| i % N * N + j % N;
            let [a, b, c, d] =
                [corner(i, j), corner(i + 1, j), corner(i + 1, j + 1), corner(i, j + 1)];
            mesh.triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    mesh
}

/// A rectangular frame about the origin, flat along the last of the three axes, of square bars.
/// `half` are the half sizes of its middle line along the first two.
pub(crate) fn frame([across, along, flat]: [usize; 3], half: [f64; 2], bar: f64) -> Mesh {
    let mut vertices = Vec::new();
    for z in [-bar / 2.0, bar / 2.0] {
        for reach in [bar / 2.0, -bar / 2.0] {
            for (x, y) in [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
                let mut vertex = [0.0; 3];
                vertex[across] = x * (half[0] + reach);
                vertex[along] = y * (half[1] + reach);
                vertex[flat] = z;
                vertices.push(vertex);
            }
        }
    }
    let mut triangles = Vec::new();
    for k in 0..4_u32 {
        let n = (k + 1) % 4;
        // Below: outer k, inner 4 + k; above: outer 8 + k, inner 12 + k.
        for [a, b, c, d] in [
            [k, n, 8 + n, 8 + k],
            [4 + n, 4 + k, 12 + k, 12 + n],
            [8 + k, 8 + n, 12 + n, 12 + k],
            [n, k, 4 + k, 4 + n],
        ] {
            triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    Mesh { vertices, triangles }
}

pub(crate) fn joined(a: &Mesh, b: &Mesh) -> Mesh {
    let offset = u32::try_from(a.vertices.len()).unwrap();
    let mut all = a.clone();
    all.vertices.extend(&b.vertices);
    all.triangles.extend(b.triangles.iter().map(|t| t.map(|v| v + offset)));
    all
}

pub(crate) fn moved(mesh: &Mesh, by: [f64; 3]) -> Mesh {
    let by = Affine::translation(by);
    Mesh { vertices: mesh.vertices.iter().map(|v| by.apply(*v)).collect(), ..mesh.clone() }
}

/// With its inside out.
pub(crate) fn reversed(mesh: &Mesh) -> Mesh {
    Mesh {
        triangles: mesh.triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect(),
        ..mesh.clone()
    }
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
