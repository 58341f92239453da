//! One module for each verb.

pub(crate) mod check;
pub(crate) mod draw;
pub(crate) mod gather;
pub(crate) mod inspect;
pub(crate) mod nest;
pub(crate) mod prove;
pub(crate) mod slice;
pub(crate) mod verify;
pub(crate) mod write;

use crate::console;
use crate::outcome::Failure;
use pipeline::Build;
use std::path::Path;

/// Loads a job and makes it ready, with a progress bar.
fn ready(job: &Path) -> Result<Build, Failure> {
    console::with_progress("Reading the job", |progress| {
        let loaded = pipeline::load(job, progress)?;
        Ok(Build::new(loaded, progress)?)
    })
}
