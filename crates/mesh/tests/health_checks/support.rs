//! Meshes to test with: made by formula, or read from the corpus.

use base::{Affine, Progress};
use mesh::{HealthReport, Mesh, health};
use std::collections::HashMap;
use std::f64::consts::TAU;

#[track_caller]
pub(crate) fn report(mesh: &Mesh) -> HealthReport {
    health(mesh, &Progress::default()).expect("nobody cancels")
}

pub(crate) fn kinds(report: &HealthReport) -> Vec<&str> {
    report.findings.iter().map(|finding| finding.kind().as_str()).collect()
}

#[track_caller]
pub(crate) fn assert_close(found: f64, expected: f64, relative: f64) {
    let off = (found - expected).abs();
    assert!(off <= relative * expected.abs(), "{found} instead of {expected}, off by {off:e}");
}

pub(crate) fn moved(mesh: &Mesh, by: &Affine) -> Mesh {
    let vertices = mesh.vertices.iter().map(|p| by.apply(*p)).collect();
    Mesh { vertices, triangles: mesh.triangles.clone() }
}

/// Both meshes as one.
pub(crate) fn joined(a: &Mesh, b: &Mesh) -> Mesh {
    let mut all = a.clone();
    let offset = a.vertices.len() as u32;
    all.vertices.extend(&b.vertices);
    all.triangles.extend(b.triangles.iter().map(|t| t.map(|v| v + offset)));
    all
}

pub(crate) fn turned(mesh: &Mesh) -> Mesh {
    let mut mesh = mesh.clone();
    mesh::health::turn_inside_out(&mut mesh);
    mesh
}

/// A cube of side `a` with its lowest corner at `at`.
pub(crate) fn cube(a: f64, at: [f64; 3]) -> Mesh {
    let vertices =
        (0..8).map(|i| [0, 1, 2].map(|k| at[k] + if i >> k & 1 == 1 { a } else { 0.0 })).collect();
    let quads =
        [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let triangles = quads.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
    Mesh { vertices, triangles }
}

/// A torus of `n` × `m` quads around Z, corners on the true surface.
pub(crate) fn torus(ring: f64, tube: f64, n: u32, m: u32) -> Mesh {
    let angle = |i: u32, n: u32| TAU * f64::from(i) / f64::from(n);
    let vertices = (0..n * m)
        .map(|v| {
            let (u, w) = (angle(v / m, n), angle(v % m, m));
            let r = ring + tube * w.cos();
            [r * u.cos(), r * u.sin(), tube * w.sin()]
        })
        .collect();
    let at = |i: u32, j: u32| (i % n) * m + j % m;
    let quad = |i, j| [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
    let triangles = (0..n)
        .flat_map(|i| (0..m).map(move |j| quad(i, j)))
        .flat_map(|[a, b, c, d]| [[a, b, c], [a, c, d]])
        .collect();
    Mesh { vertices, triangles }
}

/// The surface of revolution of the points `(radius, z)` around Z, rising, in `n` sectors; ends
/// with radius 0 are poles.
pub(crate) fn revolved(profile: &[[f64; 2]], n: u32) -> Mesh {
    let mut mesh = Mesh::default();
    let mut rings: Vec<Vec<u32>> = Vec::new();
    for &[radius, z] in profile {
        let first = mesh.vertices.len() as u32;
        if radius == 0.0 {
            mesh.vertices.push([0.0, 0.0, z]);
            rings.push(vec![first; n as usize]);
        } else {
            for i in 0..n {
                let u = TAU * f64::from(i) / f64::from(n);
                mesh.vertices.push([radius * u.cos(), radius * u.sin(), z]);
            }
            rings.push((first..first + n).collect());
        }
    }
    for (below, above) in rings.iter().zip(&rings[1..]) {
        for i in 0..n as usize {
            let j = (i + 1) % n as usize;
            let (a, b, c, d) = (below[i], below[j], above[j], above[i]);
            mesh.triangles.extend([[a, b, c], [a, c, d]].into_iter().filter(|[a, b, c]| {
                a != b && b != c && c != a // at a pole only one triangle is left
            }));
        }
    }
    mesh
}

pub(crate) fn sphere(radius: f64, n: u32) -> Mesh {
    let profile: Vec<[f64; 2]> = (0..=n / 2)
        .map(|i| {
            let w = std::f64::consts::PI * (2.0 * f64::from(i) / f64::from(n) - 0.5);
            let at_pole = i == 0 || i == n / 2;
            [if at_pole { 0.0 } else { radius * w.cos() }, radius * w.sin()]
        })
        .collect();
    revolved(&profile, n)
}

/// Reads a mesh of the corpus and welds vertices at exactly the same position.
pub(crate) fn corpus(path: &str) -> Mesh {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/meshes/");
    let bytes =
        std::fs::read(format!("{root}{path}")).expect("the corpus is part of the repository");
    let is_obj = std::path::Path::new(path).extension().is_some_and(|e| e == "obj");
    let corners = if is_obj { read_obj(&bytes) } else { read_stl(&bytes) };
    let mut mesh = Mesh::default();
    let mut known = HashMap::new();
    for triangle in corners {
        let indices = triangle.map(|p| {
            *known.entry(p.map(|c| (c + 0.0).to_bits())).or_insert_with(|| {
                mesh.vertices.push(p);
                mesh.vertices.len() as u32 - 1
            })
        });
        mesh.triangles.push(indices);
    }
    mesh
}

/// Binary through `stl_io`; text by its `vertex` lines, because it may hold several solids.
fn read_stl(bytes: &[u8]) -> Vec<[[f64; 3]; 3]> {
    if bytes.starts_with(b"solid") {
        let text = String::from_utf8_lossy(bytes);
        let corners: Vec<[f64; 3]> = text
            .lines()
            .filter_map(|line| line.trim().strip_prefix("vertex"))
            .map(|line| {
                let c: Vec<f64> =
                    line.split_whitespace().map(|w| w.parse().expect("a coordinate")).collect();
                [c[0], c[1], c[2]]
            })
            .collect();
        return corners.chunks_exact(3).map(|t| [t[0], t[1], t[2]]).collect();
    }
    let mut cursor = std::io::Cursor::new(bytes);
    let reader = stl_io::create_stl_reader(&mut cursor).expect("a mesh of the corpus");
    reader.map(|t| t.expect("a triangle").vertices.map(|p| p.0.map(f64::from))).collect()
}

/// `v` and `f` lines; faces are fanned from their first corner.
fn read_obj(bytes: &[u8]) -> Vec<[[f64; 3]; 3]> {
    let text = String::from_utf8_lossy(bytes).replace('\r', "").replace("\\\n", " ");
    let (mut vertices, mut triangles) = (Vec::new(), Vec::new());
    for line in text.lines() {
        let mut words = line.split_whitespace();
        match words.next() {
            Some("v") => {
                let c: Vec<f64> = words.map(|w| w.parse().expect("a coordinate")).collect();
                vertices.push([c[0], c[1], c[2]]);
            }
            Some("f") => {
                let index = |w: &str| -> usize {
                    w.split('/').next().and_then(|i| i.parse().ok()).expect("an index")
                };
                let face: Vec<usize> = words.map(|w| index(w) - 1).collect();
                for pair in face[1..].windows(2) {
                    triangles.push([face[0], pair[0], pair[1]].map(|v| vertices[v]));
                }
            }
            _ => {}
        }
    }
    triangles
}
