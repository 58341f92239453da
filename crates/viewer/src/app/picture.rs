//! Pictures on their way from the window to a file.

use crate::state::layout::View;
use egui::ColorImage;
use std::ops::Range;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};

/// What the window's picture is taken for.
pub(super) struct Wanted {
    /// The view that is cut out of it, or all of it.
    pub(super) view: Option<View>,
    pub(super) path: PathBuf,
}

/// Pictures on their way.
#[derive(Default)]
pub(super) struct Pictures {
    /// To be taken once nothing stands before the sheet.
    pub(super) wanted: Option<Wanted>,
    /// Columns and rows of what was asked of the window, and where they go.
    pub(super) asked: Option<([Range<usize>; 2], PathBuf)>,
    /// The window's picture, when it has come.
    pub(super) taken: Arc<Mutex<Option<Arc<ColorImage>>>>,
}

impl Pictures {
    /// Whether none is on its way.
    pub(super) fn is_idle(&self) -> bool {
        self.wanted.is_none() && self.asked.is_none()
    }
}
