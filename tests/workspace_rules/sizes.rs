//! Files and functions stay small enough to know.

use crate::source::{parsed, root, rust_files, short, text_of};
use syn::spanned::Spanned;
use syn::visit::{self, Visit};
use syn::{Block, Expr, ImplItemFn, ItemFn, Signature, Stmt, TraitItemFn};

/// Lines of a function, from its signature to its closing brace.
const MAX_FUNCTION_LINES: usize = 60;
/// Lines of a file; few may come near.
const MAX_FILE_LINES: usize = 600;
/// Lines that most files stay below, and the share of files that may be longer.
const USUAL_FILE_LINES: usize = 350;
const LONGER_FILES: f64 = 0.05;

/// Whether a function is one `match` over an enum, and so as long as the enum has variants.
fn is_table(block: &Block) -> bool {
    matches!(&block.stmts[..], [Stmt::Expr(Expr::Match(_), None)])
}

/// Functions that are longer than allowed.
#[derive(Default)]
struct Long {
    found: Vec<(String, usize)>,
}

impl Long {
    fn look_at(&mut self, signature: &Signature, block: &Block) {
        let lines = block.span().end().line - signature.span().start().line + 1;
        if lines > MAX_FUNCTION_LINES && !is_table(block) {
            self.found.push((signature.ident.to_string(), lines));
        }
    }
}

impl<'ast> Visit<'ast> for Long {
    fn visit_item_fn(&mut self, function: &'ast ItemFn) {
        self.look_at(&function.sig, &function.block);
        visit::visit_item_fn(self, function);
    }

    fn visit_impl_item_fn(&mut self, function: &'ast ImplItemFn) {
        self.look_at(&function.sig, &function.block);
        visit::visit_impl_item_fn(self, function);
    }

    fn visit_trait_item_fn(&mut self, function: &'ast TraitItemFn) {
        if let Some(block) = &function.default {
            self.look_at(&function.sig, block);
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
