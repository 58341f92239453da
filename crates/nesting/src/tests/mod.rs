//! Tests of the crate as a whole, and what the tests of its files share.

mod arrangements;
mod judge;
mod motion;
mod oracle;
pub(crate) mod samples;
mod separation;

use std::path::{Path, PathBuf};

/// All source files below a folder of this crate.
fn sources(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let (folders, files): (Vec<_>, Vec<_>) = entries.partition(|path| path.is_dir());
    let below = folders.iter().flat_map(|folder| sources(folder));
    files
        .into_iter()
        .filter(|path| path.extension().is_some_and(|e| e == "rs"))
        .chain(below)
        .collect()
}

/// The lines of a module's files without comments, each with its file.
fn code_lines(module: &str) -> Vec<(PathBuf, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(module);
    let of_file = |path: PathBuf| {
        let text = std::fs::read_to_string(&path).unwrap();
        let code = |line: &str| {
            let code = line.split_once("//").map_or(line, |(code, _)| code);
            (path.clone(), code.trim().to_owned())
        };
        text.lines().map(code).collect::<Vec<_>>()
    };
    let lines: Vec<_> = sources(&folder).into_iter().flat_map(of_file).collect();
    assert!(!lines.is_empty(), "no sources in {module}");
    lines
}

/// Whether a line of code names a module of the crate: in a path, or in an import.
fn names_module(code: &str, module: &str) -> bool {
    let is_import = code.starts_with("use ") || code.starts_with("pub use ");
    let has_path =
        code.contains(&format!("crate::{module}")) || code.contains(&format!("{module}::"));
    let mut words = code.split(|c: char| !(c.is_alphanumeric() || c == '_'));
    words.any(|word| word == module) && (is_import || has_path)
}

/// What the modules say of themselves: the judge knows the moves' distance and nothing of the search,
/// and the moves know neither the search nor the judge.
#[test]
fn judge_and_moves_import_nothing_of_the_search() {
    let (judge, exact) = (code_lines("judge"), code_lines("exact"));
    for (file, code) in judge.iter().chain(&exact) {
        assert!(!names_module(code, "search"), "{}: {code}", file.display());
    }
    for (file, code) in judge.iter().filter(|(_, code)| names_module(code, "exact")) {
        let is_distance = code.contains("crate::exact::distance::");
        assert!(is_distance && code.matches("exact").count() == 1, "{}: {code}", file.display());
    }
    for (file, code) in &exact {
        assert!(!names_module(code, "judge"), "{}: {code}", file.display());
    }
}
