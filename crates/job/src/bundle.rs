//! Machines and recipes as one text, to be handed on to somebody else.

use crate::check::Checker;
use crate::files::TextFile;
use crate::text::{Document, read};
use crate::{Invalid, JobError, Machine, Recipe};
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

/// Machines and recipes, each as the text of its file, comments and all.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bundle {
    /// Counted with the versions of machine and recipe, whose texts it holds.
    pub version: u32,
    /// Machines.
    #[serde(default)]
    pub machines: Vec<FileText>,
    /// Recipes.
    #[serde(default)]
    pub recipes: Vec<FileText>,
}

/// A file by name, without a folder, and what is in it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FileText {
    /// Its name: letters, digits, "-", "_", "." and spaces, ending in ".ron".
    pub file: String,
    /// What is in it.
    pub text: String,
}

impl Bundle {
    /// The version that is written.
    pub const VERSION: u32 = Recipe::VERSION;

    /// Reads a bundle, and everything in it.
    ///
    /// # Errors
    /// If the text is none, or something in it is no machine or recipe that could be used.
    pub fn from_ron(text: &str) -> Result<Self, JobError> {
        read(text, |_| None)
    }

    /// The bundle as RON text: each file stands in it as it is, between quotes that do not occur in it.
    pub fn to_ron(&self) -> String {
        let mut text = String::from("// Machines and recipes, each as the text of its file.\n(\n");
        let _ = writeln!(text, "    version: {},", Self::VERSION); // writing to a `String` cannot fail
        for (list, files) in [("machines", &self.machines), ("recipes", &self.recipes)] {
            let _ = writeln!(text, "    {list}: [");
            for FileText { file, text: inside } in files {
                let marks = "#".repeat(longest_run_of_marks(inside) + 1);
                let _ = writeln!(text, "(file: {file:?}, text: r{marks}\"{inside}\"{marks}),");
            }
            text.push_str("    ],\n");
        }
        text.push_str(")\n");
        text
    }

    /// Finds everything in it that cannot be used.
    ///
    /// # Errors
    /// All of it, each with its place.
    pub fn validate(&self) -> Result<(), Vec<Invalid>> {
        let mut c = Checker::default();
        check_files::<Machine>(&mut c, "machines", &self.machines);
        check_files::<Recipe>(&mut c, "recipes", &self.recipes);
        c.finish()
    }
}

fn check_files<T: TextFile>(c: &mut Checker, list: &'static str, files: &[FileText]) {
    let names = files.iter().map(|entry| (&entry.file, format!("{:?}", entry.file)));
    c.distinct(list, ".file", names);
    c.each(list, files, |c, entry| {
        if !is_file_name(&entry.file) {
            let allowed = "a name without a folder that ends in .ron";
            c.report("file", format_args!("{:?}", entry.file), allowed);
        }
        if let Err(error) = T::from_ron(&entry.text) {
            c.report("text", format_args!("of {}: {error}", entry.file), "one that can be used");
        }
    });
}

/// Whether a name is one of a file in whatever folder, on any system.
pub fn is_file_name(name: &str) -> bool {
    let is_plain = |c: char| c.is_alphanumeric() || " -_.".contains(c);
    let stem = name.strip_suffix(".ron").unwrap_or_default();
    !stem.trim_matches(['.', ' ']).is_empty()
        && !stem.starts_with(['.', ' '])
        && name.chars().all(is_plain)
}

/// Most `#` in a row behind a quote.
fn longest_run_of_marks(text: &str) -> usize {
    let runs = text.split('"').skip(1).map(|rest| rest.len() - rest.trim_start_matches('#').len());
    runs.max().unwrap_or(0)
}

impl Document for Bundle {
    const KIND: &'static str = "library";
    const NEWEST: u32 = Self::VERSION;

    fn set_version(&mut self, version: u32) {
        self.version = version;
    }

    fn problems(&self) -> Result<(), Vec<Invalid>> {
        self.validate()
    }

    fn upgrade(&mut self) {}
}

#[cfg(test)]
mod tests {
    use super::*;

    const RECIPE: &str = include_str!("../../../assets/recipes/pa12.ron");
    const MACHINE: &str = include_str!("../../../assets/machines/bench_co2_30w.ron");

    #[test]
    fn what_is_handed_on_arrives_as_it_was() {
        let awkward = format!("{RECIPE}// \"# and \"## in a comment\n");
        let bundle = Bundle {
            version: Bundle::VERSION,
            machines: vec![FileText { file: "bench.ron".into(), text: MACHINE.into() }],
            recipes: vec![FileText { file: "pa12 ours.ron".into(), text: awkward }],
        };
        assert_eq!(Bundle::from_ron(&bundle.to_ron()), Ok(bundle));
        let empty = Bundle { version: Bundle::VERSION, ..Bundle::default() };
        assert_eq!(Bundle::from_ron(&empty.to_ron()), Ok(empty));
    }

    #[test]
    fn what_cannot_be_used_is_named() {
        let said = |file: &str, text: &str| {
            let recipes = vec![FileText { file: file.into(), text: text.into() }];
            let bundle = Bundle { version: Bundle::VERSION, recipes, ..Bundle::default() };
            Bundle::from_ron(&bundle.to_ron()).unwrap_err().to_string()
        };
        assert!(said("../pa12.ron", RECIPE).contains("without a folder"));
        assert!(said("pa12.txt", RECIPE).contains("ends in .ron"));
        assert!(said("pa12.ron", MACHINE).contains("this is a machine"));
        assert!(said("pa12.ron", "(").contains("pa12.ron"));
        let error = Bundle::from_ron("(version: 99)").unwrap_err().to_string();
        assert!(error.contains("version 99"), "{error}");
    }
}
