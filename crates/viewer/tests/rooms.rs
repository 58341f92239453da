//! What the rooms of the window promise, read from the sources: only `work` starts threads, uses
//! thread pools and touches files, and rooms import only what lies below them.

use std::fs;
use std::path::{Path, PathBuf};

/// Rooms of the window, and what each may import of the others.
const ROOMS: [(&str, &[&str]); 5] = [
    ("state", &[]),
    ("work", &["state"]),
    ("widgets", &["state"]),
    ("views", &["state", "work", "widgets"]),
    ("app", &["state", "work", "widgets", "views"]),
];

/// What waits for a disk or for a thread, or starts one.
const BANNED: &[&str] = &[
    "std::fs",
    "std::thread",
    "rayon",
    "catch_unwind",
    ".is_file()",
    ".is_dir()",
    ".exists()",
    ".metadata()",
    "pipeline::load_",
    "pipeline::write_",
    "pipeline::verify",
    "pipeline::nest_job",
    "pipeline::prove_clearance",
];

fn sources(folder: &Path, found: &mut Vec<(PathBuf, String)>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.file_name().is_some_and(|name| name != "tests.rs") {
            let text = fs::read_to_string(&path).expect("a source file");
            let code = text.split("#[cfg(test)]\nmod tests {").next().expect("the code");
            let code = code.lines().filter(|line| !line.trim_start().starts_with("//"));
            found.push((path, code.collect::<Vec<_>>().join("\n")));
        }
    }
}

fn room(name: &str) -> Vec<(PathBuf, String)> {
    let mut found = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(name), &mut found);
    assert!(found.len() > 3, "looked in the wrong place");
    found
}

#[test]
fn only_work_starts_threads_uses_thread_pools_and_touches_files() {
    for (name, _) in ROOMS.iter().filter(|(name, _)| *name != "work") {
        for (path, code) in room(name) {
            for word in BANNED {
                assert!(!code.contains(word), "{} has {word}", path.display());
            }
        }
    }
}

/// Neither does `state` draw: of egui it has plain values alone.
#[test]
fn state_is_plain_data() {
    let drawing =
        ["wgpu", "eframe", "render::chamber", "render::plan", "egui::Ui", "egui::Context"];
    for (path, code) in room("state") {
        for word in drawing {
            assert!(!code.contains(word), "{} has {word}", path.display());
        }
    }
}

#[test]
fn rooms_import_only_what_lies_below_them() {
    for (name, allowed) in ROOMS {
        for (path, code) in room(name) {
            for (other, _) in ROOMS.iter().filter(|(other, _)| *other != name) {
                let imports = code.contains(&format!("crate::{other}::"));
                assert!(!imports || allowed.contains(other), "{} imports {other}", path.display());
            }
        }
    }
}
