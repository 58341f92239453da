//! OBJ: vertices, polygons, objects.
//!
//! Read: `v`, `f` (with `/` texture and normal indices ignored, negative indices, `\` at line
//! ends), `o`. Objects that have faces become separate parts if there are several of them; groups
//! (`g`), smoothing and materials do not divide a part. Polygons are cut into triangles.
//! Everything else is ignored; curved surfaces with a finding.

use super::encoding::{refuse_wide_text, without_mark};
use super::error::ImportError;
use super::facets::Tally;
use super::limits::Limits;
use super::object::ImportedObject;
use super::polygon::triangulate;
use super::weld::{BATCH, Welder};
use crate::Mesh;
use base::finding::FileProblem;
use base::{Finding, Progress};

/// Lines between two looks at the progress handle.
const STEP: u64 = 1 << 14;

/// Reads an OBJ file; `scale` is mm in the unit of the file.
pub(super) fn read(
    bytes: &[u8],
    scale: f64,
    limits: &Limits,
    findings: &mut Vec<Finding>,
    progress: &Progress,
) -> Result<Vec<ImportedObject>, ImportError> {
    refuse_wide_text(bytes, "OBJ")?;
    let bytes = without_mark(bytes);
    progress.add_total(bytes.len() as u64);
    let file = parse(bytes, progress)?;
    file.report(findings);
    let mut builder = Builder {
        file: &file,
        scale,
        most: limits.triangles,
        tally: Tally::default(),
        triangle_count: 0,
    };
    let mut objects = Vec::new();
    for (k, (name, first)) in file.objects.iter().enumerate() {
        let end = file.objects.get(k + 1).map_or(file.faces.len(), |next| next.1);
        let mesh = builder.mesh(*first..end, progress)?;
        if !mesh.triangles.is_empty() {
            objects.push(ImportedObject { name: name.clone(), ..ImportedObject::unnamed(mesh) });
        }
    }
    builder.tally.report("line", findings);
    Ok(objects)
}

/// A file as it stands, faces not yet cut.
struct File {
    positions: Vec<[f64; 3]>,
    /// Indices into `positions`, from 0, not yet checked against its length.
    corners: Vec<u32>,
    faces: Vec<Face>,
    /// Name and first face.
    objects: Vec<(String, usize)>,
    /// Number of faces with fewer than three corners, and the first line.
    short_faces: (u64, u64),
    /// Number of statements of curved surfaces, and the first line.
    curved: (u64, u64),
}

struct Face {
    /// The end of its corners in `corners`; they begin where those of the face before end.
    end: usize,
    line: u64,
}

impl File {
    fn report(&self, findings: &mut Vec<Finding>) {
        let (count, first) = self.short_faces;
        if count > 0 {
            findings.push(Finding::new(FileProblem::FacesTooShort { count, line: first }));
        }
        let (count, first) = self.curved;
        if count > 0 {
            findings.push(Finding::new(FileProblem::CurvedSurfacesIgnored { count, line: first }));
        }
    }
}

fn parse(bytes: &[u8], progress: &Progress) -> Result<File, ImportError> {
    let mut file = File {
        positions: Vec::new(),
        corners: Vec::new(),
        faces: Vec::new(),
        objects: vec![(String::new(), 0)],
        short_faces: (0, 0),
        curved: (0, 0),
    };
    let mut rest = bytes;
    let (mut line, mut next_line) = (0, 1);
    let mut credited = 0;
    while !rest.is_empty() {
        line = next_line;
        let statement = take_statement(&mut rest, &mut next_line);
        parse_statement(&mut file, statement, line)?;
        if line / STEP != next_line / STEP {
            let done = (bytes.len() - rest.len()) as u64;
            progress.advance(done - credited)?;
            credited = done;
        }
    }
    progress.advance(bytes.len() as u64 - credited)?;
    if file.positions.len() > u32::MAX as usize {
        return Err(ImportError::TooLarge { what: "vertices", limit: u64::from(u32::MAX) });
    }
    let _ = line;
    Ok(file)
}

/// The next line, together with those that a `\` at its end continues it into.
fn take_statement<'a>(rest: &mut &'a [u8], line: &mut u64) -> &'a [u8] {
    let all = *rest;
    let mut from = 0;
    loop {
        let end = all[from..].iter().position(|&b| b == b'\n').map(|k| from + k);
        *line += 1;
        let Some(end) = end else {
            *rest = &[];
            return all;
        };
        if !all[..end].trim_ascii_end().ends_with(b"\\") {
            *rest = &all[end + 1..];
            return &all[..end];
        }
        from = end + 1;
    }
}

