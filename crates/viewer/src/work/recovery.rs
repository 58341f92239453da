//! Autosave: what would be lost by a crash is kept beside the settings, and offered at the next
//! start.
//!
//! A lock file says that the window which keeps a copy is still open, so that a second window
//! does not offer the first one's work.

use crate::state::document::{Content, Document};
use crate::work::latest::Latest;
use crate::work::threads::{Priority, Threads};
use job::{Job, Machine, Recipe};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// An unsaved job as it is kept.
#[derive(Serialize, Deserialize)]
struct SavedCopy {
    path: Option<PathBuf>,
    folder: PathBuf,
    job: Job,
    machine: Machine,
    recipes: BTreeMap<String, Recipe>,
}

/// A file for one window's copy.
pub(crate) struct CopyFile {
    file: PathBuf,
    /// Held while the window is open.
    _lock: File,
}

impl CopyFile {
    /// Takes a free place in the state folder; `None` if nothing can be written there.
    pub(crate) fn take(folder: &Path) -> Option<Self> {
        let _ = std::fs::create_dir_all(folder);
        let places = (0..1000).map(|n| folder.join(format!("unsaved-{n}.ron")));
        places.filter(|file| !file.exists()).find_map(|file| {
            let lock = File::create(lock_of(&file)).ok()?;
            lock.try_lock().ok()?;
            Some(Self { file, _lock: lock })
        })
    }
}

/// Keeps the changes of this window.
pub(crate) struct Recovery {
    place: CopyFile,
    writer: Latest<()>,
    /// State of the document that is kept.
    kept: Option<[u64; 2]>,
    last: Instant,
}

/// Least time between two copies.
const PAUSE: Duration = Duration::from_secs(5);

/// Another value whenever there is something else to keep.
fn state_of(document: &Document) -> [u64; 2] {
    [document.revision(), document.accepted_changes()]
}

impl Recovery {
    /// Keeps copies in this place.
    pub(crate) fn new(place: CopyFile, threads: &Threads) -> Self {
        let writer = Latest::new(threads, "Keeping a copy of the job", Priority::File);
        Self { place, writer, kept: None, last: Instant::now() }
    }

    /// Keeps a copy if the document changed, not more often than every few seconds. Says when to
    /// ask again.
    pub(crate) fn keep(&mut self, document: &Document) -> Option<Duration> {
        if !document.is_dirty() {
            if self.kept.take().is_some() {
                let file = self.place.file.clone();
                self.writer.ask(move |_| std::fs::remove_file(file).ok());
            }
            return None;
        }
        if self.kept == Some(state_of(document)) {
            return None;
        }
        let waited = self.last.elapsed();
        if waited < PAUSE {
            return Some(PAUSE.saturating_sub(waited));
        }
        self.keep_now(document);
        None
    }

    /// Keeps a copy, in the background.
    pub(crate) fn keep_now(&mut self, document: &Document) {
        let (path, folder) = (document.path.clone(), document.folder.clone());
        let (file, content) = (self.place.file.clone(), Arc::clone(document.content()));
        self.writer.ask(move |_| {
            let Content { job, machine, recipes } = (*content).clone();
            let folder = std::path::absolute(&folder).unwrap_or(folder);
            let text = ron::to_string(&SavedCopy { path, folder, job, machine, recipes }).ok()?;
            pipeline::write_text(&file, &text).ok() // a full disk must not stop the work
        });
        self.kept = Some(state_of(document));
        self.last = Instant::now();
    }

    /// Whether a copy is being written.
    pub(crate) fn is_busy(&self) -> bool {
        self.writer.is_busy()
    }

    /// Forgets the copy and gives the place up: everything is saved, or was given up.
    pub(crate) fn end(self) {
        let (file, place) = (self.place.file.clone(), self.place);
        self.writer.ask(move |_| {
            let _ = std::fs::remove_file(&file); // most often there is none; the place is this window's
            drop(place);
            std::fs::remove_file(lock_of(&file)).ok()
        });
    }
}

/// A job that a crashed window left behind.
pub(crate) struct Orphan {
    file: PathBuf,
    /// The job's own file, if it had one.
    path: Option<PathBuf>,
    folder: PathBuf,
    content: Content,
}

impl Orphan {
    /// Jobs in the state folder whose windows are no longer open.
    pub(crate) fn all(folder: &Path) -> Vec<Self> {
        let files = std::fs::read_dir(folder).into_iter().flatten().flatten();
        let mut files: Vec<PathBuf> = files.map(|entry| entry.path()).collect();
        files.sort();
        let ours = |file: &PathBuf| {
            let name = file.file_name().unwrap_or_default().to_string_lossy();
            name.starts_with("unsaved-") && name.ends_with(".ron")
        };
        files.into_iter().filter(ours).filter_map(Self::read).collect()
    }

    /// `None` while its window is open, or if it cannot be read.
    fn read(file: PathBuf) -> Option<Self> {
        if let Ok(lock) = File::open(lock_of(&file)) {
            lock.try_lock().ok()?;
        }
        let kept: SavedCopy = ron::from_str(&std::fs::read_to_string(&file).ok()?).ok()?;
        let SavedCopy { path, folder, job, machine, recipes } = kept;
        Some(Self { file, path, folder, content: Content { job, machine, recipes } })
    }

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
