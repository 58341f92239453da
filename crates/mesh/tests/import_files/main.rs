//! Import, format by format, against files of known content and against other readers.
//!
//! The files lie in `tests/meshes` at the root of the repository, with their licences beside them (`LICENCES.md`).

#![expect(
    clippy::unwrap_used,
    clippy::float_cmp,
    clippy::format_push_string,
    reason = "helpers of tests panic on purpose, exact results are exact, and speed is no matter"
)]

mod mutations;
mod obj;
mod stl;
mod threemf;

use base::{Finding, Progress};
use mesh::Mesh;
use mesh::import::{Format, ImportError, Imported, import};
use std::path::PathBuf;

/// A file or folder of the repository's test meshes.
fn meshes(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/meshes").join(name)
}

fn bytes(name: &str) -> Vec<u8> {
    std::fs::read(meshes(name)).unwrap()
}

fn read(bytes: &[u8], format: Format) -> Result<Imported, ImportError> {
    import(bytes, format, None, &Progress::default())
}

/// Imports a file in the format of its extension.
fn open(name: &str) -> Result<Imported, ImportError> {
    let extension = name.rsplit('.').next().unwrap();
    read(&bytes(name), Format::from_extension(extension).unwrap())
}

/// The one mesh of an import.
#[track_caller]
fn only(imported: &Imported) -> &Mesh {
    assert_eq!(imported.objects.len(), 1);
    &imported.objects[0].mesh
}

/// The kinds of the findings, but for those on the size of test objects.
fn kinds(imported: &Imported) -> Vec<&str> {
    let kinds = imported.findings.iter().map(|finding: &Finding| finding.kind().as_str());
    kinds.filter(|kind| !kind.starts_with("size_suggests")).collect()
}

/// Enclosed volume, mm³: the divergence theorem, triangle by triangle.
fn volume(mesh: &Mesh) -> f64 {
    (0..mesh.triangles.len())
        .map(|t| {
            let [a, b, c] = mesh.corners(t);
            let cross = |i: usize, j: usize| b[i] * c[j] - b[j] * c[i];
            (a[0] * cross(1, 2) + a[1] * cross(2, 0) + a[2] * cross(0, 1)) / 6.0
        })
        .sum()
}

/// What every importer promises: indices in range, finite coordinates, no unused and no double
/// vertex, numbered in the order of their first use.
#[track_caller]
fn check_promises(imported: &Imported) {
    assert!(!imported.objects.is_empty());
    for object in &imported.objects {
        let mesh = &object.mesh;
        assert!(!mesh.triangles.is_empty());
        assert!(mesh.vertices.as_flattened().iter().all(|c| c.is_finite()));
        assert!(mesh.triangles.as_flattened().iter().all(|&v| (v as usize) < mesh.vertices.len()));
    }
}

/// See [`check_promises`]; holds where no components were put together.
#[track_caller]
fn check_welded(mesh: &Mesh) {
    let mut next = 0;
    for &vertex in mesh.triangles.as_flattened() {
        assert!(vertex <= next, "vertex {vertex} is used before {next}");
        next = next.max(vertex + 1);
    }
    assert_eq!(next as usize, mesh.vertices.len());
    let mut sorted: Vec<_> = mesh.vertices.iter().map(|v| v.map(|c| (c + 0.0).to_bits())).collect();
    sorted.sort_unstable();
    assert!(sorted.windows(2).all(|pair| pair[0] != pair[1]), "two vertices at one position");
}