fn parse_statement(file: &mut File, statement: &[u8], line: u64) -> Result<(), ImportError> {
    let mut words = statement
        .split(|&b| b <= b' ' || b == b'\\') // a continuation is as good as a space
        .filter(|word| !word.is_empty())
        .take_while(|word| !word.starts_with(b"#"));
    let error = |problem| ImportError::Line { line, problem };
    match words.next() {
        Some(b"v") => {
            let mut position = [0.0; 3];
            for coordinate in &mut position {
                let word = words.next().unwrap_or_default();
                *coordinate =
                    std::str::from_utf8(word).ok().and_then(|w| w.parse().ok()).ok_or_else(
                        || error(format!("\"{}\" where a coordinate should stand", shown(word))),
                    )?;
            }
            file.positions.push(position);
        }
        Some(b"f") => {
            let begin = file.corners.len();
            for word in words {
                let corner = corner(word, file.positions.len()).ok_or_else(|| {
                    error(format!("\"{}\" is not the index of a vertex", shown(word)))
                })?;
                file.corners.push(corner);
            }
            if file.corners.len() < begin + 3 {
                file.corners.truncate(begin);
                Tally::count(&mut file.short_faces, line);
            } else {
                file.faces.push(Face { end: file.corners.len(), line });
            }
        }
        Some(b"o") => {
            let name = statement.trim_ascii_start().strip_prefix(b"o").unwrap_or_default();
            let name = String::from_utf8_lossy(name.trim_ascii()).into_owned();
            file.objects.push((name, file.faces.len()));
        }
        Some(b"surf" | b"curv" | b"curv2") => Tally::count(&mut file.curved, line),
        _ => {}
    }
    Ok(())
}

/// The vertex index, from 0, of `7`, `7/1`, `7//3`, `-1/2/3`; negative ones count back from the
/// last vertex so far.
fn corner(word: &[u8], so_far: usize) -> Option<u32> {
    let number = word.split(|&b| b == b'/').next()?;
    let number: i64 = std::str::from_utf8(number).ok()?.parse().ok()?;
    let index = match number {
        1.. => number - 1,
        0 => return None,
        _ => i64::try_from(so_far).ok()?.checked_add(number)?,
    };
    u32::try_from(index).ok()
}

fn shown(word: &[u8]) -> String {
    String::from_utf8_lossy(word).chars().take(40).collect()
}

struct Builder<'a> {
    file: &'a File,
    scale: f64,
    /// Most triangles.
    most: u64,
    tally: Tally,
    triangle_count: u64,
}

impl Builder<'_> {
    /// Cuts a range of faces into triangles and welds them.
    fn mesh(
        &mut self,
        faces: std::ops::Range<usize>,
        progress: &Progress,
    ) -> Result<Mesh, ImportError> {
        let file = self.file;
        let mut begin = faces.start.checked_sub(1).map_or(0, |before| file.faces[before].end);
        let mut welder = Welder::new(faces.len());
        let mut triangles = Vec::new();
        let (mut polygon, mut cut, mut indices) = (Vec::new(), Vec::new(), Vec::new());
        for face in &file.faces[faces] {
            polygon.clear();
            for &corner in &file.corners[begin..face.end] {
                let position = file.positions.get(corner as usize).ok_or_else(|| {
                    let count = file.positions.len();
                    let problem =
                        format!("vertex {} of {count} does not exist", u64::from(corner) + 1);
                    ImportError::Line { line: face.line, problem }
                })?;
                polygon.push(*position);
            }
            begin = face.end;
            if !polygon.as_flattened().iter().all(|c| (c * self.scale).is_finite()) {
                Tally::count(&mut self.tally.not_finite, face.line);
                continue;
            }
            indices.clear();
            indices.resize(polygon.len(), 0);
            for (corners, out) in polygon.chunks(BATCH).zip(indices.chunks_mut(BATCH)) {
                welder.weld(corners, out)?;
            }
            cut.clear();
            triangulate(&polygon, &mut cut);
            triangles.extend(cut.iter().map(|triangle| triangle.map(|k| indices[k])));
            self.triangle_count += cut.len() as u64;
            if self.triangle_count > self.most {
                return Err(ImportError::TooLarge { what: "triangles", limit: self.most });
            }
            progress.check()?;
        }
        triangles.shrink_to_fit();
        Ok(Mesh { vertices: welder.finish(self.scale), triangles })
    }
}
