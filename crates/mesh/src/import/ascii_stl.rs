//! STL as text.
//!
//! ```text
//! solid NAME
//!   facet normal nx ny nz
//!     outer loop
//!       vertex x y z     (three times)
//!     endloop
//!   endfacet
//! endsolid NAME
//! ```
//!
//! Key words in any case, any white space between words, any line ends. Several solids in one
//! file become one mesh under the first name: solids are drawn closed on their own and often meet,
//! so a part stays whole. Coordinates are rounded to the nearest `f32`, the precision of the
//! binary form, so that both forms of a file give the same mesh.

use super::encoding::without_mark;
use super::error::ImportError;
use super::facets::Facets;
use super::limits::Limits;
use super::object::ImportedObject;
use base::finding::StlProblem;
use base::{Finding, Progress};

/// Bytes at the beginning that decide whether a file is text.
const LOOK: usize = 1024;
/// Facets between two looks at the progress handle.
const STEP: u64 = 4096;
/// A facet takes about this many bytes of text; a hint for the size of tables only.
const BYTES_PER_FACET: usize = 250;

/// Whether the beginning is text: no control characters but white space, and zeros only as filling
/// at the very end.
pub(super) fn is_text(bytes: &[u8]) -> bool {
    let look = bytes.get(..LOOK).unwrap_or(bytes);
    let filling =
        bytes[look.len()..].is_empty().then(|| look.iter().rev().take_while(|&&b| b == 0));
    let look = &look[..look.len() - filling.map_or(0, Iterator::count)];
    !look.is_empty() && !look.iter().any(|&b| b < b' ' && !b.is_ascii_whitespace() && b != 0x0b)
}

/// Whether this reads as STL text: text that begins with `solid`.
pub(super) fn looks_like(bytes: &[u8]) -> bool {
    let bytes = without_mark(bytes).trim_ascii_start();
    bytes.get(..5).is_some_and(|word| word.eq_ignore_ascii_case(b"solid")) && is_text(bytes)
}

/// Reads the text form; `scale` is mm in the unit of the file.
pub(super) fn read(
    bytes: &[u8],
    scale: f64,
    limits: &Limits,
    findings: &mut Vec<Finding>,
    progress: &Progress,
) -> Result<ImportedObject, ImportError> {
    progress.add_total(bytes.len() as u64);
    let words = Words { bytes: without_mark(bytes), at: 0, line: 1 };
    let facets = Facets::new(bytes.len() / BYTES_PER_FACET, scale);
    let mut reader =
        Reader { words, facets, count: 0, solids: 0, name: String::new(), odd: Odd::default() };
    reader.run(limits.triangles, progress)?;
    reader.odd.report(reader.solids, findings);
    let mesh = reader.facets.finish("line", findings)?;
    Ok(ImportedObject { name: reader.name, ..ImportedObject::unnamed(mesh) })
}

/// Lines of oddities that do not stop the reading, 0 for none.
#[derive(Default)]
struct Odd {
    no_endsolid: u64,
    other_name: u64,
    no_normal: u64,
    after_end: u64,
}

impl Odd {
    fn report(&self, solids: u64, findings: &mut Vec<Finding>) {
        let mut at = |line: u64, problem: fn(u64) -> StlProblem| {
            if line > 0 {
                findings.push(Finding::new(problem(line)));
            }
        };
        at(self.no_endsolid, |line| StlProblem::EndsolidMissing { line });
        at(self.after_end, |line| StlProblem::TextAfterEnd { line });
        at(self.other_name, |line| StlProblem::SolidNamesDiffer { line });
        at(self.no_normal, |line| StlProblem::NormalsMissing { line });
        if solids > 1 {
            findings.push(Finding::new(StlProblem::SolidsJoined { solids }));
        }
    }
}

struct Reader<'a> {
    words: Words<'a>,
    facets: Facets,
    count: u64,
    solids: u64,
    /// Of the first solid that has one.
    name: String,
    odd: Odd,
}

