//! The workspace's source files, read and parsed.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use syn::{Attribute, File, Item, Meta};

/// The top folder of the project.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

/// The sources of a crate, without its tests, examples and benches.
pub(crate) fn src_of(name: &str) -> PathBuf {
    root().join("crates").join(name).join("src")
}

/// The names of what lies in a folder.
pub(crate) fn names_in(folder: &Path) -> BTreeSet<String> {
    let entries = fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

/// All Rust files below a folder, in the order of their paths.
pub(crate) fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for name in names_in(folder) {
        let path = folder.join(&name);
        if path.is_dir() && name != "target" {
            found.extend(rust_files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
    found
}

/// The text of a file.
pub(crate) fn text_of(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// A file as a tree of its items.
pub(crate) fn parsed(path: &Path) -> File {
    syn::parse_file(&text_of(path)).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// A path of the project for a message.
pub(crate) fn short(path: &Path) -> String {
    path.strip_prefix(root()).unwrap_or(path).display().to_string()
}

/// Whether an item is there in tests only.
pub(crate) fn is_for_tests(attributes: &[Attribute]) -> bool {
    attributes.iter().any(|attribute| match &attribute.meta {
        Meta::Path(path) => path.is_ident("test"),
        Meta::List(list) => list.path.is_ident("cfg") && list.tokens.to_string() == "test",
        Meta::NameValue(_) => false,
    })
}

/// The attributes of an item that can be in tests only.
pub(crate) fn attributes_of(item: &Item) -> &[Attribute] {
    match item {
        Item::Const(item) => &item.attrs,
        Item::Enum(item) => &item.attrs,
        Item::Fn(item) => &item.attrs,
        Item::Impl(item) => &item.attrs,
        Item::Macro(item) => &item.attrs,
        Item::Mod(item) => &item.attrs,
        Item::Static(item) => &item.attrs,
        Item::Struct(item) => &item.attrs,
        Item::Trait(item) => &item.attrs,
        Item::Type(item) => &item.attrs,
        Item::Use(item) => &item.attrs,
        _ => &[],
    }
}

/// The text of a file without its comments and without its tests, for rules about words in code. Line
/// comments only: the project has no others. A `//` within a string ends the line too, which no rule
/// minds.
pub(crate) fn code_of(path: &Path) -> String {
    let text = text_of(path);
    // Not at the first `cfg(test)`: a module of tests in a file of its own may be named at the top.
    let tests = ["#[cfg(test)]\nmod tests {", "#[cfg(test)]\n#[expect("];
    let end = tests.iter().filter_map(|start| text.find(start)).min().unwrap_or(text.len());
    let lines = text[..end].lines().map(|line| line.split("//").next().unwrap_or_default());
    lines.collect::<Vec<_>>().join("\n")
}
