//! `library`: machines and recipes to pick from, compare, copy and hand on.

use crate::console::{json, line, whole};
use crate::outcome::{Failure, Outcome};
use clap::{Args, Subcommand};
use pipeline::{Library, LibraryEntry, LibraryKind, copy_to, load_bundle, renamed};
use serde_json::json;
use std::path::{Path, PathBuf};

#[derive(Args)]
pub(crate) struct LibraryArgs {
    /// Folder of your own machines and recipes; where the window keeps them when absent
    #[arg(long, global = true, value_name = "FOLDER")]
    library: Option<PathBuf>,
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand)]
enum What {
    /// List what there is: what comes with the program, and your own
    List {
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Say which values of two machines or two recipes differ: names from the list, or files
    Compare {
        /// The first
        first: String,
        /// The second
        second: String,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Copy one, with its comments, into your library, or to a file if the new name has a folder in it (`./mine.ron`)
    Copy {
        /// Name from the list, or a file
        from: String,
        /// What the copy is to be called
        to: String,
    },
    /// Write some of it, or all that is your own, into one file that somebody else can import
    Export {
        /// Names from the list, or files; all that is your own when absent
        names: Vec<String>,
        /// Where to write
        #[arg(short, long)]
        out: PathBuf,
    },
    /// Take what somebody exported into your library
    Import {
        /// The file
        file: PathBuf,
    },
}

pub(crate) fn run(args: LibraryArgs, own_folder: Option<PathBuf>) -> Result<Outcome, Failure> {
    let library = Library::in_folder(args.library.or(own_folder));
    match args.what {
        What::List { json } => list(&library, json),
        What::Compare { first, second, json } => compare(&library, [&first, &second], json),
        What::Copy { from, to } => copy(&library, &from, &to),
        What::Export { names, out } => export(&library, &names, &out),
        What::Import { file } => {
            for path in library.take(&load_bundle(&file)?)? {
                line(&whole(&path));
            }
            Ok(Outcome::Done)
        }
    }
}

fn list(library: &Library, as_json: bool) -> Result<Outcome, Failure> {
    let (entries, unusable) = library.entries();
    if as_json {
        let row = |entry: &LibraryEntry| {
            json!({
                "kind": entry.kind.word(), "file": entry.file, "name": entry.name, "path": entry.path,
                "notes": entry.notes,
            })
        };
        let rows: Vec<_> = entries.iter().map(row).collect();
        json(&json!({ "entries": rows, "unusable": unusable }))?;
        return Ok(Outcome::Done);
    }
    let stem = |entry: &LibraryEntry| entry.file.trim_end_matches(".ron").to_owned();
    let widest = entries.iter().map(|entry| stem(entry).chars().count()).max().unwrap_or(0);
    for (kind, title) in [(LibraryKind::Machine, "Machines"), (LibraryKind::Recipe, "Recipes")] {
        line(title);
        for entry in entries.iter().filter(|entry| entry.kind == kind) {
            let origin = if entry.path.is_some() { "yours" } else { "comes with the program" };
            line(&format!("  {:widest$}  {}, {origin}", stem(entry), entry.name));
        }
    }
    for sentence in unusable {
        line(&format!("Not listed: {sentence}"));
    }
    Ok(Outcome::Done)
}

fn compare(library: &Library, names: [&str; 2], as_json: bool) -> Result<Outcome, Failure> {
    let [first, second] = [library.find(names[0])?, library.find(names[1])?];
    let differences = first.differences(&second)?;
    if as_json {
        let row =
            |d: &job::Difference| json!({ "field": d.field, "first": d.first, "second": d.second });
        let rows: Vec<_> = differences.iter().map(row).collect();
        json(&json!({ "differences": rows }))?;
    } else if differences.is_empty() {
        line("No value differs.");
    } else {
        let said = |value: Option<&String>| value.map_or("nothing".to_owned(), String::clone);
        for difference in &differences {
            let (a, b) = (said(difference.first.as_ref()), said(difference.second.as_ref()));
            line(&format!("{}: {a} and {b}", difference.field));
        }
    }
    Ok(if differences.is_empty() { Outcome::Done } else { Outcome::Stopped })
}

fn copy(library: &Library, from: &str, to: &str) -> Result<Outcome, Failure> {
    let entry = library.find(from)?;
    let is_path = Path::new(to).components().count() > 1;
    let path = if is_path {
        copy_to(&entry.text, Path::new(to))?;
        PathBuf::from(to)
    } else {
        let name = to.trim_end_matches(".ron");
        library.keep(entry.kind, &format!("{name}.ron"), &renamed(&entry, name)?)?
    };
    line(&whole(&path));
    Ok(Outcome::Done)
}

fn export(library: &Library, names: &[String], out: &Path) -> Result<Outcome, Failure> {
    let bundle = library.bundle(names)?;
    let count = bundle.machines.len() + bundle.recipes.len();
    if count == 0 {
        return Err(Failure(
            "there is nothing of your own to export; name what is to go".to_owned(),
        ));
    }
    copy_to(&bundle.to_ron(), out)?;
    line(&format!("{}: {count} in it", whole(out)));
    Ok(Outcome::Done)
}
