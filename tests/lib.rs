//! Helpers of the tests of the whole tool.

use base::Progress;
use pipeline::{Build, write_vector_file};
use scan_path::{Header, Layer, VectorWriter, encode_layer};
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::Command;

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
        "(version: 3, name: \"one part\", machine: \"{}\", recipe: \"{}\", parts: [\
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

/// The vector file of a build, as bytes; the Python reader has read it too.
///
/// # Panics
/// If it cannot be written.
pub fn vector_bytes(build: &Build) -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
    let path = folder.path().join("job.hwv");
    write_vector_file(build, &path, &Progress::default()).unwrap_or_else(|e| panic!("{e}"));
    python_must_agree(&path);
    std::fs::read(path).unwrap_or_else(|e| panic!("{e}"))
}

/// Writes layers as they are, with checksums and totals that agree with them; the Python reader
/// has read the file too.
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
    python_must_agree(path);
}

/// What the plain Python reader (`read_vectors.py`, written from SPEC.md alone) says of each file:
/// counts and lengths, or `refused` and why.
///
/// # Panics
/// If Python cannot be run.
pub fn python_reads(files: &[PathBuf]) -> Vec<serde_json::Value> {
    let script = root().join("tests/read_vectors.py");
    let output = Command::new("python3").arg(script).args(files).output();
    let output = output.expect("the tests need python3 (see the README)");
    let lines = String::from_utf8_lossy(&output.stdout);
    let said = lines.lines().map(|line| serde_json::from_str(line).unwrap_or_default());
    let said: Vec<_> = said.collect();
    assert_eq!(said.len(), files.len(), "{}", String::from_utf8_lossy(&output.stderr));
    said
}

/// Stops the test unless the Python reader finds what the totals of our own reader say.
fn python_must_agree(path: &Path) {
    let reader = pipeline::open_vector_file(path).unwrap_or_else(|e| panic!("{e}"));
    let totals = reader.totals();
    let said = &python_reads(&[path.to_owned()])[0];
    assert_eq!(said["layers"], totals.layers, "{said}");
    assert_eq!(said["marks"], totals.stats.marks, "{said}");
    assert_eq!(said["points"], totals.stats.points, "{said}");
    assert_eq!(said["mark_length_nm"], totals.stats.mark_length_nm, "{said}");
    assert_eq!(said["jump_length_nm"], totals.stats.jump_length_nm, "{said}");
    assert_eq!(said["sha256"], totals.sha256, "{said}");
}
