//! Meshes with known sections, and a cut at any height.

use base::{Affine, Progress};
use mesh::{Mesh, Topology};
use region::Region;
use slicing::{Scratch, Section, Slicer};
use std::f64::consts::TAU;

/// Cuts an unplaced mesh at any height: it is lowered until that is the middle of layer 0.
pub(crate) fn section_at(mesh: &Mesh, z_mm: f64) -> Section {
    slicer_at(mesh, z_mm).section(0, &mut Scratch::default())
}

/// As [`section_at`], resolved to a proper region.
pub(crate) fn region_at(mesh: &Mesh, z_mm: f64) -> Region {
    slicer_at(mesh, z_mm).proper_section(0, &mut Scratch::default()).0
}

fn slicer_at(mesh: &Mesh, z_mm: f64) -> Slicer {
    const THICKNESS_MM: f64 = 1e-3; // small, so that lowering costs no digits
    let lowered = Affine::translation([0.0, 0.0, 0.5 * THICKNESS_MM - z_mm]);
    placed(mesh, &lowered, THICKNESS_MM)
}

/// A slicer of a mesh that is expected to be fit for it.
pub(crate) fn placed(mesh: &Mesh, pose: &Affine, thickness_mm: f64) -> Slicer {
    Slicer::new(mesh, &Topology::new(mesh), pose, thickness_mm, &Progress::default()).unwrap()
}

