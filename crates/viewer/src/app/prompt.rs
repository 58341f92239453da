//! What may have to be asked before anything else, and when the window may close.

use crate::state::actions::Purpose;
use crate::state::unfound::Unfound;
use std::path::PathBuf;

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Prompt {
    /// Whether to close with unsaved changes.
    Close,
    /// Whether to write this file though the job has stop findings.
    Write(PathBuf),
    /// Where a machine or recipe is without which a job cannot be opened.
    Unfound(Box<Unfound>),
    /// A path, where no file dialog came.
    Path(Typing),
    /// Nothing is asked: which keys there are.
    Keys,
    /// Nothing is asked: what the program is.
    About,
}

/// A path being typed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Typing {
    pub(super) purpose: Purpose,
    pub(super) text: String,
    /// Whether it has not been shown yet.
    pub(super) is_new: bool,
}

/// When the window closes, once that is asked of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Closing {
    /// If nothing would be lost; else it asks.
    #[default]
    IfSaved,
    /// As soon as what is being saved is saved.
    AfterSaving,
    /// At once, changes or not.
    Now,
}
