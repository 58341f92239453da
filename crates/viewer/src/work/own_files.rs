//! Which machine and recipe files belong to one job alone, and what a new one is called.
//!
//! A file is a job's own if it lies beside it, is called after it (`plate.recipe.ron` beside `plate.ron`), is
//! named by it, and no other text in that folder or a folder in it mentions its name. Only such a file is
//! written over by saving.

use job::Job;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// A job's file and what lies beside it.
pub(super) struct OwnFiles {
    path: PathBuf,
    /// What the job of that file names at present; nothing if there is none.
    named: BTreeSet<String>,
    /// Texts of other jobs beside it, and in folders beside it, such as what nesting writes.
    others: Vec<String>,
}

impl OwnFiles {
    /// Looks at the folder of a job's file.
    pub(super) fn of(path: &Path) -> Self {
        let folder = folder_of(path);
        let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
        let (mut files, folders): (Vec<PathBuf>, Vec<PathBuf>) =
            inside(here).partition(|entry| entry.is_file());
        files.retain(|other| other.file_name() != path.file_name());
        files.extend(folders.iter().flat_map(|folder| inside(folder)).filter(|f| f.is_file()));
        files.retain(|other| {
            other.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("ron"))
        });
        let others = files.iter().filter_map(|other| std::fs::read_to_string(other).ok()).collect();
        Self { path: path.to_owned(), named: named_in(path), others }
    }

    /// Whether saving the job may write over a file, as the job names it.
    pub(super) fn holds(&self, what: &str, file: &str) -> bool {
        is_called_after(&self.path, what, file)
            && self.named.contains(file)
            && !self.others.iter().any(|text| text.contains(file))
    }

    /// A name for a new file that is to be the job's own.
    pub(super) fn free_name(&self, what: &str, taken: impl Fn(&str) -> bool) -> String {
        let stem = stem_of(&self.path);
        let numbered = (2..).map(|number| format!("{stem}.{what}-{number}.ron"));
        let mut names = std::iter::once(format!("{stem}.{what}.ron")).chain(numbered);
        let folder = folder_of(&self.path);
        let is_free = |name: &String| {
            let is_there = std::fs::symlink_metadata(folder.join(name)).is_ok();
            !is_there && !taken(name)
        };
        names.find(is_free).unwrap_or_default()
    }
}

fn inside(folder: &Path) -> impl Iterator<Item = PathBuf> {
    std::fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path())
}

/// Whether a file has the name of one that belongs to the job at `path`, beside it.
pub(super) fn is_called_after(path: &Path, what: &str, file: &str) -> bool {
    let rest = file.strip_prefix(&format!("{}.{what}", stem_of(path)));
    let Some(number) = rest.and_then(|rest| rest.strip_suffix(".ron")) else { return false };
    let digits = number.strip_prefix('-').unwrap_or_default();
    number.is_empty() || !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit())
}

/// The folder that a job's paths start from.
pub(crate) fn folder_of(file: &Path) -> &Path {
    file.parent().unwrap_or(Path::new(""))
}

fn stem_of(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

/// Machine and recipes that the job at `path` names; none if that is no job.
fn named_in(path: &Path) -> BTreeSet<String> {
    let text = std::fs::read_to_string(path).unwrap_or_default();
    let Ok(job) = Job::from_ron(&text) else { return BTreeSet::new() };
    let own = job.parts.into_iter().filter_map(|part| part.recipe);
    [job.machine, job.recipe].into_iter().chain(own).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn own_files_are_called_after_the_job() {
        let job = Path::new("jobs/plate.ron");
        for (file, own) in [
            ("plate.recipe.ron", true),
            ("plate.recipe-2.ron", true),
            ("plate.recipe-.ron", false),
            ("plate.recipe-x.ron", false),
            ("plate2.recipe.ron", false),
            ("plate.machine.ron", false),
            ("../plate.recipe.ron", false),
        ] {
            assert_eq!(is_called_after(job, "recipe", file), own, "{file}");
        }
    }
}
