//! All layers, computed on all threads and handed on in order, into a file.

use crate::build::Build;
use crate::checks::LayerReport;
use crate::layers::{ComputedLayer, LayerError};
use base::{Cancelled, Progress};
use scan_path::slices_3mf::SlicesError;
use scan_path::{EncodeError, Totals, VectorWriter, WriteError, encode_layer};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Why a file could not be written. Nothing is left behind, and an older file stays as it was.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// The operating system refused.
    #[error("cannot write: {source}: {}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// A layer could not be computed.
    #[error(transparent)]
    Layer(LayerError),
    /// A layer does not fit the vector file.
    #[error(transparent)]
    Encode(#[from] EncodeError),
    /// The vector file could not be completed.
    #[error("{source}: {}", path.display())]
    Vectors {
        /// The file.
        path: PathBuf,
        /// What went wrong.
        source: WriteError,
    },
    /// The slices could not be completed.
    #[error("{source}: {}", path.display())]
    Slices {
        /// The file.
        path: PathBuf,
        /// What went wrong.
        source: SlicesError,
    },
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl From<LayerError> for OutputError {
    fn from(error: LayerError) -> Self {
        match error {
            LayerError::Cancelled(cancelled) => Self::Cancelled(cancelled),
            error @ LayerError::Expose { .. } => Self::Layer(error),
        }
    }
}

/// What was written.
#[derive(Clone, Debug)]
pub struct Written {
    /// Totals over all layers, as they stand in the file.
    pub totals: Totals,
    /// What the layers had to report.
    pub report: LayerReport,
}

/// Writes the vector file of a build: to a temporary file beside `path`, then renamed.
///
/// The bytes do not depend on the number of threads. At most a few dozen encoded layers are held
/// in memory.
///
/// # Errors
/// If the file cannot be written, or on cancellation.
pub fn write_vector_file(
    build: &Build,
    path: &Path,
    progress: &Progress,
) -> Result<Written, OutputError> {
    write_atomically(path, |file| {
        let vectors = |source| OutputError::Vectors { path: path.to_owned(), source };
        let mut writer = VectorWriter::new(file, build.header.clone()).map_err(vectors)?;
        let mut report = LayerReport::default();
        let encode = |computed: ComputedLayer| {
            Ok((encode_layer(&computed.layer, &build.header)?, computed.report))
        };
        build.each_layer(progress, encode, |(layer, found)| {
            report.add(&found);
            writer.push(layer).map_err(vectors)
        })?;
        let (totals, _) = writer.finish().map_err(vectors)?;
        Ok(Written { totals, report })
    })
}

/// Writes a small text file whole: to a temporary file beside `path`, then renamed.
///
/// # Errors
/// If the file cannot be written; an older one is then as it was.
pub fn write_text(path: &Path, text: &str) -> Result<(), OutputError> {
    write_atomically(path, |file| {
        let io = |source| OutputError::Io { path: path.to_owned(), source };
        file.write_all(text.as_bytes()).map_err(io)
    })
}

/// Lets `fill` write a temporary file in the folder of `path`, and renames it when it is whole.
pub(crate) fn write_atomically<T>(
    path: &Path,
    fill: impl FnOnce(&mut BufWriter<std::fs::File>) -> Result<T, OutputError>,
) -> Result<T, OutputError> {
    let io = |source| OutputError::Io { path: path.to_owned(), source };
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    std::fs::create_dir_all(folder).map_err(io)?;
    let mut temporary = tempfile::Builder::new();
    #[cfg(unix)] // readable as any file the person makes, not by its owner alone
    temporary.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let temporary = temporary.tempfile_in(folder).map_err(io)?;
    let mut writer = BufWriter::new(temporary.reopen().map_err(io)?);
    let result = fill(&mut writer)?;
    writer.flush().map_err(io)?;
    writer.get_ref().sync_all().map_err(io)?;
    temporary.persist(path).map_err(|error| io(error.error))?;
    Ok(result)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_the_older_file_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.txt");
        std::fs::write(&path, "older").unwrap();
        let failed: Result<(), _> = write_atomically(&path, |file| {
            file.write_all(b"half").unwrap();
            Err(OutputError::Cancelled(Cancelled))
        });
        assert!(failed.is_err());
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "older");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);

        write_atomically(&path, |file| {
            file.write_all(b"newer").unwrap();
            Ok(())
        })
        .unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "newer");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