/// A solid around the Z axis whose radius at height `z` in direction `φ` is `radius(z, φ)`:
/// linear between the levels and between `n` directions. Where the first or last radius is
/// zero the solid ends in a point, else in a flat cap.
pub(crate) fn stack(levels: &[f64], n: u32, radius: impl Fn(f64, f64) -> f64) -> Mesh {
    let mut mesh = Mesh::default();
    let (first, last) = (levels[0], levels[levels.len() - 1]);
    let tip = |z: f64| radius(z, 0.0) < 1e-9;
    let rings: Vec<f64> = levels.iter().copied().filter(|&z| !tip(z)).collect();
    for &z in &rings {
        for j in 0..n {
            let phi = TAU * f64::from(j) / f64::from(n);
            let r = radius(z, phi);
            mesh.vertices.push([r * phi.cos(), r * phi.sin(), z]);
        }
    }
    let bottom = u32::try_from(mesh.vertices.len()).unwrap();
    let top_ring = bottom - n;
    mesh.vertices.extend([[0.0, 0.0, first], [0.0, 0.0, last]]);
    for j in 0..n {
        let next = (j + 1) % n;
        mesh.triangles.push([bottom, next, j]);
        mesh.triangles.push([bottom + 1, top_ring + j, top_ring + next]);
        for ring in (0..top_ring).step_by(n as usize) {
            let (a, b, c, d) = (ring + j, ring + next, ring + n + next, ring + n + j);
            mesh.triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    mesh
}

/// A torus around Z: `n` meridians of `m` points. Its quads are flat, so every section is made of
/// regular `n`-gons.
pub(crate) fn torus(major_mm: f64, minor_mm: f64, n: u32, m: u32) -> Mesh {
    let mut mesh = Mesh::default();
    for i in 0..n {
        let (sin, cos) = (TAU * f64::from(i) / f64::from(n)).sin_cos();
        for j in 0..m {
            let (up, out) = (TAU * f64::from(j) / f64::from(m)).sin_cos();
            let r = major_mm + minor_mm * out;
            mesh.vertices.push([r * cos, r * sin, minor_mm * up]);
        }
    }
    for i in 0..n {
        for j in 0..m {
            let at = |i: u32, j: u32| (i % n) * m + j % m;
            let (a, b, c, d) = (at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1));
            mesh.triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    mesh
}

/// A box from `lo` to `hi`.
pub(crate) fn cuboid(lo: [f64; 3], hi: [f64; 3]) -> Mesh {
    let vertices = (0..8)
        .map(|i| [0, 1, 2].map(|axis| if i >> axis & 1 == 0 { lo[axis] } else { hi[axis] }))
        .collect();
    let quads =
        [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let triangles = quads.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
    Mesh { vertices, triangles }
}

/// Both meshes in one, sharing nothing.
pub(crate) fn both(a: &Mesh, b: &Mesh) -> Mesh {
    let offset = u32::try_from(a.vertices.len()).unwrap();
    let mut mesh = a.clone();
    mesh.vertices.extend(&b.vertices);
    mesh.triangles.extend(b.triangles.iter().map(|t| t.map(|v| v + offset)));
    mesh
}

/// Every triangle with vertices of its own.
pub(crate) fn soup(mesh: &Mesh) -> Mesh {
    let vertices = (0..mesh.triangles.len()).flat_map(|t| mesh.corners(t)).collect();
    let count = u32::try_from(mesh.triangles.len()).unwrap();
    Mesh { vertices, triangles: (0..count).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect() }
}

/// Equally spaced heights, both ends included.
pub(crate) fn spaced(from: f64, to: f64, steps: u32) -> Vec<f64> {
    (0..=steps).map(|i| from + (to - from) * f64::from(i) / f64::from(steps)).collect()
}

/// A ball of radius `r`, with levels at the given heights.
pub(crate) fn ball(r: f64, levels: &[f64], n: u32) -> Mesh {
    stack(levels, n, |z, _| (r * r - z * z).max(0.0).sqrt())
}

/// The solid G > 0 of the gyroid in one cell of `n` mm, capped by the cell's walls, by marching
/// tetrahedra on a grid of 1 mm: six tetrahedra per cube, all around one diagonal.
pub(crate) fn gyroid(n: u32) -> Mesh {
    let side = n + 3; // one layer of nodes beyond each wall
    let value = |node: [u32; 3]| {
        let inside = node.iter().all(|&c| (1..=n + 1).contains(&c));
        let [x, y, z] = node.map(|c| TAU * (f64::from(c) - 1.0) / f64::from(n));
        let g = x.sin() * y.cos() + y.sin() * z.cos() + z.sin() * x.cos();
        // Far below zero beyond the walls: the surface hugs them.
        if inside { g } else { -1e9 }
    };
    let mut mesh = Mesh::default();
    let mut on_edge = std::collections::HashMap::new();
    let axes = [[0, 1, 2], [1, 2, 0], [2, 0, 1], [0, 2, 1], [2, 1, 0], [1, 0, 2]];
    for cube in 0..(side - 1).pow(3) {
        let low = [cube % (side - 1), cube / (side - 1) % (side - 1), cube / (side - 1).pow(2)];
        for path in axes {
            let mut corners = [low; 4];
            for (i, axis) in path.into_iter().enumerate() {
                corners[i + 1] = corners[i];
                corners[i + 1][axis] += 1;
            }
            let (inside, outside): (Vec<_>, Vec<_>) =
                corners.into_iter().partition(|&node| value(node) > 0.0);
            let triangles = match (&inside[..], &outside[..]) {
                (&[a], &[b, c, d]) | (&[b, c, d], &[a]) => vec![[(a, b), (a, c), (a, d)]],
                (&[a, b], &[c, d]) => {
                    vec![[(a, c), (a, d), (b, d)], [(a, c), (b, d), (b, c)]]
                }
                _ => continue,
            };
            for mut triangle in triangles {
                // Turned outwards by the middles of the edges, which are never degenerate.
                let [p, q, r] = triangle.map(|(a, b)| add(a, b));
                let (u, v) = (sub(q, p), sub(r, p));
                let out = sub(outside[0].map(i64::from), inside[0].map(i64::from));
                let normal = [1, 2, 0].map(|i| u[i] * v[(i + 1) % 3] - u[(i + 1) % 3] * v[i]);
                if (0..3).map(|i| normal[i] * out[i]).sum::<i64>() < 0 {
                    triangle.reverse();
                }
                mesh.triangles.push(triangle.map(|(a, b)| {
                    let (p, q) = (a.min(b), a.max(b));
                    *on_edge.entry((p, q)).or_insert_with(|| {
                        let t = value(p) / (value(p) - value(q));
                        mesh.vertices.push([0, 1, 2].map(|axis| {
                            let (p, q) = (f64::from(p[axis]), f64::from(q[axis]));
                            p - 1.0 + t * (q - p)
                        }));
                        u32::try_from(mesh.vertices.len() - 1).unwrap()
                    })
                }));
            }
        }
    }
    mesh
}

fn add(a: [u32; 3], b: [u32; 3]) -> [i64; 3] {
    [0, 1, 2].map(|i| i64::from(a[i]) + i64::from(b[i]))
}

fn sub(a: [i64; 3], b: [i64; 3]) -> [i64; 3] {
    [0, 1, 2].map(|i| a[i] - b[i])
}
