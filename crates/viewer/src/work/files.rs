//! Files of a job and of the program's own, read and written.

use crate::state::document::Content;
use crate::state::settings::Settings;
use crate::work::recovery::{CopyFile, Orphan};
use crate::work::tasks::{Context, Outcome};
use job::{Job, Machine, Recipe};
use pipeline::{LoadError, OutputError};
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

/// A job that is to be saved, or was.
pub(crate) struct SavedJob {
    /// Number of the document: another may be opened meanwhile.
    pub(crate) document: u64,
    pub(crate) path: PathBuf,
    /// What is saved; its paths start from the file's folder.
    pub(crate) content: Content,
    /// What the files held before; where that is not known, they are looked at.
    pub(crate) before: Option<Arc<Content>>,
}

/// A copy of a recipe that is to be saved, or was.
pub(crate) struct SavedRecipe {
    /// Number of the document: another may be opened meanwhile.
    pub(crate) document: u64,
    /// What the job calls the recipe that it was copied from.
    pub(crate) old: String,
    /// What the job is to call the copy.
    pub(crate) new: String,
    pub(crate) recipe: Recipe,
}

/// Writes the job, and of machine and recipes what differs from what the files hold.
pub(crate) fn save(mut job: SavedJob, context: &Context) {
    context.send(match save_files(&mut job) {
        Ok(()) => Outcome::Saved(Box::new(job)),
        Err(error) => Outcome::Failed(format!("Not saved: {error}")),
    });
}

/// What is written has the newest form from then on, in `content` too.
fn save_files(SavedJob { path, content, before, .. }: &mut SavedJob) -> Result<(), OutputError> {
    let folder = path.parent().unwrap_or(Path::new(""));
    let (file, machine) = (folder.join(&content.job.machine), &mut content.machine);
    let is_there = match before {
        Some(before) => before.machine == *machine,
        None => pipeline::load_machine_file(&file).is_ok_and(|held| held == *machine),
    };
    if !is_there {
        save_text(&file, &machine.to_ron())?;
        machine.version = Machine::VERSION;
    }
    for (file, recipe) in &mut content.recipes {
        let file = folder.join(file);
        let is_there = match before {
            Some(before) => before.recipes.values().any(|old| old == recipe),
            None => pipeline::load_recipe_file(&file).is_ok_and(|held| held == *recipe),
        };
        if !is_there {
            save_text(&file, &recipe.to_ron())?;
            recipe.version = Recipe::VERSION;
        }
    }
    pipeline::write_text(path, &content.job.to_ron())?;
    content.job.version = Job::VERSION;
    Ok(())
}

/// Saves a job that nesting made, whose paths start from `folder`.
pub(crate) fn save_build(job: &Job, folder: &Path, path: PathBuf, context: &Context) {
    context.send(match pipeline::write_job(job, folder, &path) {
        Ok(()) => Outcome::SavedBuild(path),
        Err(error) => Outcome::Failed(format!("Not saved: {error}")),
    });
}

/// Saves a copy of a recipe.
pub(crate) fn save_recipe(copy: SavedRecipe, path: &Path, context: &Context) {
    context.send(match save_text(path, &copy.recipe.to_ron()) {
        Ok(()) => Outcome::SavedRecipe(Box::new(copy)),
        Err(error) => Outcome::Failed(format!("Not saved: {error}")),
    });
}

/// Writes a text file; one that was there with other text, perhaps with comments, is kept beside
/// it with `.old` behind its name.
fn save_text(path: &Path, text: &str) -> Result<(), OutputError> {
    if let Ok(old) = std::fs::read_to_string(path)
        && old != text
    {
        let mut kept = path.as_os_str().to_owned();
        kept.push(".old");
        pipeline::write_text(Path::new(&kept), &old)?;
    }
    pipeline::write_text(path, text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::contact::OnContact;
    use crate::state::theme::Theme;

    /// Recipe and machine are shared with other jobs, and their files have comments.
    #[test]
    fn a_save_leaves_files_alone_that_hold_the_same_and_renews_the_form_of_what_it_writes() {
        let folder = tempfile::tempdir().unwrap();
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        let read = |path: &str| std::fs::read_to_string(root.join(path)).unwrap();
        let (machine, recipe) =
            (read("assets/machines/bench_co2_30w.ron"), read("assets/recipes/pa12.ron"));
        for (name, text) in [("m.ron", &machine), ("r.ron", &recipe)] {
            std::fs::write(folder.path().join(name), text).unwrap();
        }
        let mut job = Job::from_ron(&read("demo-jobs/coupon.ron")).unwrap();
        (job.machine, job.recipe) = ("m.ron".to_owned(), "r.ron".to_owned());
        job.version = 1;
        let recipes = BTreeMap::from([("r.ron".to_owned(), Recipe::from_ron(&recipe).unwrap())]);
        let content = Content { job, machine: Machine::from_ron(&machine).unwrap(), recipes };
        let path = folder.path().join("job.ron");
        let mut saved = SavedJob { document: 1, path, content, before: None };
        save_files(&mut saved).unwrap();
        let held = |name: &str| std::fs::read_to_string(folder.path().join(name)).unwrap();
        assert_eq!((held("m.ron"), held("r.ron")), (machine.clone(), recipe.clone()));
        assert_eq!(saved.content.job.version, Job::VERSION);

        let changed = saved.content.recipes.get_mut("r.ron").unwrap();
        (changed.beam_offset_mm, changed.version) = (0.2, 1);
        save_files(&mut saved).unwrap();
        assert_eq!((held("m.ron"), held("r.ron.old")), (machine, recipe));
        assert_eq!(saved.content.recipes["r.ron"].version, Recipe::VERSION);
        assert_eq!(saved.content.recipes["r.ron"], Recipe::from_ron(&held("r.ron")).unwrap());
    }

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
