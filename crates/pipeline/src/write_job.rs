//! Job files elsewhere: written to another folder, with paths that lead from there. Paths in a job are
//! relative to the folder of its file, with forward slashes.

use crate::inputs::Inputs;
use crate::write::{OutputError, write_text};
use job::Job;
use std::path::{Component, Path, PathBuf};

/// Writes a job to a temporary file beside `path`, then renames it. Its paths, relative to `from`,
/// the folder of the job that it was made of, are made relative to the folder of `path`. `inputs` are the
/// files of that job, whose comments the new one keeps.
///
/// # Errors
/// If the file cannot be written, or is one of the inputs.
pub fn write_job(job: &Job, from: &Path, path: &Path, inputs: &Inputs) -> Result<(), OutputError> {
    inputs.check(path)?;
    let mut job = job.clone();
    rebase_job(&mut job, from, path.parent().unwrap_or(Path::new("")));
    let earlier = inputs.job_file().and_then(|file| std::fs::read_to_string(file).ok());
    write_text(path, &job.to_ron_over(&earlier.unwrap_or_default()))
}

/// Makes every path of a job, relative to one folder, relative to another. Where both are the same
/// folder, the paths stay as they are written.
pub fn rebase_job(job: &mut Job, from: &Path, to: &Path) {
    if whole(from) == whole(to) {
        return;
    }
    let parts =
        job.parts.iter_mut().flat_map(|p| std::iter::once(&mut p.mesh).chain(&mut p.recipe));
    for file in [&mut job.machine, &mut job.recipe].into_iter().chain(parts) {
        *file = seen_from(&from.join(&*file), to);
    }
}

/// A path relative to one folder as seen from another; as it is written where both are the same.
pub fn rebased(file: &str, from: &Path, to: &Path) -> String {
    if whole(from) == whole(to) { file.to_owned() } else { seen_from(&from.join(file), to) }
}

/// The path that leads from a folder to a file; the whole path where none does, from one drive to
/// another. Links are not followed.
pub fn seen_from(file: &Path, folder: &Path) -> String {
    let (target, folder) = (whole(file), whole(folder));
    let common = target.iter().zip(folder.iter()).take_while(|(a, b)| a == b).count();
    if common == 0 {
        return target.to_string_lossy().replace('\\', "/");
    }
    let up = folder.iter().skip(common).map(|_| "..".to_owned());
    let down = target.iter().skip(common).map(|c| c.to_string_lossy().into_owned());
    up.chain(down).collect::<Vec<_>>().join("/")
}

/// The whole path, from the working folder where it is relative, without `.` and `..`.
fn whole(path: &Path) -> PathBuf {
    let path = std::path::absolute(path.join(".")).unwrap_or_else(|_| path.to_owned());
    let mut all = PathBuf::new();
    for part in path.components() {
        match part {
            Component::ParentDir => {
                all.pop();
            }
            Component::CurDir => {}
            Component::Prefix(_) | Component::RootDir | Component::Normal(_) => all.push(part),
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
        assert_eq!(seen("/far/a.stl", "jobs", "./x/../jobs"), "/far/a.stl");
        assert_eq!(seen("/far/a.stl", "/far/jobs", "/far"), "a.stl");
    }

    #[test]
    fn a_file_is_seen_from_a_folder() {
        let seen = |file, folder| seen_from(Path::new(file), Path::new(folder));
        assert_eq!(seen("/a/b/c.stl", "/a/b"), "c.stl");
        assert_eq!(seen("/a/x/c.stl", "/a/b"), "../x/c.stl");
        assert_eq!(seen("/a/b/../x/./c.stl", "/a/b/d"), "../../x/c.stl");
        assert_eq!(seen("c.stl", ""), "c.stl");
    }
}
