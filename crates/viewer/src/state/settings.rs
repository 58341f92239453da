//! What is remembered from session to session: theme, layout, recent jobs.

use crate::hand::OnContact;
use crate::state::layout::Layout;
use crate::widgets::theme::Theme;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// See the module. Unknown or damaged settings count as none: they are only habits.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Settings {
    pub(crate) theme: Theme,
    pub(crate) layout: Layout,
    /// What parts that are moved by hand do when they meet others.
    pub(crate) on_contact: OnContact,
    /// Jobs opened or saved, the latest first.
    pub(crate) recent: Vec<PathBuf>,
}

/// Jobs that are remembered.
const MAX_RECENT: usize = 12;

impl Settings {
    /// Reads the settings of a state folder.
    pub(crate) fn read(folder: &Path) -> Self {
        let text = std::fs::read_to_string(folder.join(FILE)).unwrap_or_default();
        ron::from_str(&text).unwrap_or_default()
    }

    /// Keeps them. Habits are not worth a message when the disk is full.
    pub(crate) fn write(&self, folder: &Path) {
        if let Ok(text) = ron::ser::to_string_pretty(self, ron::ser::PrettyConfig::new()) {
            let _ = pipeline::write_text(&folder.join(FILE), &text);
        }
    }

    /// Notes that a job was opened or saved.
    pub(crate) fn remember(&mut self, job: &Path) {
        let job = std::path::absolute(job).unwrap_or_else(|_| job.to_owned());
        self.recent.retain(|known| *known != job);
        self.recent.insert(0, job);
        self.recent.truncate(MAX_RECENT);
    }
}

const FILE: &str = "window.ron";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_survive_and_damage_counts_as_none() {
        let folder = tempfile::tempdir().unwrap();
        let mut settings = Settings {
            theme: Theme::Blueprint,
            on_contact: OnContact::Stop,
            ..Settings::default()
        };
        for name in ["/a.ron", "/b.ron", "/a.ron"] {
            settings.remember(Path::new(name));
        }
        settings.write(folder.path());
        let read = Settings::read(folder.path());
        assert_eq!(read, settings);
        assert_eq!(read.recent, [PathBuf::from("/a.ron"), PathBuf::from("/b.ron")]);
        std::fs::write(folder.path().join(FILE), "(theme: Pap").unwrap();
        assert_eq!(Settings::read(folder.path()), Settings::default());
    }
}
