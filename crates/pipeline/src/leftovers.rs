//! Temporary files, and those that a program left behind that was killed.
//!
//! Whoever writes one holds a lock on it, which the system lets go of when the program ends, however it ends.
//! What nobody holds any more belongs to nobody.

use std::fs::{File, read_dir, remove_file};
use std::path::Path;
use std::time::Duration;
use tempfile::NamedTempFile;

const PREFIX: &str = ".hatchwright-";
const SUFFIX: &str = ".part";

/// Younger ones are left alone: between making a file and locking it there is a moment.
const YOUNG: Duration = Duration::from_secs(10);

/// A temporary file in a folder, locked, which goes when it is dropped.
pub(crate) fn temporary_in(folder: &Path) -> std::io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX);
    #[cfg(unix)] // readable as any file the person makes, not by its owner alone
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let temporary = builder.tempfile_in(folder)?;
    // Where the file system knows no locks, nothing is cleared either.
    temporary.as_file().try_lock().ok();
    Ok(temporary)
}

/// Takes away temporary files in a folder that nobody writes any more. What cannot be looked at stays.
pub(crate) fn clear(folder: &Path) {
    clear_older(folder, YOUNG);
}

fn clear_older(folder: &Path, age: Duration) {
    for entry in read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let is_ours = name.starts_with(PREFIX) && name.ends_with(SUFFIX);
        let is_old = || {
            let found = entry.metadata().ok().filter(std::fs::Metadata::is_file);
            let changed = found.and_then(|found| found.modified().ok());
            changed.and_then(|at| at.elapsed().ok()).is_some_and(|elapsed| elapsed >= age)
        };
        if is_ours && is_old() && File::open(entry.path()).is_ok_and(|file| file.try_lock().is_ok())
        {
            remove_file(entry.path()).ok();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_nobody_writes_is_taken_away_and_all_else_stays() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at(".hatchwright-dead.part"), "half").unwrap();
        std::fs::write(at("mine.part"), "whole").unwrap();
        let written = temporary_in(folder.path()).unwrap();
        clear(folder.path());
        assert!(at(".hatchwright-dead.part").exists(), "it is young");
        clear_older(folder.path(), Duration::ZERO);
        assert!(!at(".hatchwright-dead.part").exists());
        assert!(at("mine.part").exists() && written.path().exists());
    }
}
