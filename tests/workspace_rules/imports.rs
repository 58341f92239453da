//! Within a crate, files import each other in one direction.
//!
//! An import is a path in a `use` or in code that names something another file defines, followed
//! through re-exports to the file that does. `mod child;` alone is no import, and neither is a bare
//! re-export: a folder's `mod.rs` may list what the folder offers.

use crate::layers::crate_names;
use crate::source::{attributes_of, is_for_tests, parsed, rust_files, src_of};
use std::collections::{BTreeMap, BTreeSet};
use syn::punctuated::Punctuated;
use syn::visit::{self, Visit};
use syn::{Expr, File, Item, ItemUse, Macro, Token, UseTree, Visibility};

/// Two files may be as one; three that import each other in a circle are a knot.
const MAX_CYCLE: usize = 2;

/// A path of names: of a module from the crate's root, or as written.
type Names = Vec<String>;

/// What a file brings into scope, and what it names.
#[derive(Default)]
struct Module {
    /// Names in scope, and the paths that they stand for; `*` is left out.
    aliases: BTreeMap<String, Names>,
    /// Paths that the file makes use of, as written.
    used: BTreeSet<Names>,
    /// Names that occur in code outside `use`.
    mentioned: BTreeSet<String>,
}

/// Collects [`Module::used`] and the names in scope.
struct Collector {
    module: Module,
    /// Public re-exports, which count only where the file itself mentions the name.
    reexports: Vec<(String, Names)>,
}

impl Collector {
    fn of(file: &File) -> Module {
        let mut collector = Self { module: Module::default(), reexports: Vec::new() };
        collector.visit_file(file);
        let Self { mut module, reexports } = collector;
        let mentioned = reexports.into_iter().filter(|(name, _)| module.mentioned.contains(name));
        module.used.extend(mentioned.map(|(_, path)| path).collect::<Vec<_>>());
        module
    }

    fn add_use(&mut self, is_reexport: bool, before: &[String], tree: &UseTree) {
        let joined = |name: String| [before, &[name]].concat();
        match tree {
            UseTree::Path(path) => {
                self.add_use(is_reexport, &joined(path.ident.to_string()), &path.tree);
            }
            UseTree::Name(name) if name.ident == "self" => {
                let alias = before.last().cloned().unwrap_or_default();
                self.add_alias(is_reexport, alias, before.to_vec());
            }
            UseTree::Name(name) => {
                self.add_alias(is_reexport, name.ident.to_string(), joined(name.ident.to_string()));
            }
            UseTree::Rename(rename) => {
                let path = joined(rename.ident.to_string());
                self.add_alias(is_reexport, rename.rename.to_string(), path);
            }
            UseTree::Glob(_) => {
                self.module.used.insert(before.to_vec());
            }
            UseTree::Group(group) => {
                for tree in &group.items {
                    self.add_use(is_reexport, before, tree);
                }
            }
        }
    }

    fn add_alias(&mut self, is_reexport: bool, alias: String, path: Names) {
        self.module.aliases.insert(alias.clone(), path.clone());
        if is_reexport {
            self.reexports.push((alias, path));
        } else {
            self.module.used.insert(path);
        }
    }
}

impl<'ast> Visit<'ast> for Collector {
    fn visit_item(&mut self, item: &'ast Item) {
        if !is_for_tests(attributes_of(item)) {
            visit::visit_item(self, item);
        }
    }

    fn visit_item_use(&mut self, item: &'ast ItemUse) {
        self.add_use(!matches!(item.vis, Visibility::Inherited), &[], &item.tree);
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        let names: Names = path.segments.iter().map(|s| s.ident.to_string()).collect();
        self.module.mentioned.insert(names[0].clone());
        if names.len() > 1 {
            self.module.used.insert(names);
        }
        visit::visit_path(self, path);
    }

    /// Most macros take expressions; what the others hold is not looked at.
    fn visit_macro(&mut self, mac: &'ast Macro) {
        type Expressions = Punctuated<Expr, Token![,]>;
        if let Ok(arguments) = mac.parse_body_with(Expressions::parse_terminated) {
            // The tree lives only here, so it gets a visit of its own.
            let mut inner = Self { module: Module::default(), reexports: Vec::new() };
            arguments.iter().for_each(|argument| inner.visit_expr(argument));
            self.module.used.append(&mut inner.module.used);
            self.module.mentioned.append(&mut inner.module.mentioned);
        }
    }
}

/// The files of a crate by the path of their module.
struct Modules(BTreeMap<Names, Module>);

