//! Binary STL, and telling it from the text form.
//!
//! Layout, little-endian: 80 bytes of anything, a `u32` count, then per triangle 50 bytes: normal
//! and three corners as `3 × f32` each, and a `u16` that nobody agrees on. Only the length of the
//! bytes says how many triangles there are; the count is compared with it, never trusted.
//!
//! Corners are welded while they are read. Triangles come from the order of their corners
//! (counter-clockwise outside); the stored normals are only compared with it.

use super::ascii_stl;
use super::encoding::refuse_wide_text;
use super::error::ImportError;
use super::facets::Facets;
use super::limits::Limits;
use super::object::ImportedObject;
use crate::Mesh;
use base::finding::StlProblem;
use base::{Finding, Progress};
use std::io::Read;

/// Bytes before the first record.
pub(super) const HEADER: usize = 84;
const RECORD: usize = 50;
/// Triangles between two looks at the progress handle.
const STEP: usize = 1 << 15;
/// Records read at once from a stream: 64 kB, which stay in the second cache.
const STREAM_STEP: usize = 1310;

/// Reads either form of STL; `scale` is mm in the unit of the file.
pub(super) fn read(
    bytes: &[u8],
    scale: f64,
    limits: &Limits,
    findings: &mut Vec<Finding>,
    progress: &Progress,
) -> Result<ImportedObject, ImportError> {
    if !is_as_announced(bytes, bytes.len() as u64) {
        refuse_wide_text(bytes, "STL")?;
    }
    if is_binary(bytes) {
        let mesh = read_binary(bytes, scale, limits, findings, progress)?;
        Ok(ImportedObject::unnamed(mesh))
    } else {
        ascii_stl::read(bytes, scale, limits, findings, progress)
    }
}

/// Whether a file of `length` bytes that begins like this is exactly as long as the header of the
/// binary form announces.
pub(super) fn is_as_announced(beginning: &[u8], length: u64) -> bool {
    announced(beginning).map(|count| HEADER as u64 + count * RECORD as u64) == Some(length)
}

/// Whether the bytes are the binary form. Many binary files begin with `solid`, so the length
/// decides first, then whether the beginning reads as text.
fn is_binary(bytes: &[u8]) -> bool {
    is_as_announced(bytes, bytes.len() as u64) || !ascii_stl::looks_like(bytes)
}

/// The count in the header, if the file is long enough to have one.
fn announced(bytes: &[u8]) -> Option<u64> {
    let count = bytes.get(HEADER - 4..)?.first_chunk()?;
    Some(u64::from(u32::from_le_bytes(*count)))
}

/// The bytes of the records, by what is there rather than by what the header says.
fn records<'a>(
    bytes: &'a [u8],
    findings: &mut Vec<Finding>,
) -> Result<&'a [[u8; RECORD]], ImportError> {
    let wrong = |reason: &str| ImportError::WrongFormat { expected: "STL", reason: reason.into() };
    if ascii_stl::is_text(bytes) && !is_as_announced(bytes, bytes.len() as u64) {
        return Err(wrong("it is text that does not begin with \"solid\""));
    }
    let Some(announced) = announced(bytes) else {
        return Err(wrong("it is not text, and shorter than the 84 bytes of a binary header"));
    };
    let (present, rest) = bytes[HEADER..].as_chunks::<RECORD>();
    let count = present.len() as u64;
    if announced > count && !rest.is_empty() {
        let from = (bytes.len() - rest.len()) as u64;
        return Err(ImportError::Truncated {
            length: bytes.len() as u64,
            record: count,
            needed_from: from,
            needed_to: from + RECORD as u64,
        });
    }
    if announced > count {
        findings.push(Finding::new(StlProblem::CountFieldWrong { announced, held: count }));
        return Ok(present);
    }
    // A count of 0 before records is left by programs that write without knowing it in advance.
    let by_count = if rest.is_empty() || announced == 0 { count } else { announced };
    if announced < by_count {
        findings.push(Finding::new(StlProblem::CountFieldWrong { announced, held: count }));
    }
    #[expect(clippy::cast_possible_truncation, reason = "at most the length of `present`")]
    let used = by_count as usize;
    let end = HEADER + used * RECORD;
    if end < bytes.len() {
        let (count, from) = ((bytes.len() - end) as u64, end as u64);
        findings.push(Finding::new(StlProblem::TrailingBytes { count, from }));
    }
    Ok(&present[..used])
}

fn read_binary(
    bytes: &[u8],
    scale: f64,
    limits: &Limits,
    findings: &mut Vec<Finding>,
    progress: &Progress,
) -> Result<Mesh, ImportError> {
    let records = records(bytes, findings)?;
    let mut facets = begin(records.len() as u64, scale, limits, progress)?;
    let mut offset = HEADER as u64;
    for chunk in records.chunks(STEP) {
        push(&mut facets, chunk, &mut offset)?;
        progress.advance(chunk.len() as u64)?;
    }
    facets.finish("byte", findings)
}

/// Reads the records of a binary file whose header, already read, announces just what its
/// `length` holds.
pub(super) fn read_announced(
    reader: &mut dyn Read,
    length: u64,
    scale: f64,
    limits: &Limits,
    findings: &mut Vec<Finding>,
    progress: &Progress,
) -> Result<ImportedObject, ImportError> {
    let count = length.saturating_sub(HEADER as u64) / RECORD as u64;
    let mut facets = begin(count, scale, limits, progress)?;
    let mut offset = HEADER as u64;
    let mut buffer = vec![[0; RECORD]; STREAM_STEP];
    while offset < length {
        #[expect(clippy::cast_possible_truncation, reason = "limited to the buffer")]
        let step = ((length - offset) / RECORD as u64).min(STREAM_STEP as u64) as usize;
        let chunk = &mut buffer[..step];
        reader
            .read_exact(chunk.as_flattened_mut())
            .map_err(|e| ImportError::Read { from: offset, problem: e.to_string() })?;
        push(&mut facets, chunk, &mut offset)?;
        progress.advance(step as u64)?;
    }
    Ok(ImportedObject::unnamed(facets.finish("byte", findings)?))
}

fn begin(
    count: u64,
    scale: f64,
    limits: &Limits,
    progress: &Progress,
) -> Result<Facets, ImportError> {
    if count > limits.triangles {
        return Err(ImportError::TooLarge { what: "triangles", limit: limits.triangles });
    }
    progress.add_total(count);
    #[expect(clippy::cast_possible_truncation, reason = "at most MAX_TRIANGLES of the limits")]
    Ok(Facets::new(count as usize, scale))
}

/// Adds records that begin at byte `offset`, and moves it behind them.
fn push(
    facets: &mut Facets,
    records: &[[u8; RECORD]],
    offset: &mut u64,
) -> Result<(), ImportError> {
    for record in records {
        let corners = [point(record, 12), point(record, 24), point(record, 36)];
        facets.push(point(record, 0), corners, *offset)?;
        *offset += RECORD as u64;
    }
    Ok(())
}

/// Three `f32` from byte `at` of a record.
fn point(record: &[u8; RECORD], at: usize) -> [f32; 3] {
    std::array::from_fn(|k| {
        let from = at + 4 * k;
        f32::from_le_bytes([record[from], record[from + 1], record[from + 2], record[from + 3]])
    })
}
