//! Who may import whom, and what the top level holds.

use crate::source::{code_of, names_in, root, rust_files, short, src_of, text_of};
use std::collections::BTreeSet;

/// A crate, the crates of ours that it may import (everyone may import `base`), and the third-party
/// packages that it may use outside tests. Widening a row is an architecture decision to be recorded
/// in DEVELOPERS.md.
pub(crate) type Row = (&'static str, &'static [&'static str], &'static [&'static str]);

pub(crate) const MAY_IMPORT: &[Row] = &[
    ("base", &[], &["serde", "thiserror"]),
    ("mesh", &[], &["quick-xml", "rayon", "robust", "serde", "thiserror", "zip"]),
    ("region", &[], &["i_overlay", "thiserror"]),
    ("job", &[], &["ron", "serde", "thiserror"]),
    ("scan_path", &[], &["crc32fast", "flate2", "serde", "serde_json", "sha2", "thiserror", "zip"]),
    ("nesting", &["mesh"], &["clarabel", "pulp", "rayon", "thiserror"]),
    ("slicing", &["mesh", "region"], &["thiserror"]),
    ("motion", &["scan_path"], &[]),
    ("scan_strategy", &["region", "job", "scan_path", "motion", "estimate"], &["thiserror"]),
    ("estimate", &["region"], &["libm", "rayon", "thiserror"]),
    (
        "pipeline",
        &[
            "mesh",
            "region",
            "job",
            "scan_path",
            "motion",
            "slicing",
            "scan_strategy",
            "nesting",
            "estimate",
        ],
        &["png", "rayon", "serde", "tempfile", "thiserror"],
    ),
    ("render", &[], &["bytemuck", "glam", "meshopt", "thiserror", "wgpu"]),
    (
        "viewer",
        &[
            "mesh",
            "region",
            "job",
            "scan_path",
            "motion",
            "slicing",
            "nesting",
            "pipeline",
            "render",
            "estimate",
        ],
        &[
            "directories",
            "eframe",
            "egui",
            "glam",
            "rayon",
            "rfd",
            "ron",
            "serde",
            "thiserror",
            "wgpu",
        ],
    ),
    (
        "cli",
        &["mesh", "job", "nesting", "pipeline", "scan_path", "estimate"],
        &["clap", "ctrlc", "indicatif", "rayon", "serde", "serde_json"],
    ),
    ("hatchwright", &["viewer", "cli"], &[]),
];

/// The names of all our crates.
pub(crate) fn crate_names() -> impl Iterator<Item = &'static str> {
    MAY_IMPORT.iter().map(|row| row.0)
}

/// What may lie at the top of the project, beside files whose names begin with a dot.
const TOP_LEVEL: &[&str] = &[
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE-MIT",
    "LICENSE-APACHE",
    "crates",
    "assets",
    "tests",
    "demo-jobs",
    // made by building and running, ignored by git
    "target",
    "out",
];

#[test]
fn crates_import_only_what_the_layering_allows() {
    let listed: BTreeSet<String> = MAY_IMPORT.iter().map(|row| row.0.to_owned()).collect();
    assert_eq!(names_in(&root().join("crates")), listed, "MAY_IMPORT and crates/ differ");

    for (name, ours, others) in MAY_IMPORT {
        let text = text_of(&root().join("crates").join(name).join("Cargo.toml"));
        let manifest: toml::Table = text.parse().unwrap();
        let dependencies = manifest.get("dependencies").and_then(toml::Value::as_table);
        let used: BTreeSet<&str> =
            dependencies.into_iter().flat_map(toml::Table::keys).map(String::as_str).collect();
        for dependency in &used {
            let may = if listed.contains(*dependency) {
                *dependency == "base" || ours.contains(dependency)
            } else {
                others.contains(dependency)
            };
            assert!(may, "{name} must not import {dependency}");
        }
        for allowed in ours.iter().chain(*others) {
            assert!(used.contains(allowed), "{name} no longer needs {allowed}: narrow its row");
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

/// Bytes, seeds and the progress handle come in as arguments.
#[test]
fn algorithm_crates_touch_no_files_clocks_environment_or_threads() {
    let algorithm = [
        "base",
        "mesh",
        "region",
        "job",
        "scan_path",
        "motion",
        "slicing",
        "nesting",
        "scan_strategy",
        "estimate",
    ];
    let banned = ["std::fs", "std::env", "SystemTime", "Instant::now", "std::thread", "rand::"];
    let files = algorithm.iter().flat_map(|name| rust_files(&src_of(name)));
    // Tests may read what they test.
    let files: Vec<_> = files.filter(|file| !file.iter().any(|name| name == "tests")).collect();
    assert!(files.len() > 100, "looked in the wrong place");
    for file in files {
        let code = code_of(&file);
        for word in banned {
            assert!(!code.contains(word), "{} uses {word}", short(&file));
        }
    }
}

/// Files below the renderer that hold single precision, and why that costs no exactness.
const SINGLE_PRECISION: &[(&str, &str)] = &[
    ("crates/mesh/src/import", "binary STL holds it; widened on reading"),
    ("crates/mesh/src/hierarchy", "boxes rounded outwards: a filter, the answer is exact"),
    ("crates/mesh/src/distance", "boxes rounded outwards: a filter, the answer is exact"),
];

#[test]
fn below_the_renderer_single_precision_is_for_filters_and_files_only() {
    let above = ["render", "viewer", "hatchwright"];
    let below = crate_names().filter(|name| !above.contains(name));
    let mut used = BTreeSet::new();
    for file in below.flat_map(|name| rust_files(&src_of(name))) {
        let has = code_of(&file).split(|c: char| !c.is_alphanumeric()).any(|word| word == "f32");
        if has {
            let row = SINGLE_PRECISION.iter().find(|(start, _)| short(&file).starts_with(start));
            let (start, _) = row.unwrap_or_else(|| panic!("{} uses f32", short(&file)));
            used.insert(start);
        }
    }
    assert_eq!(used.len(), SINGLE_PRECISION.len(), "only these still use f32: {used:?}");
}
