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

/// The end of the folder that a file lies in, short enough for a menu: its last two names.
pub(crate) fn end_of_folder(file: &Path) -> String {
    let folder = file.parent().unwrap_or(Path::new(""));
    let mut ends: Vec<_> = folder.components().rev().take(2).collect();
    ends.reverse();
    let end: PathBuf = ends.iter().collect();
    if end == folder { end.display().to_string() } else { format!("…/{}", end.display()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_folders_are_told_by_their_ends() {
        let end = |file: &str| end_of_folder(Path::new(file)).replace('\\', "/");
        assert_eq!(end("/home/me/jobs/june/plate.ron"), "…/jobs/june");
        assert_eq!((end("june/plate.ron"), end("plate.ron")), ("june".into(), String::new()));
    }
}
