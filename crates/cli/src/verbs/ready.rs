//! A job made ready to be built.

use crate::console::with_progress;
use crate::outcome::Failure;
use pipeline::Build;
use std::path::Path;

/// Loads a job and makes it ready, with a progress bar.
pub(super) fn ready(job: &Path) -> Result<Build, Failure> {
    with_progress("Reading the job", |progress| {
        let loaded = pipeline::load(job, progress)?;
        Ok(Build::new(loaded, progress)?)
    })
}
