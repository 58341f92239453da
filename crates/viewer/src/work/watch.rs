//! Looks now and then whether mesh files have changed on disk since they were read.
//!
//! It compares sizes and times, on a thread of its own that ends with the window; the window is woken only when
//! there is something new to say.

use crate::state::results::Stamp;
use crate::work::threads::{Priority, Threads};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// How long it waits between two looks.
const PAUSE: Duration = Duration::from_secs(1);

/// A file as it was whenever it was read: for each unit and object, perhaps, at another time.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct WatchedFile {
    pub(crate) path: PathBuf,
    pub(crate) stamps: BTreeSet<Stamp>,
}

impl WatchedFile {
    pub(crate) fn new(path: PathBuf) -> Self {
        Self { path, stamps: BTreeSet::new() }
    }
}

#[derive(Default)]
struct Shared {
    /// By what the job calls them.
    files: BTreeMap<String, WatchedFile>,
    /// Those that are not what they were.
    changed: BTreeSet<String>,
    is_running: bool,
}

/// See the module.
pub(crate) struct MeshWatch {
    threads: Threads,
    shared: Arc<Mutex<Shared>>,
}

impl MeshWatch {
    pub(crate) fn new(threads: &Threads) -> Self {
        Self { threads: threads.clone(), shared: Arc::default() }
    }

    /// Watches these files and no others, by what the job calls them.
    pub(crate) fn keep(&self, files: BTreeMap<String, WatchedFile>) {
        let mut shared = lock(&self.shared);
        if shared.files == files {
            return;
        }
        let Shared { files: before, changed, .. } = &mut *shared;
        changed.retain(|name| before.get(name).is_some_and(|file| files.get(name) == Some(file)));
        shared.files = files;
        if shared.files.is_empty() || std::mem::replace(&mut shared.is_running, true) {
            return;
        }
        drop(shared);
        let (weak, threads) = (Arc::downgrade(&self.shared), self.threads.clone());
        let look = move || {
            let watch = || {
                while let Some(shared) = weak.upgrade() {
                    if look(&shared) {
                        threads.wake();
                    }
                    drop(shared); // not held while it sleeps, so that it ends with the window
                    std::thread::sleep(PAUSE);
                }
            };
            if let Err(crash) = Threads::guarded("Watching mesh files", watch) {
                threads.note(&crash);
            }
        };
        if let Err(crash) = self.threads.start("Watching mesh files", Priority::Normal, look) {
            self.threads.note(&crash);
        }
    }

    /// The files that have changed, by what the job calls them.
    pub(crate) fn changed(&self) -> BTreeSet<String> {
        lock(&self.shared).changed.clone()
    }
}

/// Looks at all files once; whether there is something new to say.
fn look(shared: &Mutex<Shared>) -> bool {
    let files = lock(shared).files.clone();
    let is_other = |file: &WatchedFile| {
        stamp(&file.path).is_some_and(|now| file.stamps.iter().any(|then| *then != now))
    };
    let changed: BTreeSet<String> =
        files.iter().filter(|(_, file)| is_other(file)).map(|(name, _)| name.clone()).collect();
    let mut shared = lock(shared);
    if shared.files != files || shared.changed == changed {
        return false; // others by now: the next look is at those
    }
    shared.changed = changed;
    true
}

/// What a file is like now; nothing of one that is not there, as while a program writes it anew.
pub(super) fn stamp(path: &Path) -> Option<Stamp> {
    let data = std::fs::metadata(path).ok()?;
    Some((data.len(), data.modified().ok()?))
}

fn lock(shared: &Mutex<Shared>) -> MutexGuard<'_, Shared> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_of_another_size_has_changed_until_it_is_read_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.stl");
        std::fs::write(&path, "one").unwrap();
        let watched = || {
            let stamps = BTreeSet::from([stamp(&path).unwrap()]);
            let file = WatchedFile { path: path.clone(), stamps };
            BTreeMap::from([("a.stl".to_owned(), file)])
        };
        let watch = MeshWatch::new(&Threads::new(|| {}));
        lock(&watch.shared).is_running = true; // looks only when it is told to
        watch.keep(watched());
        assert!(!look(&watch.shared));
        std::fs::write(&path, "three").unwrap();
        assert!(look(&watch.shared));
        assert!(!look(&watch.shared), "said once");
        assert_eq!(watch.changed(), BTreeSet::from(["a.stl".to_owned()]));
        let first = lock(&watch.shared).files["a.stl"].stamps.clone();
        watch.keep(watched());
        assert!(watch.changed().is_empty());
        assert!(!look(&watch.shared));
        let mut two = watched();
        two.get_mut("a.stl").unwrap().stamps.extend(first);
        watch.keep(two);
        assert!(look(&watch.shared), "one part has it new, the other in another unit as it was");
        watch.keep(watched());
        std::fs::remove_file(&path).unwrap();
        assert!(!look(&watch.shared), "being written anew, perhaps");
    }
}
