//! The executable: no verb opens the window, a verb runs headless.

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::run(|job, meshes| {
        let open = job.or_else(|| if meshes.is_empty() { viewer::demo_job() } else { None });
        viewer::open(viewer::Start {
            open,
            meshes,
            state_folder: viewer::state_folder(),
            type_paths: false,
        })
    })
}
