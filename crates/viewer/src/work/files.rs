//! Files of a job and of the program's own, read and written.

use crate::state::document::Content;
use crate::state::settings::Settings;
use crate::work::recovery::{CopyFile, Orphan};
use crate::work::tasks::{Context, Outcome};
use pipeline::LoadError;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

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
pub(crate) fn open(path: PathBuf, context: &Context) {
    context.send(match read_job(&path) {
        Ok(content) => Outcome::Opened(path, Box::new(content)),
        Err(error) => Outcome::Failed(format!("Cannot open the job: {error}")),
    });
}

fn read_job(path: &Path) -> Result<Content, LoadError> {
    let folder = path.parent().unwrap_or(Path::new(""));
    let job = pipeline::load_job_file(path)?;
    let machine = pipeline::load_machine_file(&folder.join(&job.machine))?;
    let mut recipes = BTreeMap::new();
    let own = job.parts.iter().filter_map(|part| part.recipe.as_ref());
    for file in std::iter::once(&job.recipe).chain(own) {
        if !recipes.contains_key(file) {
            recipes.insert(file.clone(), pipeline::load_recipe_file(&folder.join(file))?);
        }
    }
    Ok(Content { job, machine, recipes })
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
        Some(path) => open(path, context),
        None => context.send(Outcome::Failed(
            "The demo job is not beside this program: start it in the project's folder, or open \
             demo-jobs/tide_gauge_kit.ron from there."
                .to_owned(),
        )),
    }
}

/// Looks which of these files are there.
pub(crate) fn look_for(paths: Vec<PathBuf>, context: &Context) {
    let (there, missing): (Vec<_>, Vec<_>) = paths.into_iter().partition(|path| path.is_file());
    let sentence = |path: PathBuf| format!("There is no file {}.", path.display());
    context.send(Outcome::MeshFiles(there, missing.into_iter().map(sentence).collect()));
}

/// Reads a recipe for a part, or for the whole job.
pub(crate) fn read_recipe(part: Option<usize>, file: String, path: &Path, context: &Context) {
    context.send(match pipeline::load_recipe_file(path) {
        Ok(recipe) => Outcome::Recipe(part, file, Box::new(recipe)),
        Err(error) => Outcome::Failed(error.to_string()),
    });
}

/// Reads a machine.
pub(crate) fn read_machine(file: String, path: &Path, context: &Context) {
    context.send(match pipeline::load_machine_file(path) {
        Ok(machine) => Outcome::Machine(file, Box::new(machine)),
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
