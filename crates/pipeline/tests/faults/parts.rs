//! Parts by formula.

use mesh::Mesh;
use std::f64::consts::TAU;
use std::fmt::Write;

/// A box from its lowest to its highest corner.
pub(super) fn cuboid(low: [f64; 3], high: [f64; 3]) -> Mesh {
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

/// A profile of radius and height turned about Z, from the axis below, outside, to the axis above.
fn revolved(profile: &[[f64; 2]]) -> Mesh {
    const N: u32 = 48;
    let inner = &profile[1..profile.len() - 1];
    let mut mesh = Mesh::default();
    mesh.vertices.extend([profile[0][1], profile[profile.len() - 1][1]].map(|z| [0.0, 0.0, z]));
    for [radius, z] in inner {
        for k in 0..N {
            let angle = TAU * f64::from(k) / f64::from(N);
            mesh.vertices.push([radius * angle.cos(), radius * angle.sin(), *z]);
        }
    }
    let rings = u32::try_from(inner.len()).unwrap();
    for k in 0..N {
        let at = |ring: u32, k: u32| 2 + ring * N + k % N;
        mesh.triangles.push([0, at(0, k + 1), at(0, k)]);
        mesh.triangles.push([1, at(rings - 1, k), at(rings - 1, k + 1)]);
        for ring in 1..rings {
            let [a, b, c, d] = [at(ring - 1, k), at(ring - 1, k + 1), at(ring, k + 1), at(ring, k)];
            mesh.triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    mesh
}

pub(super) fn block_with_cavity(edge: f64) -> Mesh {
    let mut mesh = cuboid([0.0; 3], [edge + 6.0, edge + 5.0, edge + 4.0]);
    let cavity = cuboid([2.0; 3], [edge + 2.0; 3]);
    mesh.vertices.extend(cavity.vertices);
    mesh.triangles.extend(cavity.triangles.iter().map(|[a, b, c]| [a + 8, c + 8, b + 8]));
    mesh
}

/// A chamber 10 mm wide and 6 mm high in walls of 2 mm, with a hole in its lid.
pub(super) fn pot(neck: f64) -> Mesh {
    let r = neck / 2.0;
    revolved(&[
        [0.0, 0.0],
        [7.0, 0.0],
        [7.0, 10.0],
        [r, 10.0],
        [r, 8.0],
        [5.0, 8.0],
        [5.0, 2.0],
        [0.0, 2.0],
    ])
}

/// A blind bore in a rod.
pub(super) fn bored(wide: f64, deep: f64) -> Mesh {
    let (r, high) = (wide / 2.0, deep + 2.0);
    revolved(&[[0.0, 0.0], [5.0, 0.0], [5.0, high], [r, high], [r, 2.0], [0.0, 2.0]])
}

/// A pin on a disc.
pub(super) fn pin(thick: f64) -> Mesh {
    let r = thick / 2.0;
    revolved(&[[0.0, 0.0], [4.0, 0.0], [4.0, 2.0], [r, 2.0], [r, 8.0], [0.0, 8.0]])
}

/// Two leaves side by side.
pub(super) fn hinge(gap: f64) -> Mesh {
    let mut mesh = cuboid([0.0; 3], [6.0, 8.0, 3.0]);
    let other = cuboid([6.0 + gap, 0.0, 0.0], [12.0 + gap, 8.0, 3.0]);
    mesh.vertices.extend(other.vertices);
    mesh.triangles.extend(other.triangles.iter().map(|t| t.map(|v| v + 8)));
    mesh
}

/// As OBJ.
pub(super) fn obj(mesh: &Mesh) -> String {
    let mut text = String::new();
    for [x, y, z] in &mesh.vertices {
        writeln!(text, "v {x} {y} {z}").unwrap();
    }
    for [a, b, c] in &mesh.triangles {
        writeln!(text, "f {} {} {}", a + 1, b + 1, c + 1).unwrap();
    }
    text
}
