//! Opening, saving, adding, writing: everything with a file in it.

use super::App;
use super::asking::{Asking, Typing};
use crate::state::actions::{Action, Edit};
use crate::state::document::{Content, Document};
use crate::state::results::{Built, MeshState, WrittenFile};
use crate::work::scheduler::Slot;
use crate::work::tasks::{self, Found, Purpose};
use base::PlacementId;
use job::{Job, Machine, PartEntry, Placement, Recipe};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// What a job starts with when nothing says otherwise; part of the program, so that it starts
/// anywhere.
const FIRST_MACHINE: &str = include_str!("../../../../assets/machines/bench_co2_30w.ron");
const FIRST_RECIPE: &str = include_str!("../../../../assets/recipes/pa12.ron");

impl App {
    /// Opens a job on a thread; the present one stays until the new one is read.
    pub(super) fn open(&mut self, path: PathBuf) {
        if self.is_in_the_way() {
            return;
        }
        let label = format!("Opening {}", path.display());
        self.workshop.start(Slot::Open, label, move |desk| {
            desk.send(match tasks::open(&path) {
                Ok(content) => Found::Opened(path, Box::new(content)),
                Err(error) => Found::Failed(format!("Cannot open the job: {error}")),
            });
        });
    }

    /// Whether unsaved changes forbid to replace the job; says so.
    fn is_in_the_way(&mut self) -> bool {
        let dirty = self.model.document.as_ref().is_some_and(Document::is_dirty);
        if dirty {
            let sentence = "The job has changes that are not saved. Save it first, or undo them.";
            self.say(sentence);
        }
        dirty
    }

    pub(super) fn show_opened(&mut self, path: PathBuf, content: Content) {
        self.settings.remember(&path);
        self.show_document(Document::opened(path, content));
    }

    fn show_document(&mut self, document: Document) {
        let last = self.model.revision();
        for slot in
            [Slot::Compute, Slot::Prefetch, Slot::Survey, Slot::Clearance, Slot::Nest, Slot::Mesh]
        {
            self.workshop.cancel(&slot);
        }
        self.model.results.renew(last);
        self.model.let_go();
        self.model.document = Some(document);
        self.model.selection.clear();
        self.model.attention_mm = None;
        self.model.cursor = crate::state::model::Cursor::default();
        self.computing = None;
        self.just_opened = true;
        self.views.fit();
    }

    /// A job without parts, on the first machine and recipe.
    pub(super) fn new_job(&mut self) {
        if self.is_in_the_way() {
            return;
        }
        match first_content() {
            Ok(content) => {
                let folder = std::env::current_dir().unwrap_or_default();
                self.show_document(Document::unsaved(folder, content));
            }
            Err(sentence) => self.tell(sentence),
        }
    }

    pub(super) fn open_demo(&mut self) {
        match crate::app::run::demo_job() {
            Some(path) => self.open(path),
            None => self.tell(
                "The demo job is not beside this program: start it in the project's folder, or \
                 open demo-jobs/tide_gauge_kit.ron from there.",
            ),
        }
    }

    pub(super) fn settle_orphan(&mut self, wanted: bool) {
        if self.orphans.is_empty() || (wanted && self.is_in_the_way()) {
            return;
        }
        let orphan = self.orphans.remove(0);
        if wanted {
            self.show_document(orphan.recover());
        }
        orphan.forget();
    }

    /// Saves the job to its file, with every recipe and the machine if they were changed.
    pub(super) fn save(&mut self) {
        match self.model.document.as_ref().and_then(|document| document.path.clone()) {
            Some(path) => self.save_to(&path),
            None => self.ask(Purpose::SaveJob),
        }
    }

    fn save_to(&mut self, path: &Path) {
        let Some(document) = &mut self.model.document else { return };
        let old_folder = document.folder.clone();
        let new_folder = path.parent().map(Path::to_owned).unwrap_or_default();
        let mut content = (**document.content()).clone();
        if absolute(&old_folder) != absolute(&new_folder) {
            move_paths(&mut content, &old_folder, &new_folder);
        }
        let saved = save_files(path, &new_folder, &content, document.saved().map(|c| &**c));
        match saved {
            Ok(()) => {
                let moved = content != **document.content();
                if moved {
                    let content = content.clone();
                    document.edit(Edit::new("save elsewhere", move |c| *c = content));
                }
                document.mark_saved(path.to_owned(), Arc::new(content));
                self.settings.remember(path);
                if self.asking.contains(&Asking::Close) {
                    self.asking.clear();
                    self.closing = true;
                }
            }
            Err(error) => self.tell(error.to_string()),
        }
    }

