//! Verifies a vector file against the job, layer by layer, by other means than those that made
//! the vectors: distances at the points of a lattice ([`lattice`]) and exact crossing tests
//! ([`boundary`]) instead of insets, clipping, hatching and centrelines.
//!
//! What it shares with the writing, so that a fault there stays unseen here:
//!
//! - **the true region** of every layer (`Build::fused`): slicing, the resolution of overlapping
//!   rings, and the intersections by which growth in Z is undone. Slicing has its own proof, against
//!   another library (`.ci/run`);
//! - how a placement is **posed** and how many layers there are;
//! - the **code of the file**: a layer is read by the decoder that belongs to the encoder. The plain
//!   Python reader in `tests/read_vectors.py` shares nothing with either;
//! - points, regions and their exact orientation test (`base::Point`, `region::Region` as data).
//!
//! Tables are compared with the job, the machine and the recipes themselves ([`header`]).
//!
//! For a region with boundary offset `o`, contours `o, o+s, …` and hatch spacing `h`:
//!
//! - no mark leaves the region;
//! - **rim**: a point less than `o` deep that lies in some disc of radius `o` inside the region
//!   has a mark within `o`, since the outermost contour passes between it and the disc's centre;
//! - **thin**: a point that lies in no such disc belongs to a wall thinner than the beam, and is
//!   a fault only if the recipe asks for centrelines and the wall is long and wide enough;
//! - **contours**: deeper, every point has a mark within the widest step between contours or from
//!   contour to hatch;
//! - **hatch**: deep enough that no contour can be meant, every point has a mark within `h/2`;
//! - no contour or hatch lies shallower than the recipe says;
//! - hatch marks run along the layer's scan angle, on the lines of the hatch spacing;
//! - over all, Σ mark length × spacing agrees with the hatched area within the bound of a sum of
//!   chords, h × half the boundary's length (Cauchy–Crofton; total variation of the chord length).
//!
//! What it leaves to the eye: the order of marks, start points, the division into stripes or cells,
//! which exposure a block names, and hatch that ends deeper than it should by less than a spacing
//! and the shortest mark.

mod boundary;
mod coverage;
mod expected;
mod hatch_sum;
mod header;
mod lattice;
mod layer;
mod looked;
mod marks;
mod outcome;
mod pieces;

use crate::build::Build;
use crate::in_order::in_order;
use base::{Cancelled, Finding, Progress, Severity};
use scan_path::{CheckError, ReadError, VectorReader, check_file};
use slicing::Scratch;
use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// Why a vector file could not be verified at all.
#[derive(Debug, thiserror::Error)]
pub enum VerifyError {
    /// The operating system refused.
    #[error("cannot read the vector file: {source}: {}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// It is not a vector file, or too damaged to be read.
    #[error("{source}: {}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        source: ReadError,
    },
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// What verification found.
#[derive(Clone, Debug, Default)]
pub struct Verdict {
    /// Faults (stop) and remarks; a file without a stop is verified.
    pub findings: Vec<Finding>,
    /// Layers looked at.
    pub layers: u32,
    /// Lattice points tested.
    pub points_tested: u64,
    /// Area of walls too thin for the recipe, left out as it says, mm² summed over layers.
    pub thin_unexposed_mm2: f64,
}

impl Verdict {
    /// Whether no fault was found.
    pub fn is_verified(&self) -> bool {
        self.findings.iter().all(|finding| finding.severity() != Severity::Stop)
    }
}

/// Checks the file alone: container, checksums, schema, numbers.
///
/// # Errors
/// If it cannot be read far enough to be checked.
pub fn verify_alone(path: &Path, progress: &Progress) -> Result<Verdict, VerifyError> {
    let mut reader = open_vector_file(path)?;
    let findings = check_file(&mut reader, progress).map_err(|error| match error {
        CheckError::Cancelled(cancelled) => VerifyError::Cancelled(cancelled),
        CheckError::Read(source) => VerifyError::read(path, source),
    })?;
    Ok(Verdict { findings, layers: reader.header().layer_count, ..Verdict::default() })
}

/// Checks the file alone, then every layer against the job.
///
/// # Errors
/// If it cannot be read far enough to be checked.
pub fn verify_against(
    path: &Path,
    build: &Build,
    progress: &Progress,
) -> Result<Verdict, VerifyError> {
    let mut verdict = verify_alone(path, progress)?;
    if !verdict.is_verified() {
        return Ok(verdict);
    }
    let reader = open_vector_file(path)?;
    verdict.findings.extend(header::header_faults(reader.header(), build));
    if !verdict.is_verified() {
        return Ok(verdict);
    }
    progress.add_total(u64::from(build.layer_count()));
    let reader = Mutex::new(reader);
    let check = |scratch: &mut Scratch, index| {
        progress.check()?;
        // Every layer was read once, by itself: if one cannot be read now, the file has changed.
        let read = reader.lock().unwrap_or_else(PoisonError::into_inner).layer(index);
        let layer = read.map_err(|source| VerifyError::read(path, source))?;
        let outcome = layer::check(build, &layer, scratch);
        progress.advance(1)?;
        Ok::<_, VerifyError>(outcome)
    };
    in_order(build.layer_count(), check, |outcome| {
        verdict.findings.extend(outcome.findings);
        verdict.points_tested += outcome.points_tested;
        verdict.thin_unexposed_mm2 += outcome.thin_unexposed_mm2;
        Ok(())
    })?;
    Ok(verdict)
}

/// Opens a vector file for reading layer by layer.
///
/// # Errors
/// If the file cannot be opened or is no vector file.
pub fn open_vector_file(path: &Path) -> Result<VectorReader<BufReader<File>>, VerifyError> {
    let file =
        File::open(path).map_err(|source| VerifyError::Io { path: path.to_owned(), source })?;
    VectorReader::open(BufReader::new(file)).map_err(|source| VerifyError::read(path, source))
}

impl VerifyError {
    pub(crate) fn read(path: &Path, source: ReadError) -> Self {
        Self::Read { path: path.to_owned(), source }
    }
}
