//! Files and functions stay small enough to know.

use crate::source::{parsed, root, rust_files, short, text_of};
use syn::spanned::Spanned;
use syn::visit::{self, Visit};
use syn::{Attribute, ImplItemFn, ItemFn, Meta, Signature, TraitItemFn};

/// Lines of a function, from its signature to its closing brace.
const MAX_FUNCTION_LINES: usize = 60;
/// Lines of a file; few may come near.
const MAX_FILE_LINES: usize = 600;
/// Lines that most files stay below, and the share of files that may be longer.
const USUAL_FILE_LINES: usize = 350;
const LONGER_FILES: f64 = 0.05;

/// Whether an attribute says why a function is long: `#[expect(clippy::too_many_lines, reason = …)]`.
fn is_reason_for_length(attribute: &Attribute) -> bool {
    let Meta::List(list) = &attribute.meta else { return false };
    list.path.is_ident("expect") && list.tokens.to_string().contains("too_many_lines")
}

/// Functions that are longer than allowed.
#[derive(Default)]
struct Long {
    found: Vec<(String, usize)>,
}

impl Long {
    fn look_at(&mut self, attributes: &[Attribute], signature: &Signature, end: usize) {
        let lines = end - signature.span().start().line + 1;
        let is_table = attributes.iter().any(is_reason_for_length);
        if lines > MAX_FUNCTION_LINES && !is_table {
            self.found.push((signature.ident.to_string(), lines));
        }
    }
}

impl<'ast> Visit<'ast> for Long {
    fn visit_item_fn(&mut self, function: &'ast ItemFn) {
        self.look_at(&function.attrs, &function.sig, function.block.span().end().line);
        visit::visit_item_fn(self, function);
    }

    fn visit_impl_item_fn(&mut self, function: &'ast ImplItemFn) {
        self.look_at(&function.attrs, &function.sig, function.block.span().end().line);
        visit::visit_impl_item_fn(self, function);
    }

    fn visit_trait_item_fn(&mut self, function: &'ast TraitItemFn) {
        if let Some(block) = &function.default {
            self.look_at(&function.attrs, &function.sig, block.span().end().line);
        }
        visit::visit_trait_item_fn(self, function);
    }
}

#[test]
fn functions_fit_on_a_screen() {
    let mut found = Vec::new();
    for file in rust_files(&root().join("crates")) {
        let mut long = Long::default();
        long.visit_file(&parsed(&file));
        let here = long.found.into_iter();
        found.extend(here.map(|(name, lines)| format!("{} {name}: {lines} lines", short(&file))));
    }
    assert!(found.is_empty(), "more than {MAX_FUNCTION_LINES} lines:\n{}", found.join("\n"));
}

#[test]
fn every_source_file_says_what_it_is_and_stays_small_enough_to_know() {
    let mut files = rust_files(&root().join("crates"));
    files.extend(rust_files(&root().join("tests")));
    assert!(files.len() > 20, "looked in the wrong place");
    let mut longer = Vec::new();
    for file in &files {
        let text = text_of(file);
        assert!(text.starts_with("//!"), "{} must begin with a //! line", short(file));
        let lines = text.lines().count();
        assert!(lines <= MAX_FILE_LINES, "{} has {lines} lines", short(file));
        if lines > USUAL_FILE_LINES {
            longer.push(format!("{} {lines}", short(file)));
        }
    }
    let share = longer.len() as f64 / files.len() as f64;
    assert!(
        share <= LONGER_FILES,
        "{:.1} % of the files have more than {USUAL_FILE_LINES} lines:\n{}",
        100.0 * share,
        longer.join("\n")
    );
}
