//! All layers, computed on all threads and handed on in order, into a file.

use crate::build::Build;
use crate::checks::LayerReport;
use crate::inputs::{Inputs, PathError};
use crate::layers::{ComputedLayer, LayerError};
use crate::leftovers;
use base::{Cancelled, Finding, Progress, Severity};
use scan_path::slices_3mf::SlicesError;
use scan_path::{EncodeError, Totals, VectorWriter, WriteError, encode_layer};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Why a file could not be written. Nothing is left behind, and an older file stays as it was.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// It may not be written there.
    #[error(transparent)]
    Path(#[from] PathError),
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

/// Writes the vector file of a build, whatever was found in its job: to a temporary file beside `path`, then
/// renamed. See `write_judged`, which looks at the findings.
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
    write_atomically(path, &build.loaded.inputs, |file| fill_vectors(build, path, file, progress))
}

fn fill_vectors(
    build: &Build,
    path: &Path,
    file: &mut BufWriter<std::fs::File>,
    progress: &Progress,
) -> Result<Written, OutputError> {
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
}

/// What is to become of a job that has a stop finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stops {
    /// It is not written.
    Refuse,
    /// It is written, under a name that says so; see [`not_fit`].
    NameNotFit,
}

/// A vector file that was written, or was not, and all that was found.
#[derive(Clone, Debug)]
pub struct Judged {
    /// Where the file lies; absent if a stop finding kept it from being written.
    pub file: Option<PathBuf>,
    /// What was written there.
    pub totals: Option<Totals>,
    /// What loading, posing and the layers found.
    pub findings: Vec<Finding>,
}

/// The path for a vector file whose job has a stop finding: `plate.hwv` becomes `plate.not-fit.hwv`.
pub fn not_fit(path: &Path) -> PathBuf {
    const MARK: &str = ".not-fit";
    let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    if stem.ends_with(MARK) {
        return path.to_owned();
    }
    let extension = path.extension().unwrap_or("hwv".as_ref()).to_string_lossy();
    path.with_file_name(format!("{stem}{MARK}.{extension}"))
}

/// Writes the vector file of a build as [`write_vector_file`] does, if no finding stops the job. What its
/// layers have to report is known at the end alone, so that the file gets its name then.
///
/// # Errors
/// If the file cannot be written, or on cancellation.
pub fn write_judged(
    build: &Build,
    path: &Path,
    stops: Stops,
    progress: &Progress,
) -> Result<Judged, OutputError> {
    write_proven(build, &[], path, stops, progress)
}

/// The same, where `proven` is what counts of the proof of its clearances.
///
/// # Errors
/// If the file cannot be written, or on cancellation.
pub fn write_proven(
    build: &Build,
    proven: &[Finding],
    path: &Path,
    stops: Stops,
    progress: &Progress,
) -> Result<Judged, OutputError> {
    let inputs = &build.loaded.inputs;
    inputs.check(path)?;
    let mut findings = build.findings.clone();
    findings.extend_from_slice(proven);
    let must_stop = |all: &[Finding]| all.iter().any(|f| f.severity() == Severity::Stop);
    if stops == Stops::Refuse && must_stop(&findings) {
        return Ok(Judged { file: None, totals: None, findings });
    }
    let (written, whole) =
        write_beside(path, inputs, |file| fill_vectors(build, path, file, progress))?;
    findings.extend(build.layer_findings(&written.report));
    let file = match (!must_stop(&findings), stops) {
        (true, _) => path.to_owned(),
        (false, Stops::NameNotFit) => not_fit(path),
        (false, Stops::Refuse) => return Ok(Judged { file: None, totals: None, findings }),
    };
    keep_as(whole, &file, inputs)?;
    Ok(Judged { file: Some(file), totals: Some(written.totals), findings })
}

/// Writes a small text file whole: to a temporary file beside `path`, then renamed.
///
/// # Errors
/// If the file cannot be written; an older one is then as it was.
pub fn write_text(path: &Path, text: &str) -> Result<(), OutputError> {
    write_atomically(path, &Inputs::default(), |file| {
        let io = |source| OutputError::Io { path: path.to_owned(), source };
        file.write_all(text.as_bytes()).map_err(io)
    })
}

/// Lets `fill` write a temporary file in the folder of `path`, and renames it when it is whole. `inputs` are
/// what it is made from, which it must not replace.
pub(crate) fn write_atomically<T>(
    path: &Path,
    inputs: &Inputs,
    fill: impl FnOnce(&mut BufWriter<std::fs::File>) -> Result<T, OutputError>,
) -> Result<T, OutputError> {
    let (result, whole) = write_beside(path, inputs, fill)?;
    keep_as(whole, path, inputs)?;
    Ok(result)
}

/// Gives a file that is whole its name.
fn keep_as(whole: NamedTempFile, path: &Path, inputs: &Inputs) -> Result<(), OutputError> {
    inputs.check(path)?; // much may have happened since
    let io = |source| OutputError::Io { path: path.to_owned(), source };
    whole.persist(path).map(drop).map_err(|error| io(error.error))
}

/// Lets `fill` write a temporary file in the folder of `path`, where there may be a file of that name.
fn write_beside<T>(
    path: &Path,
    inputs: &Inputs,
    fill: impl FnOnce(&mut BufWriter<std::fs::File>) -> Result<T, OutputError>,
) -> Result<(T, NamedTempFile), OutputError> {
    inputs.check(path)?;
    let io = |source| OutputError::Io { path: path.to_owned(), source };
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    std::fs::create_dir_all(folder).map_err(io)?;
    leftovers::clear(folder);
    let temporary = leftovers::temporary_in(folder).map_err(io)?;
    let mut writer = BufWriter::new(temporary.as_file().try_clone().map_err(io)?);
    let result = fill(&mut writer)?;
    writer.flush().map_err(io)?;
    writer.get_ref().sync_all().map_err(io)?;
    Ok((result, temporary))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_is_not_fit_says_so_in_its_name() {
        let named = |path: &str| not_fit(Path::new(path)).display().to_string();
        assert_eq!(named("out/plate.hwv"), "out/plate.not-fit.hwv");
        assert_eq!(named("plate.not-fit.hwv"), "plate.not-fit.hwv");
        assert_eq!(named("plate 1.2"), "plate 1.not-fit.2");
        assert_eq!(named("plate"), "plate.not-fit.hwv");
    }

    #[test]
    fn a_failed_write_leaves_the_older_file_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.txt");
        std::fs::write(&path, "older").unwrap();
        let failed: Result<(), _> = write_atomically(&path, &Inputs::default(), |file| {
            file.write_all(b"half").unwrap();
            Err(OutputError::Cancelled(Cancelled))
        });
        assert!(failed.is_err());
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "older");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);

        write_atomically(&path, &Inputs::default(), |file| {
            file.write_all(b"newer").unwrap();
            Ok(())
        })
        .unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "newer");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
