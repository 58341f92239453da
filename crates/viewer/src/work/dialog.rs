//! The desktop's file dialogs; a thread waits for their answer.

use crate::state::actions::Purpose;
use crate::work::tasks::{Context, Outcome};
use mesh::import::Format;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Nobody answers sooner than this: then there is no desktop to ask.
const SOONEST: Duration = Duration::from_millis(150);

/// Asks for files. If no dialog came, no file at all is chosen.
pub(crate) fn ask(purpose: Purpose, folder: Option<&Path>, suggested: &Path, context: &Context) {
    let asked = Instant::now();
    match dialog(&purpose, folder, suggested) {
        Some(paths) => context.send(Outcome::Chosen(purpose, paths)),
        None if asked.elapsed() < SOONEST => context.send(Outcome::Chosen(purpose, Vec::new())),
        None => {}
    }
}

fn dialog(purpose: &Purpose, folder: Option<&Path>, suggested: &Path) -> Option<Vec<PathBuf>> {
    let mut dialog = rfd::FileDialog::new().set_title(purpose.title());
    if let Some(folder) = folder {
        dialog = dialog.set_directory(folder);
    }
    let one = |path: Option<PathBuf>| path.map(|path| vec![path]);
    let name = suggested.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let ron = |dialog: rfd::FileDialog, what| dialog.add_filter(what, &["ron"]);
    let meshes =
        |dialog: rfd::FileDialog| dialog.add_filter("meshes", &Format::ALL.map(Format::extension));
    match purpose {
        Purpose::OpenJob => one(ron(dialog, "jobs").pick_file()),
        Purpose::SaveJob | Purpose::SaveBuild(_) => {
            one(ron(dialog, "jobs").set_file_name(name).save_file())
        }
        Purpose::AddMeshes => meshes(dialog).pick_files(),
        Purpose::Relink(_) | Purpose::ReplaceMesh(_) => one(meshes(dialog).pick_file()),
        Purpose::FindNamed(_) => one(ron(dialog, "machines and recipes").pick_file()),
        Purpose::UseRecipe(_) => one(ron(dialog, "recipes").pick_file()),
        Purpose::UseMachine => one(ron(dialog, "machines").pick_file()),
        Purpose::SaveRecipe(_) => one(ron(dialog, "recipes").set_file_name(name).save_file()),
        Purpose::WriteVectors => {
            one(dialog.add_filter("vector files", &["hwv"]).set_file_name(name).save_file())
        }
        Purpose::SavePicture(_) => {
            one(dialog.add_filter("pictures", &["png"]).set_file_name(name).save_file())
        }
        Purpose::SaveDrawing => {
            one(dialog.add_filter("drawings", &["svg"]).set_file_name(name).save_file())
        }
    }
}
