//! What is remembered from session to session: theme, layout, recent jobs.

use crate::state::contact::OnContact;
use crate::state::layout::Layout;
use crate::state::paths::absolute;
use crate::state::theme::Theme;
use crate::state::zoom::Zoom;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// See the module. Unknown or damaged settings count as none: they are only habits.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Settings {
    pub(crate) theme: Theme,
    pub(crate) layout: Layout,
    /// How large everything is.
    pub(crate) zoom: Zoom,
    /// What parts that are moved by hand do when they meet others.
    pub(crate) on_contact: OnContact,
    /// Jobs opened or saved, the latest first.
    pub(crate) recent: Vec<PathBuf>,
}

/// Jobs that are remembered.
const MAX_RECENT: usize = 12;

impl Settings {
    /// Notes that a job was opened or saved.
    pub(crate) fn remember(&mut self, job: &Path) {
        let job = absolute(job);
        self.recent.retain(|known| *known != job);
        self.recent.insert(0, job);
        self.recent.truncate(MAX_RECENT);
    }
}
