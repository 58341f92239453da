//! Paths as a job names them. Nothing here looks at a disk.

use std::path::{Path, PathBuf};

/// An absolute path, as written: links are not followed.
pub(crate) fn absolute(path: &Path) -> PathBuf {
    std::path::absolute(path).unwrap_or_else(|_| path.to_owned())
}

/// A job's name as a file's.
pub(crate) fn file_name(name: &str) -> String {
    let usable =
        |c: char| if c.is_alphanumeric() || c == '-' { c.to_ascii_lowercase() } else { '_' };
    name.chars().map(usable).collect()
}
