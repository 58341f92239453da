//! The executable: no verb opens the window, a verb runs headless.

use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> ExitCode {
    let window = |job: Option<PathBuf>, meshes: Vec<PathBuf>| {
        let open = job.or_else(|| if meshes.is_empty() { viewer::demo_job() } else { None });
        viewer::open(viewer::Start {
            open,
            meshes,
            state_folder: viewer::state_folder(),
            type_paths: false,
        })
    };
    cli::run(window, viewer::library_folder())
}
