//! Verifies a vector file against the job, layer by layer, by other means than those that made
//! the vectors: distances, containment of points and where lines cross edges, instead of insets,
//! clipping, hatching and centrelines.
//!
//! What it shares with the writing, so that a fault there stays unseen here:
//!
//! - the **bare section** of every layer: slicing and the resolution of overlapping rings. Slicing has its
//!   own proof, against another library (`.ci/run`);
//! - how a placement is **posed** and how many layers there are;
//! - the **code of the file**: a layer is read by the decoder that belongs to the encoder. The plain
//!   Python reader in `tests/read_vectors.py` shares nothing with either;
//! - the **beam and powder**: dose of a line, the sum over strokes and what melts (`estimate`,
//!   `Build::melt`, `crate::strokes`, `melt_row` for the table);
//! - of the **exposure table**, which rows walls have, and the numbers of rows; power and speed of
//!   each row are worked out anew;
//! - how **holes** with an offset of their own are widened;
//! - points, regions and their exact orientation test (`base::Point`, `region::Region` as data).
//!
//! No section is cut with another: what the melt grows into, and what faces powder, is asked of points
//! and of lines ([`around`], [`facing`], [`sweep`]). The one exception are the holes of recipes that give
//! them an offset of their own: they are widened by the writer's offset and clipping.
//!
//! Proven of every layer of every placement, to 10 nm and, at corners that open, to the chord tolerance
//! of the recipe:
//!
//! - **tables**: they are those of the job, the machine and the recipes ([`header`]), with what placements change
//!   and what their places in the build space ask for ([`rows`], [`by_place`]); offsets by place likewise;
//! - **blocks** name an exposure that the recipe asks for with that kind of mark and region, and follow
//!   each other in its order ([`order`]); placements follow each other in that of the job ([`part_order`]): each
//!   is finished, or its share of a round, before the next one, as listed, from the right one on, or none while
//!   another one certainly is nearer to the beam;
//! - **hatch** ([`hatch`]): on every line of the hatch there are marks from end to end, over every stretch that
//!   lies as deep as the recipe says and in the right kind of region, exactly as often as it asks for, cut
//!   as stripes or cells say, by each pass on lines of its own angle and spacing; elsewhere there are none. All
//!   along each line, without sampling, but for missing marks: these are excused in narrow walls, looked for every 0.1 mm, and next to one a gap up to
//!   the shortest mark and 0.4 mm more is let pass. Left undecided are stretches shorter than 1 µm, or whose
//!   length is the shortest allowed to 20 nm, and those within 10 nm of where kinds of region meet;
//! - **marks of contours** ([`contours`]) lie at the depth of a contour to 30 nm, at each next corner and in
//!   the middle, but for where a narrow wall may cut a contour off; in the right kind of region, kinds that
//!   share contours counting as one; contours are closed, or end where kinds meet or where the next piece
//!   begins; of each island the inner ones come before the outer ones or after them, as asked.
//!
//! What the file says that it leaves out on purpose is asked for nowhere, and no mark of it may be there.
//!
//! Sampled:
//!
//! - **narrow walls**, which have lines along them instead of hatch ([`wall_rules`]): about every 0.1 mm along their
//!   middle, what crosses from side to side is looked at ([`across`]): every ring and the line in the middle that
//!   the width asks for, where it belongs to 15 µm, with its energy to 6 %, and nothing else. Widths count as
//!   they are within 0.2 mm, and 14 µm either way; where they allow different lines any of these will do. A missing
//!   line is let pass in walls shorter than the shortest line and 0.15 mm, where hatch reaches in, and
//!   for lines in the middle where the next ring does; there the dose is not less than a fifth of the hatch's mean.
//!   Not looked at: the last 0.1 mm before ends, junctions, where
//!   sides meet under more than 42°, where a ring just fits or ends, and mitred corners. There the dose is
//!   not more than 3 times the most that a hatch brings ([`dose`]). What lies within 25 µm of the limit of being
//!   narrow is left undecided ([`narrow`]);
//! - **lines along walls, each as a whole** ([`along`]), every 0.04 mm, ends and junctions included: its energy is one
//!   that one of its own widths asks for (or, where it was cut, one up to 0.2 mm further on), no more lines run along
//!   all of it than the hatch has passes, and it is not beside the middle and all rings throughout. A piece that is left
//!   out at an end or a junction is not noticed by this;
//! - **contours**, asked for at points at most 0.1 mm apart along the boundary, but not on the arcs around
//!   corners, and as missing only where the wall surely has one: as often as the recipe asks, within 30 nm;
//! - **centrelines** ([`centrelines`], [`thin`]): those that there are lie along the middle of a narrow wall to
//!   7.5 µm (to 60 µm where a mark is shorter than 0.3 mm) or along a ring; those of thin walls are run
//!   once, with the energy that melts the width (fewer than five marks with another one are let pass).
//!   Thin walls are found on a lattice of a third of half the width that two contours need; one may lack a
//!   line shorter than 1.75 times that half (or the least length, if more) and 20 µm, or one that bends;
//! - **overlapping placements**: a corner of one in the other, or edges that cross.
//!
//! Left to the eye: start points, which way lines run in turn, in which order stripes, cells and
//! islands are run.

