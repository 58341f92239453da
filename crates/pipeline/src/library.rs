//! Machines and recipes to pick from: those that come with the program, which never change, and the person's own.

use crate::load::{LoadError, text_of};
use crate::write::{OutputError, write_text};
use job::{Bundle, FileText, JobError, Machine, Recipe, is_file_name};
use std::path::{Path, PathBuf};

/// What there is in a library.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LibraryKind {
    /// Machines.
    Machine,
    /// Recipes.
    Recipe,
}

impl LibraryKind {
    /// In a sentence.
    pub fn word(self) -> &'static str {
        match self {
            Self::Machine => "machine",
            Self::Recipe => "recipe",
        }
    }

    fn folder(self) -> &'static str {
        match self {
            Self::Machine => "machines",
            Self::Recipe => "recipes",
        }
    }
}

/// One machine or recipe.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LibraryEntry {
    /// Which of both.
    pub kind: LibraryKind,
    /// Name of its file, without a folder.
    pub file: String,
    /// Where it lies; nowhere if it came with the program.
    pub path: Option<PathBuf>,
    /// What the person calls it.
    pub name: String,
    /// What was noted in it.
    pub notes: String,
    /// Its text, with comments.
    pub text: String,
}

/// Why something in a library cannot be had, or put there.
#[derive(Debug, thiserror::Error)]
pub enum LibraryError {
    /// Nothing has that name.
    #[error(
        "there is no machine or recipe {wanted:?}; the library holds {held}. Name one of these, or a file"
    )]
    Unknown {
        /// What was asked for.
        wanted: String,
        /// What there is.
        held: String,
    },
    /// A machine is no recipe.
    #[error("{first} is a {}, {second} a {}: compare two of a kind", .kinds[0].word(), .kinds[1].word())]
    OfTwoKinds {
        /// The first.
        first: String,
        /// The second.
        second: String,
        /// What they are.
        kinds: [LibraryKind; 2],
    },
    /// The system names no folder for a person's files.
    #[error("there is no folder for your own machines and recipes here; name one with --library")]
    NoFolder,
    /// A name that is none of a file.
    #[error("{0:?} cannot be the name of a file; use letters, digits, spaces, \"-\" and \"_\"")]
    Name(String),
    /// Something else is there already.
    #[error("there is another file of that name, which stays; choose another name: {}", .0.display())]
    Taken(PathBuf),
    /// A file cannot be read.
    #[error(transparent)]
    Load(#[from] LoadError),
    /// A file cannot be written.
    #[error(transparent)]
    Output(#[from] OutputError),
}

/// The machines and recipes that come with the program: kind, name of the file, text.
const SHIPPED: [(LibraryKind, &str, &str); 7] = [
    (
        LibraryKind::Machine,
        "bench_co2_30w.ron",
        include_str!("../../../assets/machines/bench_co2_30w.ron"),
    ),
    (
        LibraryKind::Machine,
        "bench_diode_5w.ron",
        include_str!("../../../assets/machines/bench_diode_5w.ron"),
    ),
    (LibraryKind::Recipe, "pa11.ron", include_str!("../../../assets/recipes/pa11.ron")),
    (LibraryKind::Recipe, "pa12.ron", include_str!("../../../assets/recipes/pa12.ron")),
    (LibraryKind::Recipe, "pa12_fine.ron", include_str!("../../../assets/recipes/pa12_fine.ron")),
    (LibraryKind::Recipe, "pa12_glass.ron", include_str!("../../../assets/recipes/pa12_glass.ron")),
    (LibraryKind::Recipe, "tpu.ron", include_str!("../../../assets/recipes/tpu.ron")),
];

/// What comes with the program and what lies in a folder of the person's.
#[derive(Clone, Debug, Default)]
pub struct Library {
    folder: Option<PathBuf>,
}

impl Library {
    /// With what lies in the folders "machines" and "recipes" of this one, which need not exist yet.
    pub fn in_folder(folder: Option<PathBuf>) -> Self {
        Self { folder }
    }

    /// Everything that can be used, machines first, the program's own before the person's; and a sentence for each
    /// file that cannot.
    pub fn entries(&self) -> (Vec<LibraryEntry>, Vec<String>) {
        let (mut found, mut unusable) = (Vec::new(), Vec::new());
        for kind in [LibraryKind::Machine, LibraryKind::Recipe] {
            for (_, file, text) in SHIPPED.iter().filter(|(of, ..)| *of == kind) {
                found.extend(entry_of(kind, None, file, (*text).to_owned()).ok());
            }
            for path in self.own_files(kind) {
                match read_entry(kind, &path) {
                    Ok(entry) => found.push(entry),
                    Err(error) => unusable.push(error.to_string()),
                }
            }
        }
        (found, unusable)
    }

    /// The paths of the person's files of a kind, in the order of their names.
    fn own_files(&self, kind: LibraryKind) -> Vec<PathBuf> {
        let Some(folder) = &self.folder else { return Vec::new() };
        let listed = std::fs::read_dir(folder.join(kind.folder())).into_iter().flatten().flatten();
        let mut paths: Vec<PathBuf> = listed.map(|entry| entry.path()).collect();
        paths.retain(|path| path.extension().is_some_and(|e| e == "ron"));
        paths.sort();
        paths
    }

    /// What is called so: by the name of its file, with or without ".ron", the person's before the program's; else a
    /// file at that path.
    ///
    /// # Errors
    /// If there is none, or it cannot be used.
    pub fn find(&self, wanted: &str) -> Result<LibraryEntry, LibraryError> {
        let (mut entries, _) = self.entries();
        let stem = |file: &str| file.trim_end_matches(".ron").to_owned();
        let is_it = |entry: &LibraryEntry| stem(&entry.file) == stem(wanted);
        if let Some(at) = entries.iter().rposition(is_it) {
            return Ok(entries.swap_remove(at));
        }
        let path = Path::new(wanted);
        if path.components().count() > 1 || path.exists() {
            return read_entry(LibraryKind::Recipe, path).or_else(|as_recipe| {
                read_entry(LibraryKind::Machine, path).map_err(|_| as_recipe)
            });
        }
        let held = entries.iter().map(|entry| stem(&entry.file)).collect::<Vec<_>>().join(", ");
        Err(LibraryError::Unknown { wanted: wanted.to_owned(), held })
    }

    /// Puts a machine or recipe into the person's folder under a name; returns where. What is the same there already
    /// stays as it is.
    ///
    /// # Errors
    /// If there is no folder, another file has that name, or it cannot be written.
    pub fn keep(&self, kind: LibraryKind, file: &str, text: &str) -> Result<PathBuf, LibraryError> {
        let folder = self.folder.as_ref().ok_or(LibraryError::NoFolder)?;
        if !is_file_name(file) {
            return Err(LibraryError::Name(file.to_owned()));
        }
        let folder = folder.join(kind.folder());
        let path = folder.join(file);
        std::fs::create_dir_all(&folder)
            .map_err(|source| OutputError::Io { path: folder.clone(), source })?;
        copy_to(text, &path)?;
        Ok(path)
    }

    /// Some of it as one text, or all that is the person's own where nothing is named.
    ///
    /// # Errors
    /// If there is something that is not there.
    pub fn bundle(&self, names: &[String]) -> Result<Bundle, LibraryError> {
        let chosen = if names.is_empty() {
            self.entries().0.into_iter().filter(|entry| entry.path.is_some()).collect()
        } else {
            names.iter().map(|name| self.find(name)).collect::<Result<Vec<_>, _>>()?
        };
        let mut bundle = Bundle { version: Bundle::VERSION, ..Bundle::default() };
        for LibraryEntry { kind, file, text, .. } in chosen {
            let list = match kind {
                LibraryKind::Machine => &mut bundle.machines,
                LibraryKind::Recipe => &mut bundle.recipes,
            };
            list.push(FileText { file, text });
        }
        Ok(bundle)
    }

    /// Takes all that a bundle holds into the person's folder; returns where it lies now.
    ///
    /// # Errors
    /// If another file has a name of one of them; then nothing is taken.
    pub fn take(&self, bundle: &Bundle) -> Result<Vec<PathBuf>, LibraryError> {
        let machines = bundle.machines.iter().map(|entry| (LibraryKind::Machine, entry));
        let all: Vec<_> = machines
            .chain(bundle.recipes.iter().map(|entry| (LibraryKind::Recipe, entry)))
            .collect();
        for (kind, FileText { file, text }) in &all {
            let path = self.folder.as_ref().map(|folder| folder.join(kind.folder()).join(file));
            if let Some(path) = path.filter(|path| is_another(text, path)) {
                return Err(LibraryError::Taken(path));
            }
        }
        all.into_iter().map(|(kind, entry)| self.keep(kind, &entry.file, &entry.text)).collect()
    }
}

impl LibraryEntry {
    /// What is not the same in another one of the kind, value by value; layout and comments do not count.
    ///
    /// # Errors
    /// If one is a machine and the other a recipe.
    pub fn differences(&self, other: &Self) -> Result<Vec<job::Difference>, LibraryError> {
        if self.kind != other.kind {
            let kinds = [self.kind, other.kind];
            let (first, second) = (self.file.clone(), other.file.clone());
            return Err(LibraryError::OfTwoKinds { first, second, kinds });
        }
        let values = |text: &str| match self.kind {
            LibraryKind::Machine => Machine::from_ron(text).map(|machine| machine.to_ron()),
            LibraryKind::Recipe => Recipe::from_ron(text).map(|recipe| recipe.to_ron()),
        };
        let usable = |entry: &Self| {
            let path = entry.path.clone().unwrap_or_else(|| PathBuf::from(&entry.file));
            values(&entry.text).map_err(|source| LoadError::Invalid { path, source })
        };
        Ok(job::differences(&usable(self)?, &usable(other)?))
    }
}

/// Writes a text where nothing else is.
///
/// # Errors
/// If another file is there, or it cannot be written.
pub fn copy_to(text: &str, path: &Path) -> Result<(), LibraryError> {
    if is_another(text, path) {
        return Err(LibraryError::Taken(path.to_owned()));
    }
    Ok(write_text(path, text)?)
}

/// Reads machines and recipes that somebody handed on.
///
/// # Errors
/// If the file cannot be read, or something in it cannot be used.
pub fn load_bundle(path: &Path) -> Result<Bundle, LoadError> {
    let text = text_of("library", path)?;
    let invalid = |source| LoadError::Invalid { path: path.to_owned(), source };
    Bundle::from_ron(&text).map_err(invalid)
}

/// Whether something lies at a path that is not this text.
fn is_another(text: &str, path: &Path) -> bool {
    path.symlink_metadata().is_ok() && std::fs::read(path).ok().as_deref() != Some(text.as_bytes())
}

fn read_entry(kind: LibraryKind, path: &Path) -> Result<LibraryEntry, LibraryError> {
    let text = text_of(kind.word(), path)?;
    let file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let invalid = |source| LoadError::Invalid { path: path.to_owned(), source };
    Ok(entry_of(kind, Some(path.to_owned()), &file, text).map_err(invalid)?)
}

fn entry_of(
    kind: LibraryKind,
    path: Option<PathBuf>,
    file: &str,
    text: String,
) -> Result<LibraryEntry, JobError> {
    let (name, notes) = match kind {
        LibraryKind::Machine => {
            Machine::from_ron(&text).map(|machine| (machine.name, machine.notes))?
        }
        LibraryKind::Recipe => Recipe::from_ron(&text).map(|recipe| (recipe.name, recipe.notes))?,
    };
    Ok(LibraryEntry { kind, file: file.to_owned(), path, name, notes, text })
}

/// The text of a machine or recipe under another name, with its comments.
///
/// # Errors
/// If it cannot be used.
pub fn renamed(entry: &LibraryEntry, name: &str) -> Result<String, LibraryError> {
    let path = entry.path.clone().unwrap_or_else(|| PathBuf::from(&entry.file));
    let invalid = |source| LoadError::Invalid { path: path.clone(), source };
    match entry.kind {
        LibraryKind::Machine => {
            let mut machine = Machine::from_ron(&entry.text).map_err(invalid)?;
            name.clone_into(&mut machine.name);
            Ok(machine.to_ron_over(&entry.text))
        }
        LibraryKind::Recipe => {
            let mut recipe = Recipe::from_ron(&entry.text).map_err(invalid)?;
            name.clone_into(&mut recipe.name);
            Ok(recipe.to_ron_over(&entry.text))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_with_the_program_can_be_used_and_compared() {
        let library = Library::default();
        let (entries, unusable) = library.entries();
        assert_eq!((entries.len(), unusable), (SHIPPED.len(), Vec::new()));
        let [pa12, fine] = ["pa12", "pa12_fine.ron"].map(|name| library.find(name).unwrap());
        assert_eq!(pa12.differences(&pa12).unwrap(), []);
        let fields: Vec<_> =
            pa12.differences(&fine).unwrap().into_iter().map(|d| d.field).collect();
        assert!(fields.contains(&"core.hatch.min_length_mm".to_owned()), "{fields:?}");
        let machine = library.find("bench_diode_5w").unwrap();
        assert!(matches!(pa12.differences(&machine), Err(LibraryError::OfTwoKinds { .. })));
        let error = library.find("pa13").unwrap_err().to_string();
        assert!(error.contains("pa12_fine"), "{error}");
    }

    #[test]
    fn own_ones_are_kept_with_their_comments_handed_on_and_never_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let library = Library::in_folder(Some(folder.path().to_owned()));
        let text = renamed(&library.find("pa12").unwrap(), "our PA12").unwrap();
        assert!(text.contains("//"), "the comments go along");
        let path = library.keep(LibraryKind::Recipe, "ours.ron", &text).unwrap();
        assert_eq!(library.keep(LibraryKind::Recipe, "ours.ron", &text).unwrap(), path);
        assert!(matches!(
            library.keep(LibraryKind::Recipe, "ours.ron", &format!("{text}\n")),
            Err(LibraryError::Taken(_))
        ));
        assert!(matches!(
            library.keep(LibraryKind::Recipe, "../x.ron", &text),
            Err(LibraryError::Name(_))
        ));
        let ours = library.find("ours").unwrap();
        assert_eq!((ours.name.as_str(), ours.path.as_ref()), ("our PA12", Some(&path)));

        let bundle = library.bundle(&[]).unwrap();
        assert_eq!((bundle.recipes.len(), bundle.machines.len()), (1, 0));
        let elsewhere = tempfile::tempdir().unwrap();
        let other = Library::in_folder(Some(elsewhere.path().to_owned()));
        let taken = other.take(&Bundle::from_ron(&bundle.to_ron()).unwrap()).unwrap();
        assert_eq!(std::fs::read_to_string(&taken[0]).unwrap(), text);
        std::fs::write(&taken[0], "mine").unwrap();
        assert!(matches!(other.take(&bundle), Err(LibraryError::Taken(_))));
        let (_, unusable) = other.entries();
        assert!(unusable[0].contains("ours.ron"), "{unusable:?}");
    }
}
