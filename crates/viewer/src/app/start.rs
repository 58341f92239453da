//! What a window is started with.

use std::path::PathBuf;

/// What the window starts with.
#[derive(Clone, Debug, Default)]
pub struct Start {
    /// The job to open; an empty sheet without.
    pub open: Option<PathBuf>,
    /// Meshes to add to it, or to a new job.
    pub meshes: Vec<PathBuf>,
    /// Where settings and unsaved work are kept; nothing is kept without.
    pub state_folder: Option<PathBuf>,
    /// Whether paths are typed rather than chosen in the desktop's dialogs.
    pub type_paths: bool,
}