mod across;
mod along;
mod around;
mod boundary;
mod by_place;
mod centrelines;
mod contours;
mod cores;
mod disc;
mod dose;
mod ends;
mod expected;
mod facing;
mod grid;
mod hatch;
mod header;
mod lattice;
mod layer;
mod narrow;
mod order;
mod outcome;
mod overlap;
mod part_order;
mod passes;
mod pieces;
mod pieces_of_lines;
mod rows;
mod runs;
mod strip;
mod sweep;
mod thin;
mod tracks;
mod wall_rules;
mod walls;

use crate::build::Build;
use crate::checks::LayerReport;
use crate::in_order::in_order;
use crate::layers::RUN;
use around::Stack;
use base::{Cancelled, Finding, Progress, Severity};
use outcome::Outcome;
use scan_path::{CheckError, ReadError, VectorReader, check_file};
use slicing::Scratch;
use std::fs::File;
use std::io::BufReader;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use sweep::Sweep;

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
    /// What was looked at: lines of the hatch, points of contours, of narrow walls and of the lattice.
    pub points_tested: u64,
    /// Area of walls too thin for the recipe, left out as it says, mm² summed over layers.
    pub thin_unexposed_mm2: f64,
    /// What the file says that it leaves out on purpose, in words; proven to be left out, and nothing else.
    pub left_out: Vec<String>,
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
    let left_out = reader.header().left_out_words();
    let layers = reader.header().layer_count;
    Ok(Verdict { findings, layers, left_out, ..Verdict::default() })
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
    verdict.findings.extend(header::sources_changed(reader.header(), build));
    if !verdict.is_verified() {
        return Ok(verdict);
    }
    progress.add_total(u64::from(build.layer_count()));
    let reader = Mutex::new(reader);
    let check = |scratch: &mut (Scratch, Sweep), run: u32| {
        let layers = run * RUN..((run + 1) * RUN).min(build.layer_count());
        check_run(path, build, &reader, layers, scratch, progress)
    };
    let mut report = LayerReport::default();
    in_order(build.layer_count().div_ceil(RUN), check, |outcomes| {
        for outcome in outcomes {
            verdict.findings.extend(outcome.findings);
            verdict.points_tested += outcome.points_tested;
            verdict.thin_unexposed_mm2 += outcome.thin_unexposed_mm2;
            report.add(&outcome.report);
        }
        Ok(())
    })?;
    verdict.findings.extend(build.layer_findings(&report));
    Ok(verdict)
}

/// Checks a run of layers: neighbours share their sections.
fn check_run(
    path: &Path,
    build: &Build,
    reader: &Mutex<VectorReader<BufReader<File>>>,
    layers: Range<u32>,
    (scratch, sweep): &mut (Scratch, Sweep),
    progress: &Progress,
) -> Result<Vec<Outcome>, VerifyError> {
    let mut stacks = Vec::with_capacity(build.placed.len());
    for placed in &build.placed {
        progress.check()?;
        stacks.push(Stack::of(placed, build.recipe(placed), layers.clone(), scratch));
    }
    let mut outcomes = Vec::new();
    for index in layers {
        // Every layer was read once, by itself: if one cannot be read now, the file has changed.
        let read = |source| VerifyError::read(path, source);
        let mut reader = reader.lock().unwrap_or_else(PoisonError::into_inner);
        let bytes = reader.layer_bytes(index).map_err(read)?;
        let layer = bytes.decode(reader.header()).map_err(read)?;
        let left_out = reader.header().left_out.clone();
        drop(reader);
        outcomes.push(layer::check(build, (&layer, &left_out), &stacks, sweep));
        progress.advance(1)?;
    }
    Ok(outcomes)
}

/// Opens a vector file for reading layer by layer.
///
/// # Errors
/// If the file cannot be opened or is no vector file.
pub fn open_vector_file(path: &Path) -> Result<VectorReader<BufReader<File>>, VerifyError> {
    let (file, _) = crate::input_files::open(path)
        .map_err(|source| VerifyError::Io { path: path.to_owned(), source })?;
    VectorReader::open(BufReader::new(file)).map_err(|source| VerifyError::read(path, source))
}

impl VerifyError {
    pub(crate) fn read(path: &Path, source: ReadError) -> Self {
        Self::Read { path: path.to_owned(), source }
    }
}
