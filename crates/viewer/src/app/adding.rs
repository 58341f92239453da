//! What a job refers to: meshes, recipes, machine.

use super::App;
use crate::state::actions::{Action, Edit, Purpose};
use crate::state::arrangement::half_extent;
use crate::state::first;
use crate::state::free_places::FreePlaces;
use crate::state::moves;
use crate::state::results::{MeshKey, MeshState, mesh_key};
use crate::work::files;
use crate::work::scheduler::TaskKind;
use crate::work::tasks::{NewMesh, Outcome};
use base::PlacementId;
use job::{Machine, Placement, Recipe};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

impl App {
    /// Reads mesh files into the job, each as a part with one placement on the platform.
    pub(super) fn add_meshes(&mut self, paths: Vec<PathBuf>) {
        let (meshes, others): (Vec<_>, Vec<_>) = paths.into_iter().partition(|path| is_mesh(path));
        self.tell_some(others.iter().map(|other| no_mesh(other)).collect());
        if meshes.is_empty() {
            return;
        }
        if self.model.document.is_none() {
            self.new_job();
        }
        let Some(folder) = self.model.document.as_ref().map(|document| document.folder.clone())
        else {
            return;
        };
        let read = move |context: &_| files::read_meshes(meshes, &folder, context);
        self.scheduler.start(TaskKind::Read, "Reading meshes", Outcome::Failed, read);
    }

    /// Makes parts of meshes that were read, on free places of the platform, and says which were not read.
    pub(super) fn take_new_meshes(&mut self, meshes: Vec<NewMesh>, failed: Vec<String>) {
        self.tell_some(failed);
        self.model.update_arrangement();
        let Some(document) = self.model.document.as_ref().filter(|_| !meshes.is_empty()) else {
            return;
        };
        let folder = document.folder.clone();
        let content = Arc::clone(document.content());
        let scale = content.recipe().map_or([1.0; 3], Recipe::scale);
        let mut places = FreePlaces::new(&self.model);
        let mut names: BTreeSet<String> =
            content.job.parts.iter().map(|part| part.name.clone()).collect();
        let (mut parts, mut known) = (Vec::new(), Vec::new());
        for NewMesh { path, loaded, stamp } in meshes {
            let stem = path.file_stem().unwrap_or_default().to_string_lossy().replace('_', " ");
            let name = job::free_name(&stem, |name| names.contains(name));
            names.insert(name.clone());
            let mut part = first::part(name, pipeline::seen_from(&path, &folder));
            let half = half_extent(&loaded, [0.0; 3], scale);
            let location_mm = places.on_platform(half.map(|half| 2.0 * half));
            part.placements.push(moves::allowed(Placement { location_mm, rotation_deg: [0.0; 3] }));
            known.push((mesh_key(&part), loaded, stamp));
            parts.push(part);
        }
        for (key, loaded, stamp) in known {
            let is_there = self.model.results.meshes.get(&key).and_then(MeshState::ready).is_some();
            if key.0 == loaded.file && !is_there {
                self.model.results.stamps.extend(stamp.map(|stamp| (key.clone(), stamp)));
                self.model.results.meshes.insert(key, MeshState::Ready(loaded));
            }
        }
        let first = content.job.parts.len();
        let label = match &parts[..] {
            [only] => format!("add {}", only.name),
            many => format!("add {} parts", many.len()),
        };
        let new = (first..first + parts.len()).map(|part| PlacementId { part, copy: 0 }).collect();
        let lowest = parts[0].placements[0].location_mm[2];
        self.edit(Edit::new(label, move |content| content.job.parts.extend(parts)));
        self.model.selection = new;
        self.show_height(lowest);
    }

    /// Shows the layer at this height, mm, though the build with what is there now is yet to come.
    fn show_height(&mut self, height_mm: f64) {
        let layer = height_mm / self.model.layer_thickness_mm();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
        let layer = layer.floor().max(0.0) as u32;
        self.just_opened = false;
        self.model.cursor.layer = layer;
        self.model.cursor.time_s = 0.0;
        self.model.cursor.playing = false;
    }

    /// Says some sentences, the first few in full.
    fn tell_some(&mut self, mut sentences: Vec<String>) {
        const MOST: usize = 4;
        let more = sentences.len().saturating_sub(MOST);
        sentences.truncate(MOST);
        if more > 0 {
            sentences.push(format!("So it is with {more} more files."));
        }
        for sentence in sentences {
            self.tell(sentence);
        }
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
        self.read_again(|file| *file == new);
        self.edit(Edit::new(format!("find {old}"), move |content| {
            for part in content.job.parts.iter_mut().filter(|part| part.mesh == old) {
                part.mesh.clone_from(&new);
            }
        }));
        // A folder that has moved took the others along.
        let is_lost = |(key, state): (&MeshKey, &MeshState)| {
            matches!(state, MeshState::Failed(_)).then(|| key.0.clone())
        };
        let lost: BTreeSet<String> = self.model.results.meshes.iter().filter_map(is_lost).collect();
        let lost: Vec<String> = lost.into_iter().filter(|file| file != mesh).collect();
        let folder = self.model.document.as_ref().map(|document| document.folder.clone());
        if let (Some(folder), Some(beside), false) =
            (folder, path.parent().map(Path::to_owned), lost.is_empty())
        {
            let look = move |context: &_| files::look_beside(lost, &beside, folder, context);
            self.scheduler.start(TaskKind::Read, "Looking for meshes", Outcome::Failed, look);
        }
    }

    /// Takes meshes that were found beside another one.
    pub(super) fn take_found(&mut self, folder: &Path, found: Vec<(String, PathBuf)>) {
        let Some(document) = self.model.document.as_ref().filter(|_| !found.is_empty()) else {
            return;
        };
        let now = &document.folder;
        let names = found.into_iter().map(|(old, path)| {
            [pipeline::rebased(&old, folder, now), pipeline::seen_from(&path, now)]
        });
        let found: Vec<[String; 2]> = names.collect();
        let label = format!("find {} more meshes", found.len());
        self.edit(Edit::new(label, move |content| {
            for part in &mut content.job.parts {
                if let Some([_, new]) = found.iter().find(|[old, _]| *old == part.mesh) {
                    part.mesh.clone_from(new);
                }
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
        self.model.results.meshes.retain(|key, _| !is_meant(&key.0));
    }

    /// Reads a recipe for a part, or for the whole job.
    pub(super) fn use_recipe(&mut self, part: Option<usize>, path: PathBuf) {
        let read = move |context: &_| files::read_recipe(part, path, context);
        self.scheduler.start(TaskKind::Read, "Reading a recipe", Outcome::Failed, read);
    }

    /// One name stands for one recipe: what was changed of it here is not given up unasked.
    pub(super) fn take_recipe(&mut self, part: Option<usize>, path: &Path, recipe: Recipe) {
        let Some(file) = self.in_job(path) else { return };
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
        let read = move |context: &_| files::read_machine(path, context);
        self.scheduler.start(TaskKind::Read, "Reading a machine", Outcome::Failed, read);
    }

    pub(super) fn take_machine(&mut self, path: &Path, machine: Machine) {
        let Some(file) = self.in_job(path) else { return };
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
