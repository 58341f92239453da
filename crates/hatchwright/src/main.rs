//! The executable: no verb opens the window, a verb runs headless.

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::run(|job| {
        let open = job.or_else(viewer::demo_job);
        viewer::open(viewer::Start { open, state_folder: viewer::state_folder() })
    })
}
