//! Files of a job and of the program's own, read and written.

use crate::state::document::{Content, Moved};
use crate::state::first;
use crate::state::settings::Settings;
use crate::state::unfound::Unfound;
use crate::work::recovery::{CopyFile, Orphan};
use crate::work::tasks::{Context, NewMesh, Outcome};
use crate::work::watch;
use pipeline::LoadError;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What is kept from session to session.
#[derive(Default)]
pub(crate) struct Startup {
    pub(crate) settings: Settings,
    /// Where this window keeps unsaved work; `None` if there is no room for it.
    pub(crate) place: Option<CopyFile>,
    /// Work that crashed windows left behind.
    pub(crate) orphans: Vec<Orphan>,
}

/// Reads what is kept in the state folder.
pub(crate) fn start_up(folder: &Path) -> Startup {
    let orphans = Orphan::all(folder); // before this window takes a place among them
    Startup { settings: read_settings(folder), place: CopyFile::take(folder), orphans }
}

const SETTINGS: &str = "window.ron";

fn read_settings(folder: &Path) -> Settings {
    let text = std::fs::read_to_string(folder.join(SETTINGS)).unwrap_or_default();
    ron::from_str(&text).unwrap_or_default()
}

/// Keeps the settings. Habits are not worth a message when the disk is full.
pub(crate) fn write_settings(settings: &Settings, folder: &Path) {
    if let Ok(text) = ron::ser::to_string_pretty(settings, ron::ser::PrettyConfig::new()) {
        let _ = pipeline::write_text(&folder.join(SETTINGS), &text);
    }
}

/// Reads a job with its machine and recipes; meshes follow one by one.
/// Files that it names may have been `found` elsewhere.
pub(crate) fn open(path: PathBuf, found: BTreeMap<String, PathBuf>, context: &Context) {
    context.send(match read_job(&path, &found) {
        Ok((content, moved)) => Outcome::Opened(path, Box::new(content), moved),
        Err(NotRead::Job(error)) => Outcome::Failed(format!("Cannot open the job: {error}")),
        Err(NotRead::Named(what, file, error)) => {
            let why = error.to_string();
            Outcome::Unfound(Box::new(Unfound { job: path, what, file, why, found }))
        }
    });
}

