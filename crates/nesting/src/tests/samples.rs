//! Small meshes for tests.

use crate::{Item, Orientations, Solid};
use base::vec3::Vec3;
use mesh::Mesh;
use std::sync::Arc;

/// A mesh as a part.
pub(crate) fn solid(mesh: Mesh) -> Arc<Solid> {
    Arc::new(Solid::new(Arc::new(mesh)))
}

/// The box from `lo` to `hi`.
pub(crate) fn cuboid(lo: [f64; 3], hi: [f64; 3]) -> Mesh {
    let mut mesh = Mesh::default();
    crate::cage::push_box(&mut mesh, lo, hi);
    mesh
}

/// Copies of a cuboid that may be turned by quarters.
pub(crate) fn item(size: Vec3, quantity: u32) -> Item {
    Item {
        name: String::new(),
        solid: solid(cuboid([5.; 3], size.map(|s| s + 5.))),
        quantity,
        orientations: Orientations::QuarterTurns,
        scale: [1.0; 3],
        due: None,
    }
}

/// A ball about the origin, `n` steps around and half as many from pole to pole.
pub(crate) fn ball(radius: f64, n: u32) -> Mesh {
    let rings = n / 2;
    let mut mesh = Mesh::default();
    let point = |i: u32, j: u32| {
        let (theta, phi) = (
            std::f64::consts::PI * f64::from(i) / f64::from(rings),
            std::f64::consts::TAU * f64::from(j) / f64::from(n),
        );
        [radius * theta.sin() * phi.cos(), radius * theta.sin() * phi.sin(), radius * theta.cos()]
    };
    mesh.vertices.push(point(0, 0));
    mesh.vertices.push(point(rings, 0));
    for i in 1..rings {
        for j in 0..n {
            mesh.vertices.push(point(i, j));
        }
    }
    let at = |i: u32, j: u32| match i {
        0 => 0,
        i if i == rings => 1,
        i => 2 + (i - 1) * n + j % n,
    };
    for i in 0..rings {
        for j in 0..n {
            for t in [
                [at(i, j), at(i + 1, j), at(i + 1, j + 1)],
                [at(i, j), at(i + 1, j + 1), at(i, j + 1)],
            ] {
                if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
                    mesh.triangles.push(t);
                }
            }
        }
    }
    mesh
}

/// The union of unit cells as touching cubes scaled by `edge`.
pub(crate) fn polycube(cells: &[[i32; 3]], edge: f64) -> Mesh {
    // Only the faces between a cell and no cell, so that the surface is closed and simple.
    const CORNERS: [[i32; 3]; 8] =
        [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]];
    const FACES: [([i32; 3], [usize; 4]); 6] = [
        ([0, 0, -1], [0, 3, 2, 1]),
        ([0, 0, 1], [4, 5, 6, 7]),
        ([0, -1, 0], [0, 1, 5, 4]),
        ([0, 1, 0], [3, 7, 6, 2]),
        ([-1, 0, 0], [0, 4, 7, 3]),
        ([1, 0, 0], [1, 2, 6, 5]),
    ];
    let mut mesh = Mesh::default();
    for c in cells {
        for (out, face) in FACES {
            if cells.contains(&[c[0] + out[0], c[1] + out[1], c[2] + out[2]]) {
                continue;
            }
            let base = u32::try_from(mesh.vertices.len()).unwrap();
            for k in face {
                mesh.vertices.push([0, 1, 2].map(|a| f64::from(c[a] + CORNERS[k][a]) * edge));
            }
            mesh.triangles.push([base, base + 1, base + 2]);
            mesh.triangles.push([base, base + 2, base + 3]);
        }
    }
    mesh
}

/// A torus about Z, `n` steps around and half as many around its tube.
pub(crate) fn ring(large: f64, small: f64, n: u32) -> Mesh {
    let m = n / 2;
    let mut mesh = Mesh::default();
    for i in 0..n {
        for j in 0..m {
            let angle = |k: u32, n: u32| std::f64::consts::TAU * f64::from(k) / f64::from(n);
            let (u, v) = (angle(i, n), angle(j, m));
            let r = large + small * v.cos();
            mesh.vertices.push([r * u.cos(), r * u.sin(), small * v.sin()]);
            let corner = |i: u32, j: u32| (i % n) * m + j % m;
            let [a, b] = [corner(i, j), corner(i + 1, j)];
            let [c, d] = [corner(i + 1, j + 1), corner(i, j + 1)];
            mesh.triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    mesh
}

/// An upright rod with a wide bar across each end.
pub(crate) fn cross_rod() -> Mesh {
    let mut cells: Vec<[i32; 3]> = (-5..=5).map(|z| [0, 0, z]).collect();
    for z in [-5, 5] {
        cells.extend((-4..=4).filter(|x| *x != 0).map(|x| [x, 0, z]));
    }
    let mut mesh = polycube(&cells, 6.0);
    for v in &mut mesh.vertices {
        *v = v.map(|c| c - 3.0);
    }
    mesh
}

/// A box open at the top, 4 × 4 × 3 edges, one edge thick.
pub(crate) fn bowl(edge: f64) -> Mesh {
    let mut cells = Vec::new();
    for x in 0..4 {
        for y in 0..4 {
            for z in 0..3 {
                if z == 0 || x % 3 == 0 || y % 3 == 0 {
                    cells.push([x, y, z]);
                }
            }
        }
    }
    polycube(&cells, edge)
}