    /// Reads mesh files into the job, each as a part with one placement on the platform.
    pub(super) fn add_meshes(&mut self, paths: &[PathBuf]) {
        if self.model.document.is_none() {
            self.new_job();
        }
        let mut meshes = Vec::new();
        for path in paths {
            let shown = path.display();
            if !is_mesh(path) {
                self.tell(format!(
                    "Left out, since it is neither a mesh (.stl, .3mf, .obj) nor a job (.ron): \
                     {shown}"
                ));
            } else if path.is_file() {
                meshes.push(path);
            } else {
                self.tell(format!("There is no file {shown}."));
            }
        }
        let Some(document) = self.model.document.as_ref().filter(|_| !meshes.is_empty()) else {
            return;
        };
        let folder = document.folder.clone();
        let mut names: Vec<String> =
            document.content().job.parts.iter().map(|part| part.name.clone()).collect();
        let mut parts = Vec::new();
        for path in meshes {
            let stem = path.file_stem().unwrap_or_default().to_string_lossy().replace('_', " ");
            let name = job::free_name(&stem, |name| names.iter().any(|taken| taken == name));
            names.push(name.clone());
            let mesh = relative(&absolute(path), &absolute(&folder));
            // The middle of the build space: where it can be seen before its size is known.
            let placement = Placement { location_mm: [0.0, 0.0, 50.0], turns_deg: [0.0; 3] };
            let (object, unit, recipe) = (None, None, None);
            let placements = vec![placement];
            parts.push(PartEntry { name, mesh, object, unit, recipe, placements, nest: None });
        }
        let first = document.content().job.parts.len();
        let label = format!("add {}", names[first..].join(", "));
        let new = (first..first + parts.len()).map(|part| PlacementId { part, copy: 0 });
        let new = new.collect();
        self.edit(Edit::new(label, move |content| content.job.parts.extend(parts)));
        self.model.selection = new;
    }

    pub(super) fn take_dropped(files: &[egui::DroppedFileHandle], out: &mut Vec<Action>) {
        let paths: Vec<PathBuf> = files.iter().map(|file| file.path().to_owned()).collect();
        let is_job = |path: &&PathBuf| path.extension().is_some_and(|e| e == "ron");
        if let Some(job) = paths.iter().find(is_job) {
            out.push(Action::Open(job.clone()));
        } else if !paths.is_empty() {
            out.push(Action::AddMeshes(paths));
        }
    }

    /// Writes the vector file of the present build: to `path`, or to where the job's go. Asks first
    /// if the job has stop findings.
    pub(super) fn write_vectors(&mut self, path: Option<PathBuf>) {
        let Some(built) = self.build_to_write() else { return };
        if let Some(stop) = built.build.findings.iter().find(|f| f.severity == base::Severity::Stop)
        {
            return self.say(format!("Not written: {}", stop.sentence));
        }
        let Some(path) = path.or_else(|| self.model.output_path()) else { return };
        if self.model.stops() > 0 {
            self.asking.push(Asking::Write(path));
        } else {
            self.start_writing(path);
        }
    }

    /// The build of the job as it is; says so if there is none yet.
    fn build_to_write(&mut self) -> Option<Built> {
        let built = self.model.results.build.clone()?;
        if built.revision != self.model.revision() {
            self.say("The job is still being computed; write it in a moment.");
            return None;
        }
        Some(built)
    }

    pub(super) fn start_writing(&mut self, path: PathBuf) {
        let Some(built) = self.build_to_write() else { return };
        let label = format!("Writing {}", name_in(&path));
        self.workshop.start(Slot::Write, label, move |desk| tasks::write(&built, path, desk));
    }

    pub(super) fn start_proving(&mut self, built: Built, path: PathBuf) {
        let label = format!("Verifying {}", name_in(&path));
        self.workshop.start(Slot::Write, label, move |desk| tasks::prove(&built, path, desk));
    }

    pub(super) fn take_written(&mut self, file: WrittenFile) {
        let name = name_in(&file.path);
        let is_of_now = file.revision == self.model.revision();
        let has_stops = is_of_now && self.model.stops() > 0;
        let proven = file.verdict.as_ref().map(pipeline::Verdict::is_proven);
        let sentence = match proven {
            None => format!("{name} is written, but not verified: verification was cancelled."),
            Some(false) => format!("{name} is written, but NOT verified: see the findings."),
            Some(true) if has_stops => format!(
                "{name} is written, and holds what the job says; but the job itself has stop \
                 findings: do not build it."
            ),
            Some(true) => format!("{name} is written and verified."),
        };
        self.model.results.written = Some(file);
        self.say(sentence);
    }

