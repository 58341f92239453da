//! What is handed to a save, and comes back from it.

use crate::state::content::{Content, Moved};
use job::Recipe;
use std::path::PathBuf;

/// A job that is to be saved, or was.
pub(crate) struct SavedJob {
    /// Number of the document: another may be opened meanwhile.
    pub(crate) document: u64,
    pub(crate) path: PathBuf,
    /// The file that the job had before, if it had one.
    pub(crate) earlier: Option<PathBuf>,
    /// What is saved; its paths start from the file's folder.
    pub(crate) content: Content,
    /// What the files held when they were last read or written, with paths that start there, too.
    pub(crate) before: Option<Content>,
    /// What became of the names of files.
    pub(crate) moved: Moved,
    /// Files that were written, the job's own the last.
    pub(crate) written: Vec<PathBuf>,
    /// Copies that were made of what would have been lost.
    pub(crate) kept: Vec<PathBuf>,
}

/// A copy of a recipe that is to be saved, or was.
pub(crate) struct SavedRecipe {
    /// Number of the document: another may be opened meanwhile.
    pub(crate) document: u64,
    /// What the job called the recipe that it was copied from, as seen from `folder`.
    pub(crate) old: String,
    pub(crate) folder: PathBuf,
    /// The copy.
    pub(crate) path: PathBuf,
    pub(crate) recipe: Recipe,
}
