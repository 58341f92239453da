//! Autosave: what would be lost by a crash is kept beside the settings, and offered at the next
//! start.
//!
//! A lock file says that the window which keeps a copy is still open, so that a second window
//! does not offer the first one's work.

use crate::state::document::{Content, Document};
use job::{Job, Machine, Recipe};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// An unsaved job as it is kept.
#[derive(Serialize, Deserialize)]
struct Kept {
    path: Option<PathBuf>,
    folder: PathBuf,
    job: Job,
    machine: Machine,
    recipes: BTreeMap<String, Recipe>,
}

/// Keeps the changes of this window.
pub(crate) struct Recovery {
    file: PathBuf,
    /// Held while the window is open.
    lock: Option<File>,
    kept: Option<u64>,
    last: Instant,
}

/// A job that a crashed window left behind.
pub(crate) struct Orphan {
    file: PathBuf,
    /// The job's own file, if it had one.
    pub(crate) path: Option<PathBuf>,
    folder: PathBuf,
    content: Content,
}

/// Least time between two copies.
const PAUSE: Duration = Duration::from_secs(5);

impl Recovery {
    /// Takes a place for this window's copy in the state folder.
    pub(crate) fn new(folder: &Path) -> Self {
        let _ = std::fs::create_dir_all(folder);
        let places = (0..1000).map(|n| folder.join(format!("unsaved-{n}.ron")));
        let free = places.filter(|file| !file.exists()).find_map(|file| {
            let lock = File::create(lock_of(&file)).ok()?;
            lock.try_lock().ok()?;
            Some((file, lock))
        });
        let (file, lock) = match free {
            Some((file, lock)) => (file, Some(lock)),
            None => (folder.join("unsaved.ron"), None), // no place to write: nothing is kept
        };
        Self { file, lock, kept: None, last: Instant::now() }
    }

    /// Keeps a copy if the document changed, not more often than every few seconds. Says when to
    /// ask again.
    pub(crate) fn keep(&mut self, document: &Document) -> Option<Duration> {
        if !document.is_dirty() {
            self.clear();
            return None;
        }
        if self.kept == Some(document.revision()) || self.lock.is_none() {
            return None;
        }
        let waited = self.last.elapsed();
        if waited < PAUSE {
            return Some(PAUSE.saturating_sub(waited));
        }
        self.keep_now(document);
        None
    }

    /// Keeps a copy.
    pub(crate) fn keep_now(&mut self, document: &Document) {
        let content = (**document.content()).clone();
        let kept = Kept {
            path: document.path.clone(),
            folder: std::path::absolute(&document.folder).unwrap_or(document.folder.clone()),
            job: content.job,
            machine: content.machine,
            recipes: content.recipes,
        };
        if let Ok(text) = ron::to_string(&kept) {
            let _ = pipeline::write_text(&self.file, &text); // a full disk must not stop the work
        }
        self.kept = Some(document.revision());
        self.last = Instant::now();
    }

    /// Forgets the copy: everything is saved, or was given up.
    pub(crate) fn clear(&mut self) {
        if self.kept.take().is_some() {
            let _ = std::fs::remove_file(&self.file);
        }
    }

    /// Jobs that windows left behind which are no longer open.
    pub(crate) fn orphans(folder: &Path) -> Vec<Orphan> {
        let files = std::fs::read_dir(folder).into_iter().flatten().flatten();
        let mut files: Vec<PathBuf> = files.map(|entry| entry.path()).collect();
        files.sort();
        let ours = |file: &PathBuf| {
            let name = file.file_name().unwrap_or_default().to_string_lossy();
            name.starts_with("unsaved-") && name.ends_with(".ron")
        };
        files.into_iter().filter(ours).filter_map(orphan).collect()
    }
}

impl Drop for Recovery {
    fn drop(&mut self) {
        if self.lock.take().is_some() && self.kept.is_none() {
            let _ = std::fs::remove_file(lock_of(&self.file));
        }
    }
}

impl Orphan {
    /// The job as a document that has not been saved.
    pub(crate) fn recover(&self) -> Document {
        let mut document = Document::unsaved(self.folder.clone(), self.content.clone());
        document.path.clone_from(&self.path);
        document
    }

    /// Gives it up, or notes that it lives on in a window.
    pub(crate) fn forget(self) {
        let _ = std::fs::remove_file(&self.file);
        let _ = std::fs::remove_file(lock_of(&self.file));
    }

    /// What the job is called.
    pub(crate) fn name(&self) -> &str {
        &self.content.job.name
    }
}

fn lock_of(file: &Path) -> PathBuf {
    file.with_extension("lock")
}

/// `None` while its window is open, or if it cannot be read.
fn orphan(file: PathBuf) -> Option<Orphan> {
    if let Ok(lock) = File::open(lock_of(&file)) {
        lock.try_lock().ok()?;
    }
    let kept: Kept = ron::from_str(&std::fs::read_to_string(&file).ok()?).ok()?;
    let Kept { path, folder, job, machine, recipes } = kept;
    Some(Orphan { file, path, folder, content: Content { job, machine, recipes } })
}
