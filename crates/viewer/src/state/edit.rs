//! A change of the document.

use crate::state::content::Content;

/// A change of the document.
pub(crate) struct Edit {
    /// What the undo menu calls it, such as "move hinge".
    pub(crate) label: String,
    /// Edits that follow each other with the same key are one step of undo: a whole drag. Take
    /// [`merge_key`] of the widget, and end the gesture with [`Edit::ends`].
    pub(crate) merge: Option<u64>,
    /// Whether this is the last edit of its gesture.
    pub(crate) ends: bool,
    /// The change itself.
    pub(crate) apply: Box<dyn FnOnce(&mut Content) + Send>,
}

impl Edit {
    /// An edit that is a step of its own.
    pub(crate) fn new(
        label: impl Into<String>,
        apply: impl FnOnce(&mut Content) + Send + 'static,
    ) -> Self {
        Self { label: label.into(), merge: None, ends: true, apply: Box::new(apply) }
    }

    /// One of several edits of a drag or of a number being dragged.
    pub(crate) fn within(mut self, key: u64) -> Self {
        self.merge = Some(key);
        self.ends = false;
        self
    }
}

/// A merge key for the gesture of one widget.
pub(crate) fn merge_key(id: egui::Id) -> u64 {
    id.value()
}