    /// Asks for files, by the desktop's dialog on a thread of its own.
    pub(super) fn ask(&mut self, purpose: Purpose) {
        if self.type_paths {
            return self.chosen(purpose, Vec::new());
        }
        let folder = self.model.document.as_ref().map(|document| absolute(&document.folder));
        let suggested = self.suggested(&purpose);
        self.workshop.start(Slot::Dialog, "Choosing a file", move |desk| {
            let asked = Instant::now();
            let chosen = dialog(&purpose, folder.as_deref(), &suggested);
            // Nobody answers within the blink of an eye: there is no desktop to ask.
            let unanswered = chosen.is_none() && asked.elapsed() < Duration::from_millis(150);
            match chosen {
                Some(paths) => desk.send(Found::Chosen(purpose, paths)),
                None if unanswered => desk.send(Found::Chosen(purpose, Vec::new())),
                None => {}
            }
        });
    }

    fn suggested(&self, purpose: &Purpose) -> PathBuf {
        let document = self.model.document.as_ref();
        let folder = document.map(|document| document.folder.clone()).unwrap_or_default();
        match purpose {
            Purpose::SaveJob => {
                let name = document.map_or("job", |d| d.content().job.name.as_str());
                folder.join(format!("{}.ron", file_name(name)))
            }
            Purpose::SaveBuild(number) => {
                let own = document.and_then(|d| d.path.clone());
                let own = own.unwrap_or_else(|| self.suggested(&Purpose::SaveJob));
                let stem = own.file_stem().unwrap_or_default().to_string_lossy();
                folder.join(format!("{stem}-{}.ron", number + 1))
            }
            Purpose::SaveRecipe(file) => folder.join(file),
            Purpose::WriteVectors => self.model.output_path().unwrap_or_default(),
            _ => folder,
        }
    }

    /// What the person chose; no file at all means that there was no dialog.
    pub(super) fn chosen(&mut self, purpose: Purpose, mut paths: Vec<PathBuf>) {
        if paths.is_empty() {
            let text = self.suggested(&purpose).display().to_string();
            self.asking.push(Asking::Path(Typing { purpose, text, is_new: true }));
            return;
        }
        if purpose == Purpose::AddMeshes {
            return self.add_meshes(&paths);
        }
        let path = paths.swap_remove(0);
        match purpose {
            Purpose::OpenJob => self.open(path),
            Purpose::SaveJob => self.save_to(&path),
            Purpose::SaveBuild(number) => self.save_build(number, &path),
            Purpose::AddMeshes => {}
            Purpose::Relink(mesh) => self.relink(&mesh, &path),
            Purpose::UseRecipe(part) => self.use_recipe(part, &path),
            Purpose::UseMachine => self.use_machine(&path),
            Purpose::SaveRecipe(file) => self.save_recipe(&file, &path),
            Purpose::WriteVectors => self.write_vectors(Some(path)),
        }
    }

    fn in_job(&self, path: &Path) -> Option<String> {
        let folder = &self.model.document.as_ref()?.folder;
        Some(relative(&absolute(path), &absolute(folder)))
    }

    fn relink(&mut self, mesh: &str, path: &Path) {
        let Some(new) = self.in_job(path) else { return };
        let old = mesh.to_owned();
        for (key, state) in &mut self.model.results.meshes {
            if key.0 == new {
                *state = MeshState::Waiting;
            }
        }
        self.edit(Edit::new(format!("find {old}"), move |content| {
            for part in content.job.parts.iter_mut().filter(|part| part.mesh == old) {
                part.mesh.clone_from(&new);
            }
        }));
    }

    fn use_recipe(&mut self, part: Option<usize>, path: &Path) {
        let Some(file) = self.in_job(path) else { return };
        match pipeline::load_recipe_file(path) {
            Ok(recipe) => self.edit(Edit::new(format!("use recipe {file}"), move |content| {
                content.recipes.insert(file.clone(), recipe);
                match part.and_then(|part| content.job.parts.get_mut(part)) {
                    Some(part) => part.recipe = Some(file),
                    None => content.job.recipe = file,
                }
            })),
            Err(error) => self.tell(error.to_string()),
        }
    }

