//! Outside source: the plain Python reader written from SPEC.md alone (`tests/read_vectors.py`).

use crate::samples::{any_layers, file_of, header, small_file};
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::TestRunner;
use scan_path::{Totals, VectorReader};
use serde_json::{Value, json};
use std::io::Cursor;
use std::path::Path;
use std::process::Command;

/// What the Python reader must say about a file.
fn expected(file: &[u8]) -> Value {
    let mut reader = VectorReader::open(Cursor::new(file)).unwrap();
    let Totals { layers, sha256, stats } = reader.totals().clone();
    let (mut x_sum, mut y_sum) = (0_i64, 0_i64);
    for k in 0..layers {
        for point in reader.layer(k).unwrap().blocks.iter().flat_map(|block| block.paths.points()) {
            x_sum += i64::from(point.x);
            y_sum += i64::from(point.y);
        }
    }
    json!({
        "layers": layers, "blocks": stats.blocks, "paths": stats.paths, "marks": stats.marks,
        "points": stats.points, "mark_length_nm": stats.mark_length_nm,
        "jump_length_nm": stats.jump_length_nm, "x_sum": x_sum, "y_sum": y_sum, "sha256": sha256,
    })
}

#[test]
fn the_python_reader_finds_the_same_numbers() {
    let mut runner = TestRunner::deterministic();
    let mut files: Vec<Vec<u8>> = (0..40)
        .map(|_| {
            let layers = any_layers().new_tree(&mut runner).unwrap().current();
            file_of(&header(u32::try_from(layers.len()).unwrap()), &layers)
        })
        .collect();
    files.push(small_file().2);

    let expected: Vec<Value> = files.iter().map(|file| expected(file)).collect();
    assert_eq!(python_reads(&files), expected);
}

/// What the Python reader says of each file: its sums, or `refused` and why.
pub(crate) fn python_reads(files: &[Vec<u8>]) -> Vec<Value> {
    let folder = tempfile::tempdir().unwrap();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/read_vectors.py");
    let mut command = Command::new("python3");
    command.arg(script);
    for (i, bytes) in files.iter().enumerate() {
        let path = folder.path().join(format!("{i}.hwv"));
        std::fs::write(&path, bytes).unwrap();
        command.arg(path);
    }
    let output = command.output().expect("the tests need python3 on the path");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let lines = String::from_utf8(output.stdout).unwrap();
    lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// Planted faults that break the container, or what a checksum guards, are refused by the other
/// reader as well; bytes that it has no use for leave it the same content.
#[test]
fn the_python_reader_refuses_what_is_broken() {
    let (_, _, whole) = small_file();
    let mut files = vec![whole.clone()];
    files.extend((0..whole.len()).step_by(7).map(|at| {
        let mut flipped = whole.clone();
        flipped[at] ^= 0x80;
        flipped
    }));
    let flipped = files.len();
    files.extend((0..whole.len()).step_by(31).map(|length| whole[..length].to_vec()));
    let said = python_reads(&files);
    let refused = |said: &Value| !said["refused"].is_null();
    assert!(!refused(&said[0]));
    assert!(said[1..flipped].iter().all(|file| refused(file) || *file == said[0]));
    assert!(said[1..flipped].iter().filter(|file| refused(file)).count() > flipped / 2);
    assert!(said[flipped..].iter().all(refused), "every cut");
}