impl Reader<'_> {
    fn run(&mut self, most: u64, progress: &Progress) -> Result<(), ImportError> {
        let mut credited = 0;
        let mut open: Option<&[u8]> = None; // name of the solid we are in
        while let Some(word) = self.words.next() {
            if is(word, "facet") && open.is_some() {
                self.facet()?;
                self.count += 1;
                if self.count > most {
                    return Err(ImportError::TooLarge { what: "triangles", limit: most });
                }
                if self.count.is_multiple_of(STEP) {
                    progress.advance((self.words.at - credited) as u64)?;
                    credited = self.words.at;
                }
            } else if is(word, "solid") {
                if open.is_some() {
                    self.odd.no_endsolid = self.words.line;
                }
                let name = self.words.rest_of_line();
                if self.name.is_empty() {
                    self.name = String::from_utf8_lossy(name).into_owned();
                }
                self.solids += 1;
                open = Some(name);
            } else if is(word, "endsolid") && open.is_some() {
                let line = self.words.line;
                let name = self.words.rest_of_line();
                if !name.is_empty() && open != Some(name) && self.odd.other_name == 0 {
                    self.odd.other_name = line;
                }
                open = None;
            } else if open.is_none() && self.solids > 0 {
                self.odd.after_end = self.words.line;
                break;
            } else {
                return Err(self.words.error(format!(
                    "\"{}\" where \"facet\" or \"endsolid\" should stand",
                    shown(word)
                )));
            }
        }
        if open.is_some() {
            self.odd.no_endsolid = self.words.line;
        }
        progress.advance((self.words.bytes.len() - credited) as u64)?;
        Ok(())
    }

    /// Reads on from behind `facet` to `endfacet`.
    fn facet(&mut self) -> Result<(), ImportError> {
        let line = self.words.line;
        let mut normal = [0.0; 3];
        let mut word = self.words.expect_some()?;
        if is(word, "normal") {
            word = self.words.expect_some()?;
            if is(word, "outer") {
                self.odd.first_without_normal(line);
            } else {
                normal = self.words.point(word)?;
                word = self.words.expect_some()?;
            }
        } else {
            self.odd.first_without_normal(line);
        }
        self.words.check(word, "outer")?;
        self.words.expect("loop")?;
        let mut corners = [[0.0; 3]; 3];
        let mut count = 0;
        loop {
            let word = self.words.expect_some()?;
            if !is(word, "vertex") {
                self.words.check(word, "endloop")?;
                break;
            }
            let word = self.words.expect_some()?;
            let corner = self.words.point(word)?;
            if let Some(place) = corners.get_mut(count) {
                *place = corner;
            }
            count += 1;
        }
        self.words.expect("endfacet")?;
        if count != 3 {
            let problem = format!("the facet that begins here has {count} corners instead of 3");
            return Err(ImportError::Line { line, problem });
        }
        self.facets.push(normal, corners, line)
    }
}

impl Odd {
    fn first_without_normal(&mut self, line: u64) {
        if self.no_normal == 0 {
            self.no_normal = line;
        }
    }
}

fn is(word: &[u8], keyword: &str) -> bool {
    word.eq_ignore_ascii_case(keyword.as_bytes())
}

/// A word for a message: at most 40 characters of it.
fn shown(word: &[u8]) -> String {
    String::from_utf8_lossy(word).chars().take(40).collect()
}

/// The words of a text, with the line they stand on.
struct Words<'a> {
    bytes: &'a [u8],
    at: usize,
    line: u64,
}

impl<'a> Words<'a> {
    fn next(&mut self) -> Option<&'a [u8]> {
        let rest = &self.bytes[self.at..];
        let skipped = rest.iter().position(|&b| {
            self.line += u64::from(b == b'\n');
            b > b' '
        })?;
        let rest = &rest[skipped..];
        let length = rest.iter().position(|&b| b <= b' ').unwrap_or(rest.len());
        self.at += skipped + length;
        Some(&rest[..length])
    }

    /// What is left of the line, without surrounding white space.
    fn rest_of_line(&mut self) -> &'a [u8] {
        let rest = &self.bytes[self.at..];
        let length = rest.iter().position(|&b| b == b'\n' || b == b'\r').unwrap_or(rest.len());
        self.at += length;
        rest[..length].trim_ascii()
    }

    fn error(&self, problem: String) -> ImportError {
        ImportError::Line { line: self.line, problem }
    }

    fn expect_some(&mut self) -> Result<&'a [u8], ImportError> {
        self.next()
            .ok_or_else(|| self.error("the file ends inside a facet; it was cut short".to_owned()))
    }

    fn check(&self, word: &[u8], keyword: &str) -> Result<(), ImportError> {
        if is(word, keyword) {
            return Ok(());
        }
        Err(self.error(format!("\"{}\" where \"{keyword}\" should stand", shown(word))))
    }

    fn expect(&mut self, keyword: &str) -> Result<(), ImportError> {
        let word = self.expect_some()?;
        self.check(word, keyword)
    }

    /// Three numbers, of which the first word is already read.
    fn point(&mut self, first: &[u8]) -> Result<[f32; 3], ImportError> {
        let x = self.number(first)?;
        let mut next = || {
            let word = self.expect_some()?;
            self.number(word)
        };
        Ok([x, next()?, next()?])
    }

    fn number(&self, word: &[u8]) -> Result<f32, ImportError> {
        let text = std::str::from_utf8(word).unwrap_or_default();
        if let Ok(number) = text.parse() {
            return Ok(number);
        }
        // What C libraries print for "not a number": nan(ind), -nan, 1.#QNAN, 1.#INF
        if text.contains('#')
            || text.trim_start_matches('-').to_ascii_lowercase().starts_with("nan")
        {
            return Ok(f32::NAN);
        }
        Err(self.error(format!("\"{}\" where a number should stand", shown(word))))
    }
}
