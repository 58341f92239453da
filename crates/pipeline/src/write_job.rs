//! Writes job files.

use crate::write::{OutputError, write_atomically};
use job::Job;
use std::io::Write;
use std::path::{Component, Path, PathBuf};

/// Writes a job to a temporary file beside `path`, then renames it. Its paths, relative to `from`,
/// the folder of the job that it was made of, are made relative to the folder of `path`.
///
/// # Errors
/// If the file cannot be written.
pub fn write_job(job: &Job, from: &Path, path: &Path) -> Result<(), OutputError> {
    let mut job = job.clone();
    let to = path.parent().unwrap_or(Path::new(""));
    for file in paths(&mut job) {
        *file = rebased(file, from, to);
    }
    write_atomically(path, |out| {
        out.write_all(job.to_ron().as_bytes())
            .map_err(|source| OutputError::Io { path: path.to_owned(), source })
    })
}

fn paths(job: &mut Job) -> impl Iterator<Item = &mut String> {
    let parts =
        job.parts.iter_mut().flat_map(|p| std::iter::once(&mut p.mesh).chain(&mut p.recipe));
    [&mut job.machine, &mut job.recipe].into_iter().chain(parts)
}

/// A path relative to one folder as seen from another.
fn rebased(file: &str, from: &Path, to: &Path) -> String {
    let whole = |p: &Path| std::path::absolute(p).map(|p| plain(&p));
    let (Ok(target), Ok(folder)) = (whole(&from.join(file)), whole(&to.join("."))) else {
        return file.to_owned();
    };
    let common = target.iter().zip(folder.iter()).take_while(|(a, b)| a == b).count();
    if common == 0 {
        return target.to_string_lossy().replace('\\', "/"); // another drive
    }
    let up = folder.iter().skip(common).map(|_| "..".to_owned());
    let down = target.iter().skip(common).map(|c| c.to_string_lossy().into_owned());
    up.chain(down).collect::<Vec<_>>().join("/")
}

/// Without `.` and `..`.
fn plain(path: &Path) -> PathBuf {
    let mut all = PathBuf::new();
    for part in path.components() {
        match part {
            Component::ParentDir => {
                all.pop();
            }
            Component::CurDir => {}
            other => all.push(other),
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_seen_from_the_new_folder() {
        let seen = |file, from, to| rebased(file, Path::new(from), Path::new(to));
        assert_eq!(seen("../assets/a.stl", "demo-jobs", "out/x"), "../../assets/a.stl");
        assert_eq!(seen("a.stl", "", ""), "a.stl");
        assert_eq!(seen("sub/a.stl", "jobs", "jobs"), "sub/a.stl");
    }
}