impl Modules {
    fn of_crate(name: &str) -> Self {
        let src = src_of(name);
        let mut tests: BTreeSet<Names> = BTreeSet::new();
        let mut modules = BTreeMap::new();
        for path in rust_files(&src) {
            let relative = path.strip_prefix(&src).unwrap().with_extension("");
            let mut names: Names =
                relative.iter().map(|name| name.to_string_lossy().into_owned()).collect();
            if names.last().is_some_and(|last| last == "mod")
                || names == ["lib"]
                || names == ["main"]
            {
                names.pop();
            }
            let file = parsed(&path);
            for item in &file.items {
                if let Item::Mod(module) = item
                    && is_for_tests(&module.attrs)
                {
                    tests.insert([&names[..], &[module.ident.to_string()]].concat());
                }
            }
            modules.insert(names, Collector::of(&file));
        }
        modules.retain(|names, _| !tests.iter().any(|test| names.starts_with(test)));
        Self(modules)
    }

    /// A path as written in a module, from the crate's root; `None` if it leads out of the crate.
    fn rooted(&self, module: &[String], path: &[String]) -> Option<Names> {
        let first = path.first()?;
        let child = || [module, &path[..1]].concat();
        if first == "crate" {
            Some(path[1..].to_vec())
        } else if first == "self" || first == "super" {
            let ups = path.iter().take_while(|name| *name == "super").count();
            let rest = &path[ups + usize::from(first == "self")..];
            let above = module.len().checked_sub(ups)?;
            Some([&module[..above], rest].concat())
        } else if self.0.contains_key(&child()) {
            Some([module, path].concat())
        } else {
            None
        }
    }

    /// The module whose file defines what a path from the root names.
    fn home_of(&self, path: &[String], seen: &mut BTreeSet<Names>) -> Option<Names> {
        if !seen.insert(path.to_vec()) {
            return None;
        }
        let depth = (0..=path.len()).rev().find(|n| self.0.contains_key(&path[..*n]))?;
        let (home, rest) = path.split_at(depth);
        let alias = rest.first().and_then(|name| self.0[home].aliases.get(name));
        match alias {
            None => Some(home.to_vec()),
            Some(target) => {
                let target = self.rooted(home, target)?; // else it comes from another crate
                self.home_of(&[&target[..], &rest[1..]].concat(), seen)
            }
        }
    }

    /// Who imports whom.
    fn imports(&self) -> BTreeMap<&Names, BTreeSet<Names>> {
        let of = |(names, module): (_, &Module)| {
            let written = module.used.iter().filter_map(|path| self.rooted(names, path));
            let homes = written.filter_map(|path| self.home_of(&path, &mut BTreeSet::new()));
            homes.filter(|home| home != names).collect()
        };
        self.0.iter().map(|(names, module)| (names, of((names, module)))).collect()
    }
}

/// All that can be reached from `start` by imports.
fn reached<'a>(
    imports: &'a BTreeMap<&'a Names, BTreeSet<Names>>,
    start: &'a Names,
) -> BTreeSet<&'a Names> {
    let mut reached = BTreeSet::new();
    let mut open = vec![start];
    while let Some(names) = open.pop() {
        for next in &imports[names] {
            if reached.insert(next) {
                open.push(next);
            }
        }
    }
    reached
}

/// Sets of files that all reach each other, larger than allowed.
fn knots(modules: &Modules) -> BTreeSet<Vec<String>> {
    let imports = modules.imports();
    let reach: BTreeMap<&Names, BTreeSet<&Names>> =
        imports.keys().map(|names| (*names, reached(&imports, names))).collect();
    let knot_of = |names: &&Names| -> Vec<String> {
        let both = reach[*names].iter().filter(|other| reach[**other].contains(*names));
        both.map(|other| if other.is_empty() { "lib".into() } else { other.join("::") }).collect()
    };
    imports.keys().map(knot_of).filter(|knot| knot.len() > MAX_CYCLE).collect()
}

#[test]
fn no_three_files_of_a_crate_import_each_other_in_a_circle() {
    let mut found = Vec::new();
    for name in crate_names() {
        let modules = Modules::of_crate(name);
        found.extend(knots(&modules).iter().map(|knot| format!("{name}: {}", knot.join(", "))));
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// The rule sees what it is to see: a circle through re-exports and macros, but no test module.
#[test]
fn a_circle_is_found_and_a_bare_list_of_modules_is_none() {
    let files = [
        ("", "mod a; mod b; mod c; pub use a::A; pub use b::B;"),
        ("a", "use crate::B; pub struct A(B);"),
        ("b", "pub struct B; fn f() { assert_eq!(crate::c::C, 1) }"),
        ("c", "use super::A; pub const C: u32 = 1; #[cfg(test)] mod tests { use crate::d::D; }"),
        ("d", "use crate::A; pub struct D;"),
    ];
    let modules = files.map(|(names, text)| {
        let names: Names = names.split("::").filter(|n| !n.is_empty()).map(Into::into).collect();
        (names, Collector::of(&syn::parse_file(text).unwrap()))
    });
    let knots = knots(&Modules(modules.into_iter().collect()));
    assert_eq!(knots.into_iter().collect::<Vec<_>>(), [["a", "b", "c"]]);
}