    fn use_machine(&mut self, path: &Path) {
        let Some(file) = self.in_job(path) else { return };
        match pipeline::load_machine_file(path) {
            Ok(machine) => self.edit(Edit::new(format!("use machine {file}"), move |content| {
                content.machine = machine;
                content.job.machine = file;
            })),
            Err(error) => self.tell(error.to_string()),
        }
    }

    /// Saves a build that nesting filled beyond the first as a job of its own.
    fn save_build(&mut self, number: usize, path: &Path) {
        let job = self.model.results.nested.as_ref().and_then(|nested| nested.jobs.get(number));
        let (Some(job), Some(document)) = (job, &self.model.document) else { return };
        match pipeline::write_job(job, &document.folder, path) {
            Ok(()) => self.settings.remember(path),
            Err(error) => self.tell(error.to_string()),
        }
    }

    /// Saves a recipe as a file of its own, which the job then uses in its place.
    fn save_recipe(&mut self, file: &str, path: &Path) {
        let (Some(new), Some(content)) = (self.in_job(path), self.model.content()) else { return };
        let Some(recipe) = content.recipes.get(file).cloned() else { return };
        if let Err(error) = save_text(path, &recipe.to_ron()) {
            return self.tell(error.to_string());
        }
        let old = file.to_owned();
        self.edit(Edit::new(format!("copy recipe to {new}"), move |content| {
            content.recipes.insert(new.clone(), recipe);
            if content.job.recipe == old {
                content.job.recipe.clone_from(&new);
            }
            for part in &mut content.job.parts {
                if part.recipe.as_ref() == Some(&old) {
                    part.recipe = Some(new.clone());
                }
            }
        }));
    }
}

fn name_in(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// The content of a new job.
fn first_content() -> Result<Content, String> {
    let machine = Machine::from_ron(FIRST_MACHINE).map_err(|error| error.to_string())?;
    let recipe = Recipe::from_ron(FIRST_RECIPE).map_err(|error| error.to_string())?;
    let (machine_file, recipe_file) = ("machine.ron".to_owned(), "recipe.ron".to_owned());
    let job = Job {
        version: Job::VERSION,
        name: "New job".to_owned(),
        machine: machine_file,
        recipe: recipe_file.clone(),
        clearances: job::Clearances::default(),
        parts: Vec::new(),
    };
    Ok(Content { job, machine, recipes: BTreeMap::from([(recipe_file, recipe)]) })
}

/// Writes the job, and of machine and recipes what differs from what the files hold.
fn save_files(
    path: &Path,
    folder: &Path,
    content: &Content,
    saved: Option<&Content>,
) -> Result<(), pipeline::OutputError> {
    if saved.is_none_or(|saved| saved.machine != content.machine) {
        save_text(&folder.join(&content.job.machine), &content.machine.to_ron())?;
    }
    for (file, recipe) in &content.recipes {
        let known = saved.is_some_and(|saved| saved.recipes.values().any(|old| old == recipe));
        if !known {
            save_text(&folder.join(file), &recipe.to_ron())?;
        }
    }
    pipeline::write_text(path, &content.job.to_ron())
}

/// Writes a text file; one that was there with other text, perhaps with comments, is kept beside
/// it with `.old` behind its name.
fn save_text(path: &Path, text: &str) -> Result<(), pipeline::OutputError> {
    if let Ok(old) = std::fs::read_to_string(path)
        && old != text
    {
        let mut kept = path.as_os_str().to_owned();
        kept.push(".old");
        pipeline::write_text(Path::new(&kept), &old)?;
    }
    pipeline::write_text(path, text)
}

/// Makes every path of a job relative to another folder.
fn move_paths(content: &mut Content, from: &Path, to: &Path) {
    let (from, to) = (absolute(from), absolute(to));
    let moved = |path: &str| relative(&plain(&from.join(path)), &to);
    let recipes = std::mem::take(&mut content.recipes);
    content.recipes = recipes.into_iter().map(|(file, recipe)| (moved(&file), recipe)).collect();
    let job = &mut content.job;
    job.machine = moved(&job.machine);
    job.recipe = moved(&job.recipe);
    for part in &mut job.parts {
        part.mesh = moved(&part.mesh);
        part.recipe = part.recipe.as_deref().map(moved);
    }
}

fn absolute(path: &Path) -> PathBuf {
    plain(&std::path::absolute(path).unwrap_or_else(|_| path.to_owned()))
}

/// Without `.` and `..`, as written: links are not followed.
fn plain(path: &Path) -> PathBuf {
    use std::path::Component;
    let mut plain = PathBuf::new();
    for component in path.components() {
        match component {
            Component::CurDir => {}
            Component::ParentDir => {
                plain.pop();
            }
            other => plain.push(other),
        }
    }
    plain
}

/// A path from a folder to a file, both absolute, with forward slashes.
fn relative(file: &Path, folder: &Path) -> String {
    let (file_parts, folder_parts): (Vec<_>, Vec<_>) =
        (file.components().collect(), folder.components().collect());
    let common = file_parts.iter().zip(&folder_parts).take_while(|(a, b)| a == b).count();
    if common == 0 {
        return file.to_string_lossy().replace('\\', "/"); // another drive
    }
    let up = std::iter::repeat_n("..".to_owned(), folder_parts.len() - common);
    let down =
        file_parts[common..].iter().map(|part| part.as_os_str().to_string_lossy().into_owned());
    up.chain(down).collect::<Vec<_>>().join("/")
}

pub(super) fn is_mesh(path: &Path) -> bool {
    let extension = path.extension().and_then(|e| e.to_str()).unwrap_or_default();
    mesh::import::Format::from_extension(extension).is_some()
}

/// A job's name as a file's.
pub(crate) fn file_name(name: &str) -> String {
    let usable =
        |c: char| if c.is_alphanumeric() || c == '-' { c.to_ascii_lowercase() } else { '_' };
    name.chars().map(usable).collect()
}

pub(super) fn title(purpose: &Purpose) -> &'static str {
    match purpose {
        Purpose::OpenJob => "Open a job",
        Purpose::SaveJob => "Save the job as",
        Purpose::SaveBuild(_) => "Save a further build as a job",
        Purpose::AddMeshes => "Add a mesh",
        Purpose::Relink(_) => "Where is this mesh?",
        Purpose::UseRecipe(_) => "Use a recipe",
        Purpose::UseMachine => "Use a machine",
        Purpose::SaveRecipe(_) => "Save a copy of the recipe",
        Purpose::WriteVectors => "Write the vector file",
    }
}

