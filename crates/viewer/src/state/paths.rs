//! Paths as a job names them. Nothing here looks at a disk.

use std::path::{Path, PathBuf};

/// An absolute path, as written: links are not followed.
pub(crate) fn absolute(path: &Path) -> PathBuf {
    plain(&std::path::absolute(path).unwrap_or_else(|_| path.to_owned()))
}

/// Without `.` and `..`, as written: links are not followed.
fn plain(path: &Path) -> PathBuf {
    use std::path::Component;
    let mut plain = PathBuf::new();
    for component in path.components() {
        match component {
            Component::CurDir => {}
            Component::ParentDir => {
                plain.pop();
            }
            other => plain.push(other),
        }
    }
    plain
}

/// A path from a folder to a file, both absolute, with forward slashes.
pub(crate) fn relative(file: &Path, folder: &Path) -> String {
    let (file_parts, folder_parts): (Vec<_>, Vec<_>) =
        (file.components().collect(), folder.components().collect());
    let common = file_parts.iter().zip(&folder_parts).take_while(|(a, b)| a == b).count();
    if common == 0 {
        return file.to_string_lossy().replace('\\', "/"); // another drive
    }
    let up = std::iter::repeat_n("..".to_owned(), folder_parts.len() - common);
    let down =
        file_parts[common..].iter().map(|part| part.as_os_str().to_string_lossy().into_owned());
    up.chain(down).collect::<Vec<_>>().join("/")
}

/// A job's name as a file's.
pub(crate) fn file_name(name: &str) -> String {
    let usable =
        |c: char| if c.is_alphanumeric() || c == '-' { c.to_ascii_lowercase() } else { '_' };
    name.chars().map(usable).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_in_a_job_lead_from_its_folder_to_the_file() {
        let check = |file: &str, folder: &str, expected: &str| {
            assert_eq!(
                relative(&absolute(Path::new(file)), &absolute(Path::new(folder))),
                expected
            );
        };
        check("/a/b/c.stl", "/a/b", "c.stl");
        check("/a/x/c.stl", "/a/b", "../x/c.stl");
        check("/a/b/../x/./c.stl", "/a/b/d", "../../x/c.stl");
    }
}
