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

fn list() -> String {
    text_of(&root().join("assets/THIRD_PARTY.md"))
}

/// Names and versions of all packages in the list.
fn listed(list: &str) -> BTreeSet<(&str, &str)> {
    list.lines()
        .filter_map(|line| line.strip_prefix("- ")?.split_once(':'))
        .filter_map(|(package, _)| package.split_once(' '))
        .filter(|(_, version)| version.starts_with(|c: char| c.is_ascii_digit()))
        .collect()
}

#[test]
fn the_list_of_third_party_packages_is_that_of_the_lock_file() {
    let text = list();
    let listed = listed(&text);
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

/// Licences that let the program be passed on as it is, with their texts beside it. Another one is a decision.
const ACCEPTED: [&str; 8] =
    ["MIT", "Apache-2.0", "Zlib", "BSD-2-Clause", "BSD-3-Clause", "ISC", "MPL-2.0", "Unicode-3.0"];

#[test]
fn every_licence_is_one_that_was_accepted() {
    let text = list();
    let licences: Vec<&str> = text
        .lines()
        .filter_map(|line| line.strip_prefix("## "))
        .take_while(|title| !title.starts_with("Fonts"))
        .collect();
    assert!(licences.len() > 3, "{licences:?}");
    for licence in licences {
        assert!(ACCEPTED.contains(&licence), "{licence} is new");
    }
}

/// What others bring in once more, in the version that they want: winit's event loop and Wayland's code generator.
const TWICE: [&str; 2] = ["thiserror", "quick-xml"];

/// What others bring in twice we can hardly help; what we chose is linked once.
#[test]
fn what_we_chose_comes_in_one_version() {
    let text = list();
    let listed = listed(&text);
    for (of_ours, _, packages) in MAY_IMPORT {
        for package in *packages {
            let versions = listed.iter().filter(|(name, _)| name == package).count();
            let most = if TWICE.contains(package) { 2 } else { 1 };
            assert!(versions <= most, "{of_ours}: {package} is linked in {versions} versions");
        }
    }
}
