//! Where an output may go: to a file of its own, never over what it is made from.

use job::Job;
use std::fs::{FileType, Metadata};
use std::path::{Path, PathBuf};

/// Why an output may not be written to a path. Nothing was touched.
#[derive(Debug, thiserror::Error)]
pub enum PathError {
    /// The output is made from the file that lies there.
    #[error(
        "this is the {what} that the output is made from, and an output never replaces that; name \
         another file: {}",
        path.display()
    )]
    Input {
        /// Job, machine, recipe, mesh or vector file.
        what: &'static str,
        /// The output as it was named.
        path: PathBuf,
    },
    /// What lies there is no file that could be replaced.
    #[error(
        "there is {what} of that name, and an output goes to a file of its own; name one: {}",
        path.display()
    )]
    NoFile {
        /// A folder, a link, a device or a pipe.
        what: &'static str,
        /// The output as it was named.
        path: PathBuf,
    },
    /// The path ends in no name.
    #[error("an output needs the name of a file; add one: {:?}", path)]
    NoName {
        /// The output as it was named.
        path: PathBuf,
    },
}

/// The files that an output is made from.
#[derive(Clone, Debug, Default)]
pub struct Inputs(Vec<(&'static str, PathBuf)>);

impl Inputs {
    /// Everything that a job names, and the job's own file if it has one. `folder` is that from which its
    /// paths start.
    pub fn of_job(file: Option<&Path>, folder: &Path, job: &Job) -> Self {
        let recipes = job.parts.iter().filter_map(|part| part.recipe.as_ref());
        let recipes = std::iter::once(&job.recipe).chain(recipes).map(|file| ("recipe", file));
        let meshes = job.parts.iter().map(|part| ("mesh", &part.mesh));
        let named = std::iter::once(("machine", &job.machine)).chain(recipes).chain(meshes);
        let named = named.map(|(what, file)| (what, folder.join(file)));
        Self(file.map(|file| ("job", file.to_owned())).into_iter().chain(named).collect())
    }

    /// The job's own file, if there is one.
    pub fn job_file(&self) -> Option<&Path> {
        let job = self.0.iter().find(|(what, _)| *what == "job");
        job.map(|(_, file)| &**file)
    }

    /// These and one more, such as a vector file.
    #[must_use]
    pub fn and(mut self, what: &'static str, path: &Path) -> Self {
        self.0.push((what, path.to_owned()));
        self
    }

    /// These without one that the person wants to be written over.
    #[must_use]
    pub fn but(mut self, file: &Path) -> Self {
        self.0.retain(|(_, input)| !is_same_file(input, file));
        self
    }

    /// Whether an output may be written to a path: a new one, or that of a plain file which is none of
    /// these, by whatever path or link they are named.
    ///
    /// Every output goes through here when it is written; ask before, too, where work comes first.
    ///
    /// # Errors
    /// [`PathError`], with what to do.
    pub fn check(&self, output: &Path) -> Result<(), PathError> {
        let path = || output.to_owned();
        if output.file_name().is_none() {
            return Err(PathError::NoName { path: path() });
        }
        let there = std::fs::symlink_metadata(output).ok();
        if let Some(what) = there.as_ref().and_then(|there| no_plain_file(there.file_type())) {
            return Err(PathError::NoFile { what, path: path() });
        }
        let place = whole(output);
        let is_same = |input: &Path| {
            let ids = std::fs::metadata(input).ok().zip(there.as_ref());
            whole(input) == place || ids.is_some_and(|(input, output)| is_one_file(&input, output))
        };
        match self.0.iter().find(|(_, input)| is_same(input)) {
            Some((what, _)) => Err(PathError::Input { what, path: path() }),
            None => Ok(()),
        }
    }
}

/// Whether two paths lead to the same file; paths of files that are not there are compared as they read.
pub fn is_same_file(a: &Path, b: &Path) -> bool {
    let ids = std::fs::metadata(a).ok().zip(std::fs::metadata(b).ok());
    whole(a) == whole(b) || ids.is_some_and(|(a, b)| is_one_file(&a, &b))
}

/// What lies there, if it is no plain file.
fn no_plain_file(kind: FileType) -> Option<&'static str> {
    if kind.is_file() {
        None
    } else if kind.is_dir() {
        Some("a folder")
    } else if kind.is_symlink() {
        Some("a link")
    } else {
        Some("a device or a pipe")
    }
}

/// A path without links, as far as it exists.
fn whole(path: &Path) -> PathBuf {
    let there = path.canonicalize();
    there
        .or_else(|_| {
            // A file that is still to be made lies in a folder that may be there.
            let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
            let folder = folder.unwrap_or(Path::new(".")).canonicalize()?;
            path.file_name()
                .map(|name| folder.join(name))
                .ok_or(std::io::ErrorKind::NotFound.into())
        })
        .unwrap_or_else(|_: std::io::Error| {
            std::path::absolute(path).unwrap_or_else(|_| path.to_owned())
        })
}

/// Whether both are the same file on disk, perhaps under two names that are no links.
#[cfg(unix)]
fn is_one_file(a: &Metadata, b: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt;
    (a.dev(), a.ino()) == (b.dev(), b.ino())
}

/// Elsewhere the path without links has to tell.
#[cfg(not(unix))]
fn is_one_file(_: &Metadata, _: &Metadata) -> bool {
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_input_is_known_by_whatever_path_it_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("job.ron"), "").unwrap();
        std::fs::create_dir(at("sub")).unwrap();
        let inputs = Inputs::default().and("job", &at("job.ron")).and("mesh", &at("missing.stl"));
        for same in ["job.ron", "./job.ron", "sub/../job.ron", "missing.stl", "sub/../missing.stl"]
        {
            let said = inputs.check(&at(same)).unwrap_err().to_string();
            assert!(said.contains("never replaces") && said.contains(same), "{said}");
        }
        for other in ["job", "new/job.ron", "sub/job.ron"] {
            inputs.check(&at(other)).unwrap();
        }
    }

    #[test]
    fn a_folder_and_no_name_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let said = |path: &Path| Inputs::default().check(path).unwrap_err().to_string();
        assert!(said(folder.path()).starts_with("there is a folder of that name"));
        assert!(said(Path::new("")).contains("needs the name of a file"));
        assert!(said(Path::new("..")).contains("needs the name of a file"));
    }

    #[cfg(unix)]
    #[test]
    fn links_devices_and_second_names_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("job.ron"), "").unwrap();
        std::os::unix::fs::symlink(at("job.ron"), at("link.ron")).unwrap();
        std::os::unix::fs::symlink(at("nowhere"), at("broken.ron")).unwrap();
        std::os::unix::fs::symlink(folder.path(), at("here")).unwrap();
        std::fs::hard_link(at("job.ron"), at("second.ron")).unwrap();
        let inputs = Inputs::default().and("job", &at("link.ron"));
        let said = |path: &Path| inputs.check(path).unwrap_err().to_string();
        assert!(said(&at("link.ron")).contains("a link"));
        assert!(said(&at("broken.ron")).contains("a link"));
        assert!(said(Path::new("/dev/null")).contains("a device or a pipe"));
        for same in ["job.ron", "here/job.ron", "second.ron"] {
            assert!(said(&at(same)).contains("never replaces"), "{same}");
        }
        assert!(is_same_file(&at("here/job.ron"), &at("link.ron")));
        assert!(!is_same_file(&at("job.ron"), &at("other.ron")));
    }
}
