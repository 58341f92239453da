//! Helpers of the tests of the whole tool.

use base::Progress;
use pipeline::{Build, write_vector_file};
use scan_path::{Header, Layer, VectorWriter, encode_layer};
use std::fs::File;
use std::path::{Path, PathBuf};

/// The top folder of the project.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// A job file made ready.
///
/// # Panics
/// If it cannot be loaded.
pub fn build(job: &Path) -> Build {
    let progress = Progress::default();
    let loaded = pipeline::load(job, &progress).unwrap_or_else(|e| panic!("{e}"));
    Build::new(loaded, &progress).unwrap_or_else(|e| panic!("{e}"))
}

/// A folder with a job of one part on the demo's machine and recipe, and the job's path.
///
/// # Panics
/// If the folder cannot be written.
pub fn job_of(mesh: &Path, recipe: &str, location_mm: [f64; 3]) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
    let root = root();
    let absolute = |path: &Path| {
        let path = path.canonicalize().unwrap_or_else(|e| panic!("{e}"));
        path.display().to_string().replace('\\', "/")
    };
    let text = format!(
        "(version: 1, name: \"one part\", machine: \"{}\", recipe: \"{}\", parts: [\
         (name: \"part\", mesh: \"{}\", placements: [(location_mm: ({}, {}, {}))])])",
        absolute(&root.join("assets/machines/bench_co2_30w.ron")),
        absolute(&root.join("assets/recipes").join(recipe)),
        absolute(mesh),
        location_mm[0],
        location_mm[1],
        location_mm[2]
    );
    let job = folder.path().join("job.ron");
    std::fs::write(&job, text).unwrap_or_else(|e| panic!("{e}"));
    (folder, job)
}

/// The vector file of a build, as bytes.
///
/// # Panics
/// If it cannot be written.
pub fn vector_bytes(build: &Build) -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
    let path = folder.path().join("job.hwv");
    write_vector_file(build, &path, &Progress::default()).unwrap_or_else(|e| panic!("{e}"));
    std::fs::read(path).unwrap_or_else(|e| panic!("{e}"))
}

/// Writes layers as they are, with checksums and totals that agree with them.
///
/// # Panics
/// If they cannot be written.
pub fn write_layers(path: &Path, header: &Header, layers: &[Layer]) {
    let file = File::create(path).unwrap_or_else(|e| panic!("{e}"));
    let mut writer = VectorWriter::new(file, header.clone()).unwrap_or_else(|e| panic!("{e}"));
    for layer in layers {
        let encoded = encode_layer(layer, header).unwrap_or_else(|e| panic!("{e}"));
        writer.push(encoded).unwrap_or_else(|e| panic!("{e}"));
    }
    writer.finish().unwrap_or_else(|e| panic!("{e}"));
}
