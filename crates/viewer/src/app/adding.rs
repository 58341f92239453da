//! What a job refers to: meshes, recipes, machine.

use super::App;
use crate::state::actions::{Action, Edit, Purpose};
use crate::state::results::MeshState;
use crate::work::files;
use crate::work::scheduler::TaskKind;
use crate::work::tasks::Outcome;
use base::PlacementId;
use job::{Machine, PartEntry, Placement, Recipe};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

impl App {
    /// Reads mesh files into the job, each as a part with one placement on the platform.
    pub(super) fn add_meshes(&mut self, paths: Vec<PathBuf>) {
        if self.model.document.is_none() {
            self.new_job();
        }
        let (meshes, others): (Vec<_>, Vec<_>) = paths.into_iter().partition(|path| is_mesh(path));
        for other in others {
            self.tell(no_mesh(&other));
        }
        if !meshes.is_empty() {
            let look = move |context: &_| files::look_for(meshes, context);
            self.scheduler.start(TaskKind::Read, "Looking for meshes", Outcome::Failed, look);
        }
    }

    /// Takes the mesh files that are there, and says which are not.
    pub(super) fn take_mesh_files(&mut self, meshes: &[PathBuf], missing: Vec<String>) {
        for sentence in missing {
            self.tell(sentence);
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
            let mesh = pipeline::seen_from(path, &folder);
            // The middle of the build space: where it can be seen before its size is known.
            let placement = Placement { location_mm: [0.0, 0.0, 50.0], rotation_deg: [0.0; 3] };
            let (object, unit, recipe) = (None, None, None);
            let (placements, exposure_changes) = (vec![placement], BTreeMap::new());
            let nest = None;
            parts.push(PartEntry {
                name,
                mesh,
                object,
                unit,
                recipe,
                nest,
                placements,
                exposure_changes,
            });
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

    /// The path of a file as the job names it.
    pub(super) fn in_job(&self, path: &Path) -> Option<String> {
        let folder = &self.model.document.as_ref()?.folder;
        Some(pipeline::seen_from(path, folder))
    }

    /// Names another file for a mesh.
    pub(super) fn relink(&mut self, mesh: &str, path: &Path) {
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

    /// Asks for a mesh that takes the place of that of the chosen parts.
    pub(super) fn ask_for_mesh(&mut self) {
        let mut parts: Vec<usize> = self.model.selection.iter().map(|at| at.part).collect();
        parts.dedup(); // in order of parts
        self.ask(Purpose::ReplaceMesh(parts));
    }

    /// Gives parts another mesh; their placements stay, and so does the unit.
    pub(super) fn replace_mesh(&mut self, parts: &[usize], path: &Path) {
        if !is_mesh(path) {
            return self.tell(no_mesh(path));
        }
        let (Some(new), Some(content)) = (self.in_job(path), self.model.content()) else { return };
        let label = match parts {
            [only] => content.job.parts.get(*only).map(|part| part.name.clone()),
            many => Some(format!("{} parts", many.len())),
        };
        let Some(label) = label else { return };
        self.read_again(|file| *file == new);
        let parts = parts.to_owned();
        self.edit(Edit::new(format!("replace the mesh of {label}"), move |content| {
            for index in parts {
                if let Some(part) = content.job.parts.get_mut(index) {
                    part.mesh.clone_from(&new);
                    part.object = None;
                }
            }
        }));
    }

    /// Reads meshes again that have changed on disk.
    pub(super) fn reload_meshes(&mut self) {
        let changed = std::mem::take(&mut self.model.results.changed_meshes);
        self.read_again(|file| changed.contains(file));
    }

    /// Lets files be read at the next occasion, whatever is known of them.
    fn read_again(&mut self, is_meant: impl Fn(&String) -> bool) {
        for (key, state) in &mut self.model.results.meshes {
            if is_meant(&key.0) {
                *state = MeshState::Waiting;
            }
        }
    }

    /// Reads a recipe for a part, or for the whole job.
    pub(super) fn use_recipe(&mut self, part: Option<usize>, path: PathBuf) {
        let Some(file) = self.in_job(&path) else { return };
        let read = move |context: &_| files::read_recipe(part, file, &path, context);
        self.scheduler.start(TaskKind::Read, "Reading a recipe", Outcome::Failed, read);
    }

    /// One name stands for one recipe: what was changed of it here is not given up unasked.
    pub(super) fn take_recipe(&mut self, part: Option<usize>, file: String, recipe: Recipe) {
        let held = self.model.content().and_then(|content| {
            let is_used = content.used_recipes().contains(&file);
            content.recipes.get(&file).filter(|_| is_used)
        });
        if held.is_some_and(|held| *held != recipe) {
            let sentence = format!(
                "Not used: the job has another recipe under this name, with changes that the file does not \
                 have. Save the job first, and they go to a file of its own: {file}"
            );
            return self.say(sentence);
        }
        self.edit(Edit::new(format!("use recipe {file}"), move |content| {
            content.recipes.insert(file.clone(), recipe);
            match part.and_then(|part| content.job.parts.get_mut(part)) {
                Some(part) => part.recipe = Some(file),
                None => content.job.recipe = file,
            }
        }));
    }

    /// Reads a machine for the job.
    pub(super) fn use_machine(&mut self, path: PathBuf) {
        let Some(file) = self.in_job(&path) else { return };
        let read = move |context: &_| files::read_machine(file, &path, context);
        self.scheduler.start(TaskKind::Read, "Reading a machine", Outcome::Failed, read);
    }

    pub(super) fn take_machine(&mut self, file: String, machine: Machine) {
        self.edit(Edit::new(format!("use machine {file}"), move |content| {
            content.machine = machine;
            content.job.machine = file;
        }));
    }
}

/// Says of a file that it is of a wrong type.
fn no_mesh(path: &Path) -> String {
    format!("Left out, since it is no mesh (.stl, .3mf, .obj): {}", path.display())
}

/// Whether the name is that of a mesh file.
pub(super) fn is_mesh(path: &Path) -> bool {
    let extension = path.extension().and_then(|e| e.to_str()).unwrap_or_default();
    mesh::import::Format::from_extension(extension).is_some()
}
