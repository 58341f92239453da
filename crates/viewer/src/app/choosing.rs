//! Asking for files, by the desktop's dialog or by a typed path.

use super::App;
use super::prompt::{Prompt, Typing};
use crate::state::actions::Purpose;
use crate::state::paths::{absolute, file_name};
use crate::work::dialog;
use crate::work::scheduler::TaskKind;
use crate::work::tasks::Outcome;
use std::path::PathBuf;

impl App {
    /// Asks for files; the window goes on while the dialog is open.
    pub(super) fn ask(&mut self, purpose: Purpose) {
        if self.type_paths {
            return self.chosen(purpose, Vec::new());
        }
        let folder = self.model.document.as_ref().map(|document| absolute(&document.folder));
        let suggested = self.suggested(&purpose);
        let ask = move |context: &_| dialog::ask(purpose, folder.as_deref(), &suggested, context);
        self.scheduler.start(TaskKind::Dialog, "Choosing a file", Outcome::Failed, ask);
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
            Purpose::SaveRecipe(file) => {
                // beside the original, which the job is made from and which is not written over
                let original = folder.join(file);
                let stem = original.file_stem().unwrap_or_default().to_string_lossy();
                original.with_file_name(format!("{}_copy.ron", file_name(&stem)))
            }
            Purpose::WriteVectors => self.model.output_path().unwrap_or_default(),
            Purpose::SavePicture(view) => {
                let of = view.map_or("window".to_owned(), |view| view.title().0.to_lowercase());
                self.picture_path(&of, "png")
            }
            Purpose::SaveDrawing => self.picture_path("plan", "svg"),
            _ => folder,
        }
    }

    /// What the person chose; no file at all means that there was no dialog.
    pub(super) fn chosen(&mut self, purpose: Purpose, mut paths: Vec<PathBuf>) {
        if paths.is_empty() {
            let text = self.suggested(&purpose).display().to_string();
            self.prompts.push(Prompt::Path(Typing { purpose, text, is_new: true }));
            return;
        }
        if purpose == Purpose::AddMeshes {
            return self.add_meshes(paths);
        }
        let path = paths.swap_remove(0);
        match purpose {
            Purpose::OpenJob => self.open(path),
            Purpose::SaveJob => self.save_to(path),
            Purpose::SaveBuild(number) => self.save_build(number, path),
            Purpose::AddMeshes => {}
            Purpose::Relink(mesh) => self.relink(&mesh, &path),
            Purpose::FindNamed(mut unfound) => {
                unfound.found.insert(unfound.file, path);
                self.open_with(unfound.job, unfound.found);
            }
            Purpose::ReplaceMesh(parts) => self.replace_mesh(&parts, &path),
            Purpose::UseRecipe(part) => self.use_recipe(part, path),
            Purpose::UseMachine => self.use_machine(path),
            Purpose::SaveRecipe(file) => self.save_recipe(file, path),
            Purpose::WriteVectors => self.write_vectors(Some(path)),
            Purpose::SavePicture(view) => self.save_picture(view, path),
            Purpose::SaveDrawing => self.save_drawing(path),
        }
    }
}
