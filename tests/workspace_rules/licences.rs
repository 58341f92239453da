//! What the window shows of the packages it is built with is up to date.

use crate::layers::MAY_IMPORT;
use crate::source::{root, text_of};
use std::collections::{BTreeMap, BTreeSet};

/// Names and versions of all packages in the lock file.
fn locked() -> BTreeMap<String, BTreeSet<String>> {
    let lock: toml::Table = text_of(&root().join("Cargo.lock")).parse().unwrap();
    let mut found: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for package in lock["package"].as_array().unwrap() {
        let text = |key: &str| package[key].as_str().unwrap().to_owned();
        found.entry(text("name")).or_default().insert(text("version"));
    }
    found
}

#[test]
fn the_list_of_third_party_packages_is_that_of_the_lock_file() {
    let text = text_of(&root().join("assets/THIRD_PARTY.md"));
    let listed: BTreeSet<(&str, &str)> = text
        .lines()
        .filter_map(|line| line.strip_prefix("- ")?.split_once(':'))
        .filter_map(|(package, _)| package.split_once(' '))
        .filter(|(_, version)| version.starts_with(|c: char| c.is_ascii_digit()))
        .collect();
    assert!(listed.len() > 100, "{}", listed.len());
    let locked = locked();
    let again = "run python3 assets/make_third_party.py";
    for (name, version) in &listed {
        let is_there = locked.get(*name).is_some_and(|versions| versions.contains(*version));
        assert!(is_there, "{name} {version} is built with no more: {again}");
    }
    let names: BTreeSet<&str> = listed.iter().map(|(name, _)| *name).collect();
    for (of_ours, _, packages) in MAY_IMPORT {
        for package in *packages {
            assert!(
                names.contains(package),
                "{of_ours} uses {package}, which is not listed: {again}"
            );
        }
    }
}
