//! Rules of the workspace that `cargo test` holds: who imports whom, what the top level holds,
//! which lints apply, and that every source file says what it is.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Who may import whom; everyone may import `base`. Add a row with the crate; widening a row is
/// an architecture decision to be recorded in DEVELOPERS.md.
const MAY_IMPORT: &[(&str, &[&str])] = &[
    ("base", &[]),
    ("mesh", &[]),
    ("region", &[]),
    ("job", &[]),
    ("scan_path", &[]),
    ("nesting", &["mesh"]),
    ("slicing", &["mesh", "region"]),
    ("scan_strategy", &["region", "job", "scan_path"]),
    ("pipeline", &["mesh", "region", "job", "scan_path", "slicing", "scan_strategy", "nesting"]),
    ("render", &[]),
    ("viewer", &["mesh", "region", "job", "scan_path", "slicing", "nesting", "pipeline", "render"]),
    ("cli", &["mesh", "job", "nesting", "pipeline", "scan_path"]),
    ("hatchwright", &["viewer", "cli"]),
];

/// What may lie at the top of the project.
const TOP_LEVEL: &[&str] = &[
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE-MIT",
    "LICENSE-APACHE",
    "rustfmt.toml",
    "crates",
    "assets",
    "tests",
    "demo-jobs",
    // made by building and running, ignored by git
    "target",
    "out",
];

const MAX_LINES: usize = 800;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn names_in(folder: &Path) -> BTreeSet<String> {
    fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect()
}

fn rust_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for name in names_in(folder) {
        let path = folder.join(&name);
        if path.is_dir() && name != "target" {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn crates_import_only_what_the_layering_allows() {
    let crates_dir = root().join("crates");
    let listed: BTreeSet<String> = MAY_IMPORT.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(names_in(&crates_dir), listed, "MAY_IMPORT and crates/ differ");

    for (name, allowed) in MAY_IMPORT {
        let text = fs::read_to_string(crates_dir.join(name).join("Cargo.toml")).unwrap();
        let manifest: toml::Table = text.parse().unwrap();
        let dependencies = manifest.get("dependencies").and_then(toml::Value::as_table);
        for dependency in dependencies.into_iter().flat_map(toml::Table::keys) {
            assert!(
                dependency == "base"
                    || !listed.contains(dependency)
                    || allowed.contains(&dependency.as_str()),
                "{name} must not import {dependency}"
            );
        }
        assert!(manifest.contains_key("lints"), "{name} must state its lints");
    }
}

#[test]
fn the_top_level_holds_what_it_should_and_nothing_else() {
    for name in names_in(&root()) {
        assert!(
            name.starts_with('.') || TOP_LEVEL.contains(&name.as_str()),
            "{name} does not belong at the top level"
        );
    }
}

#[test]
fn every_source_file_says_what_it_is_and_stays_small_enough_to_know() {
    let mut files = Vec::new();
    rust_files(&root().join("crates"), &mut files);
    rust_files(&root().join("tests"), &mut files);
    assert!(files.len() > 20, "looked in the wrong place");
    for file in files {
        let text = fs::read_to_string(&file).unwrap();
        assert!(text.starts_with("//!"), "{} must begin with a //! line", file.display());
        let lines = text.lines().count();
        assert!(lines <= MAX_LINES, "{} has {lines} lines", file.display());
    }
}

#[test]
fn algorithm_crates_touch_no_files_clocks_environment_or_threads() {
    let algorithm =
        ["base", "mesh", "region", "job", "scan_path", "slicing", "nesting", "scan_strategy"];
    let banned = ["std::fs", "std::env", "SystemTime", "Instant::now", "std::thread", "rand::"];
    for name in algorithm {
        let mut files = Vec::new();
        rust_files(&root().join("crates").join(name).join("src"), &mut files);
        for file in files {
            let text = fs::read_to_string(&file).unwrap();
            let code = text.split("#[cfg(test)]").next().unwrap();
            for word in banned {
                assert!(!code.contains(word), "{} uses {word}", file.display());
            }
        }
    }
}