fn dialog(purpose: &Purpose, folder: Option<&Path>, suggested: &Path) -> Option<Vec<PathBuf>> {
    let mut dialog = rfd::FileDialog::new().set_title(title(purpose));
    if let Some(folder) = folder {
        dialog = dialog.set_directory(folder);
    }
    let one = |path: Option<PathBuf>| path.map(|path| vec![path]);
    let name = suggested.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let ron = |dialog: rfd::FileDialog, what| dialog.add_filter(what, &["ron"]);
    let meshes = |dialog: rfd::FileDialog| dialog.add_filter("meshes", &["stl", "3mf", "obj"]);
    match purpose {
        Purpose::OpenJob => one(ron(dialog, "jobs").pick_file()),
        Purpose::SaveJob | Purpose::SaveBuild(_) => {
            one(ron(dialog, "jobs").set_file_name(name).save_file())
        }
        Purpose::AddMeshes => meshes(dialog).pick_files(),
        Purpose::Relink(_) => one(meshes(dialog).pick_file()),
        Purpose::UseRecipe(_) => one(ron(dialog, "recipes").pick_file()),
        Purpose::UseMachine => one(ron(dialog, "machines").pick_file()),
        Purpose::SaveRecipe(_) => one(ron(dialog, "recipes").set_file_name(name).save_file()),
        Purpose::WriteVectors => {
            one(dialog.add_filter("vector files", &["hwv"]).set_file_name(name).save_file())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_in_a_job_lead_from_its_folder_to_the_file() {
        let check = |file: &str, folder: &str, expected: &str| {
            assert_eq!(
                relative(&absolute(Path::new(file)), &absolute(Path::new(folder))),
                expected
            );
        };
        check("/a/b/c.stl", "/a/b", "c.stl");
        check("/a/x/c.stl", "/a/b", "../x/c.stl");
        check("/a/b/../x/./c.stl", "/a/b/d", "../../x/c.stl");
    }

    #[test]
    fn the_first_machine_and_recipe_are_valid_and_fit() {
        let content = first_content().expect("embedded files are valid");
        let recipe = content.recipe().expect("named by the job");
        assert_eq!(recipe.check_on(&content.machine), Ok(()));
    }
}
