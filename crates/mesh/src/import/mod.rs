//! Import from bytes: STL (binary and text), OBJ, 3MF.
//!
//! | format | objects                        | unit                     | vertices               |
//! |--------|--------------------------------|--------------------------|------------------------|
//! | STL    | one, all solids together       | said, or mm              | `f32`, welded          |
//! | OBJ    | one, or one per `o` with faces | said, or mm              | `f64`, welded          |
//! | 3MF    | one per build item             | said, or that of the file| `f64`, welded per mesh |
//!
//! Welded means: corners at bit-equal positions are one vertex; there is no tolerance. Vertices
//! are numbered by first use, those without a triangle are left out. Triangles that have no area,
//! or lose it by welding, are kept: the health report counts them. Left out, with a finding, is
//! what cannot be placed: triangles with a corner that is not finite.
//!
//! No size in a header is trusted: every length is compared with the bytes before memory is
//! reserved, and the limits below hold.
//!
//! Architecture invariant: no finding and no error is lost on the way, and nothing here panics,
//! whatever the bytes.

mod ascii_stl;
mod encoding;
mod error;
mod facets;
mod limits;
mod obj;
mod object;
mod polygon;
mod size;
mod stl;
mod threemf;
mod weld;

use base::{Finding, Progress, Unit};
use std::io::Read;

pub use error::ImportError;
pub use limits::{FREE_INFLATED_BYTES, Limits, MAX_INFLATE_RATIO, MAX_TRIANGLES};
pub use object::ImportedObject;
pub use size::{INCHES_BELOW_MM, METRES_BELOW_MM, MICRONS_ABOVE_MM};

/// A mesh file format.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Format {
    /// Stereolithography, binary or text.
    Stl,
    /// Wavefront object.
    Obj,
    /// 3D Manufacturing Format, core specification.
    ThreeMf,
}

impl Format {
    /// All formats.
    pub const ALL: [Self; 3] = [Self::Stl, Self::Obj, Self::ThreeMf];

    /// The extension of file names, without its dot.
    pub fn extension(self) -> &'static str {
        match self {
            Self::Stl => "stl",
            Self::Obj => "obj",
            Self::ThreeMf => "3mf",
        }
    }

    /// The format that a file name's extension (without its dot, any case) stands for.
    pub fn from_extension(extension: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|format| extension.eq_ignore_ascii_case(format.extension()))
    }
}

/// What a file held.
#[derive(Clone, Debug, PartialEq)]
pub struct Imported {
    /// At least one, none without triangles, in the order of the file.
    pub objects: Vec<ImportedObject>,
    /// What was odd; the place names the object where there are several.
    pub findings: Vec<Finding>,
}

/// Converts a location from the frame of 3MF (origin at the front left corner of the platform) to
/// that of ISO 17295 (origin at its centre), mm, for a platform of `platform_mm` in X and Y.
/// Heights are the same in both.
pub fn centre_from_corner([x, y, z]: [f64; 3], platform_mm: [f64; 2]) -> [f64; 3] {
    [x - 0.5 * platform_mm[0], y - 0.5 * platform_mm[1], z]
}

/// Reads the objects of a mesh file.
///
/// `unit` is what the person said; `None` means the unit that the file states (3MF) or mm. If
/// nobody said a unit, a size that suggests another one becomes a finding. The usual [`Limits`] hold.
/// Linear in time and memory; single-threaded.
///
/// # Errors
/// [`ImportError`] if there is nothing usable, if the file breaks off, or if what it says cannot
/// be followed without guessing. What can is a finding.
pub fn import(
    bytes: &[u8],
    format: Format,
    unit: Option<Unit>,
    progress: &Progress,
) -> Result<Imported, ImportError> {
    import_within(bytes, format, unit, &Limits::default(), progress)
}

fn import_within(
    bytes: &[u8],
    format: Format,
    unit: Option<Unit>,
    limits: &Limits,
    progress: &Progress,
) -> Result<Imported, ImportError> {
    if bytes.is_empty() {
        return Err(ImportError::Empty);
    }
    let mut findings = Vec::new();
    let scale = unit.unwrap_or_default().mm();
    let (objects, file_unit) = match format {
        Format::Stl => {
            (vec![stl::read(bytes, scale, limits, &mut findings, progress)?], Unit::Millimetre)
        }
        Format::Obj => {
            (obj::read(bytes, scale, limits, &mut findings, progress)?, Unit::Millimetre)
        }
        Format::ThreeMf => threemf::read(bytes, unit, limits, &mut findings, progress)?,
    };
    conclude(objects, findings, unit, file_unit)
}

/// Like [`import`], for bytes that are not in memory yet. Of a sound binary STL file, no more than
/// a small buffer is: first touches of memory cost more than all the rest. Other files are read in
/// full first.
///
/// `length` is the true length of what `reader` will give, bytes; memory is reserved for it if the
/// header of the file agrees.
///
/// # Errors
/// As [`import`], and [`ImportError::Read`] if `reader` fails or ends early.
pub fn import_from(
    reader: &mut dyn Read,
    length: u64,
    format: Format,
    unit: Option<Unit>,
    limits: &Limits,
    progress: &Progress,
) -> Result<Imported, ImportError> {
    if length > limits.bytes {
        return Err(ImportError::TooLarge { what: "bytes", limit: limits.bytes });
    }
    let failed = |from: usize| {
        move |e: std::io::Error| ImportError::Read { from: from as u64, problem: e.to_string() }
    };
    let mut bytes = Vec::new();
    reader.take(stl::HEADER as u64).read_to_end(&mut bytes).map_err(failed(0))?;
    let is_streamed = match format {
        Format::Stl => stl::is_as_announced(&bytes, length),
        Format::Obj | Format::ThreeMf => false,
    };
    if is_streamed {
        let mut findings = Vec::new();
        let scale = unit.unwrap_or_default().mm();
        let object = stl::read_announced(reader, length, scale, limits, &mut findings, progress)?;
        return conclude(vec![object], findings, unit, Unit::Millimetre);
    }
    // One byte more than there should be shows that there is more.
    let more = (limits.bytes + 1).saturating_sub(bytes.len() as u64);
    reader.take(more).read_to_end(&mut bytes).map_err(failed(bytes.len()))?;
    if bytes.len() as u64 > limits.bytes {
        return Err(ImportError::TooLarge { what: "bytes", limit: limits.bytes });
    }
    import_within(&bytes, format, unit, limits, progress)
}

fn conclude(
    mut objects: Vec<ImportedObject>,
    mut findings: Vec<Finding>,
    unit: Option<Unit>,
    file_unit: Unit,
) -> Result<Imported, ImportError> {
    if objects.iter().all(|object| object.mesh.triangles.is_empty()) {
        let found = findings.first().map(|finding| format!(" ({})", finding.sentence()));
        return Err(ImportError::NoTriangles { detail: found.unwrap_or_default() });
    }
    for object in &mut objects {
        object.name = shown_name(&object.name);
        object.part_number = object.part_number.as_deref().map(shown_name);
    }
    if unit.is_none() {
        findings.extend(size::check(&objects, file_unit));
    }
    Ok(Imported { objects, findings })
}

/// Longest name of an object, characters, as in a job.
const LONGEST_NAME: usize = 1000;

/// A name as one line of plain text: what steers a terminal becomes a space, what is longer than
/// [`LONGEST_NAME`] is cut.
fn shown_name(name: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    name.chars().take(LONGEST_NAME).map(plain).collect::<String>().trim().to_owned()
}