/// Why a job was not read: for itself, or for a machine or recipe that it names.
enum NotRead {
    Job(Box<LoadError>),
    Named(&'static str, String, Box<LoadError>),
}

/// The content as the job names its files, and what they are called where they were found.
fn read_job(path: &Path, found: &BTreeMap<String, PathBuf>) -> Result<(Content, Moved), NotRead> {
    let folder = path.parent().unwrap_or(Path::new(""));
    let job = pipeline::load_job_file(path).map_err(|error| NotRead::Job(Box::new(error)))?;
    let at = |file: &String| found.get(file).cloned().unwrap_or_else(|| folder.join(file));
    let machine = pipeline::load_machine_file(&at(&job.machine))
        .map_err(|error| NotRead::Named("machine", job.machine.clone(), Box::new(error)))?;
    let mut recipes = BTreeMap::new();
    let own = job.parts.iter().filter_map(|part| part.recipe.as_ref());
    for file in std::iter::once(&job.recipe).chain(own) {
        if !recipes.contains_key(file) {
            let recipe = pipeline::load_recipe_file(&at(file));
            let recipe =
                recipe.map_err(|error| NotRead::Named("recipe", file.clone(), Box::new(error)))?;
            recipes.insert(file.clone(), recipe);
        }
    }
    let mut moved = Moved { folders: [folder.to_owned(), folder.to_owned()], ..Moved::default() };
    for (old, path) in found {
        let names = [old.clone(), pipeline::seen_from(path, folder)];
        if *old == job.machine {
            moved.machine = Some(names.clone());
        }
        if recipes.contains_key(old) {
            moved.recipes.push(names);
        }
    }
    Ok((Content { job, machine, recipes }, moved))
}

/// The demo job: in the folder that the program was started in, or beside the program.
pub fn demo_job() -> Option<PathBuf> {
    let demo = Path::new("demo-jobs/tide_gauge_kit.ron");
    let here = std::env::current_dir().unwrap_or_default();
    let program = std::env::current_exe().unwrap_or_default();
    let mut folders = here.ancestors().take(1).chain(program.ancestors().skip(1).take(4));
    folders.find_map(|folder| {
        let path = folder.join(demo);
        path.is_file().then_some(path)
    })
}

/// Opens the demo job.
pub(crate) fn open_demo(context: &Context) {
    match demo_job() {
        Some(path) => open(path, BTreeMap::new(), context),
        None => context.send(Outcome::Failed(
            "The demo job is not beside this program: start it in the project's folder, or open \
             demo-jobs/tide_gauge_kit.ron from there."
                .to_owned(),
        )),
    }
}

/// Reads meshes that are to become parts of the job in a folder.
pub(crate) fn read_meshes(paths: Vec<PathBuf>, folder: &Path, context: &Context) {
    let (mut new, mut failed) = (Vec::new(), Vec::new());
    context.progress.add_total(paths.len() as u64);
    for path in paths {
        if !path.is_file() {
            failed.push(format!("There is no file {}.", path.display()));
            continue;
        }
        let part = first::part(String::new(), pipeline::seen_from(&path, folder));
        let stamp = watch::stamp(&path);
        match pipeline::load_part_mesh(folder, &part, &context.progress) {
            Ok(mesh) => new.push(NewMesh { path, loaded: Arc::new(mesh), stamp }),
            Err(LoadError::Cancelled(_)) => return,
            Err(error) => failed.push(format!("Not added: {error}")),
        }
        if context.progress.advance(1).is_err() {
            return;
        }
    }
    context.send(Outcome::MeshFiles(new, failed));
}

/// Looks in a folder for meshes that were not found where the job, which lies in `folder`, says.
pub(crate) fn look_beside(files: Vec<String>, beside: &Path, folder: PathBuf, context: &Context) {
    let found = files.into_iter().filter_map(|file| {
        let path = beside.join(Path::new(&file).file_name()?);
        let is_there = path.is_file() && !folder.join(&file).is_file();
        is_there.then_some((file, path))
    });
    let found = found.collect();
    context.send(Outcome::FoundBeside(folder, found));
}

/// Reads a recipe for a part, or for the whole job.
pub(crate) fn read_recipe(part: Option<usize>, path: PathBuf, context: &Context) {
    context.send(match pipeline::load_recipe_file(&path) {
        Ok(recipe) => Outcome::Recipe(part, path, Box::new(recipe)),
        Err(error) => Outcome::Failed(error.to_string()),
    });
}

/// Reads a machine.
pub(crate) fn read_machine(path: PathBuf, context: &Context) {
    context.send(match pipeline::load_machine_file(&path) {
        Ok(machine) => Outcome::Machine(path, Box::new(machine)),
        Err(error) => Outcome::Failed(error.to_string()),
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::contact::OnContact;
    use crate::state::theme::Theme;

    #[test]
    fn settings_survive_and_damage_counts_as_none() {
        let folder = tempfile::tempdir().unwrap();
        let mut settings = Settings {
            theme: Theme::Blueprint,
            on_contact: OnContact::Stop,
            ..Settings::default()
        };
        for name in ["/a.ron", "/b.ron", "/a.ron"] {
            settings.remember(Path::new(name));
        }
        write_settings(&settings, folder.path());
        let read = read_settings(folder.path());
        assert_eq!(read, settings);
        assert_eq!(read.recent, [PathBuf::from("/a.ron"), PathBuf::from("/b.ron")]);
        std::fs::write(folder.path().join(SETTINGS), "(theme: Pap").unwrap();
        assert_eq!(read_settings(folder.path()), Settings::default());
    }
}
