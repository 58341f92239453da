//! Outside source: the plain Python reader written from SPEC.md alone (`tests/read_vectors.py`).

use crate::samples::small_file;
use scan_path::{Totals, VectorReader};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Cursor, Lines, Write};
use std::path::Path;
use std::process::{ChildStdin, ChildStdout, Command, Stdio};
use std::sync::{LazyLock, Mutex, PoisonError};

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

/// Stops the test unless the Python reader finds in a file what our own reader finds. Called for
/// every file that these tests write (`samples::file_of`).
#[track_caller]
pub(crate) fn python_must_agree(file: &[u8]) {
    assert_eq!(python_reads(file), expected(file));
}

/// What the Python reader says of a file: its sums, or `refused` and why.
pub(crate) fn python_reads(file: &[u8]) -> Value {
    static READER: LazyLock<Mutex<Reader>> = LazyLock::new(|| Mutex::new(Reader::start()));
    READER.lock().unwrap_or_else(PoisonError::into_inner).read(file)
}

/// One Python process for all tests: starting one takes far longer than reading a small file.
struct Reader {
    paths: ChildStdin,
    answers: Lines<BufReader<ChildStdout>>,
}

impl Reader {
    #[expect(clippy::zombie_processes, reason = "it ends with the tests, when its input does")]
    fn start() -> Self {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/read_vectors.py");
        let mut command = Command::new("python3");
        let command = command.arg(script).stdin(Stdio::piped()).stdout(Stdio::piped());
        let python = command.spawn().expect("the tests need python3 on the path");
        let answers = BufReader::new(python.stdout.unwrap()).lines();
        Self { paths: python.stdin.unwrap(), answers }
    }

    fn read(&mut self, bytes: &[u8]) -> Value {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(bytes).unwrap();
        writeln!(self.paths, "{}", file.path().display()).unwrap();
        serde_json::from_str(&self.answers.next().unwrap().unwrap()).unwrap()
    }
}

/// Planted faults that break the container, or what a checksum guards, are refused by the other
/// reader as well; bytes that it has no use for leave it the same content.
#[test]
fn the_python_reader_refuses_what_is_broken() {
    let (_, _, whole) = small_file();
    let refused = |said: &Value| !said["refused"].is_null();
    let said_of_whole = python_reads(&whole);
    assert!(!refused(&said_of_whole));
    let flips = (0..whole.len()).step_by(7).map(|at| {
        let mut flipped = whole.clone();
        flipped[at] ^= 0x80;
        python_reads(&flipped)
    });
    let flips: Vec<Value> = flips.collect();
    assert!(flips.iter().all(|said| refused(said) || *said == said_of_whole));
    assert!(flips.iter().filter(|said| refused(said)).count() > flips.len() / 2);
    for length in (0..whole.len()).step_by(31) {
        assert!(refused(&python_reads(&whole[..length])), "cut at {length}");
    }
}
