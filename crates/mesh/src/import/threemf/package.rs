//! The container of a 3MF file: a ZIP archive of parts, and relationships between them.
//!
//! The rules are those of the Open Packaging Conventions as far as the 3MF core specification,
//! chapter 2, builds on them. Part names begin with `/` and ignore the case of ASCII letters.

use super::super::error::ImportError;
use super::super::limits::{Limits, MAX_SMALL_PART_BYTES, inflate_limit};
use super::xml::{self, Source};
use quick_xml::events::Event;
use std::collections::{HashMap, HashSet};
use std::io::{self, BufReader, Cursor, Read};
use zip::ZipArchive;

const MODEL: &str = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel";
const PRINT_TICKET: &str = "http://schemas.microsoft.com/3dmanufacturing/2013/01/printticket";
const RELATIONSHIPS: &str = "http://schemas.openxmlformats.org/package/2006/relationships";

/// An open archive.
pub(super) struct Package<'a> {
    archive: ZipArchive<Cursor<&'a [u8]>>,
    /// Part name in lower case → number of the entry.
    entries: HashMap<String, usize>,
    limits: Limits,
}

/// How many entries the directory of an archive lists, as its end record says; `None` where that is
/// elsewhere, in archives of 65,535 entries and more.
fn listed(bytes: &[u8]) -> Option<usize> {
    let at = bytes.windows(4).rposition(|four| four == b"PK\x05\x06")?;
    let count = bytes.get(at + 10..)?.first_chunk().copied().map(u16::from_le_bytes)?;
    (count != u16::MAX).then_some(usize::from(count))
}

fn error(problem: impl Into<String>) -> ImportError {
    ImportError::Package { problem: problem.into() }
}

impl<'a> Package<'a> {
    /// Reads the directory of the archive.
    pub(super) fn open(bytes: &'a [u8], limits: &Limits) -> Result<Self, ImportError> {
        if !bytes.starts_with(b"PK") {
            return Err(ImportError::WrongFormat {
                expected: "3MF",
                reason: "it is not a ZIP archive".to_owned(),
            });
        }
        let archive = ZipArchive::new(Cursor::new(bytes))
            .map_err(|e| error(format!("the ZIP archive is damaged or cut short ({e})")))?;
        // The library keeps one of several entries of one name, and says nothing.
        if listed(bytes).is_some_and(|listed| listed != archive.len()) {
            return Err(error("two entries of the ZIP archive have the same name"));
        }
        let mut entries = HashMap::new();
        for number in 0..archive.len() {
            if let Some(Ok(name)) = archive.name_for_index(number) {
                let name = format!("/{}", name.to_ascii_lowercase());
                if let Some(_before) = entries.insert(name, number) {
                    return Err(error(format!("two entries have the name of entry {number}")));
                }
            }
        }
        let package = Self { archive, entries, limits: *limits };
        if !package.has("/[content_types].xml") {
            return Err(error(
                "[Content_Types].xml is missing; this is a ZIP archive, but not 3MF",
            ));
        }
        Ok(package)
    }

    fn has(&self, part: &str) -> bool {
        self.entries.contains_key(&part.to_ascii_lowercase())
    }

    /// A part, unpacked while it is read, decoded to UTF-8. Unpacking stops with an error at the
    /// limits that the module [`super::super::limits`] states.
    pub(super) fn part(&mut self, part: &str) -> Result<Source<impl io::BufRead>, ImportError> {
        self.limited_part(part, self.limits.bytes)
    }

    fn limited_part(
        &mut self,
        part: &str,
        limit: u64,
    ) -> Result<Source<impl io::BufRead>, ImportError> {
        let number = self
            .entries
            .get(&part.to_ascii_lowercase())
            .ok_or_else(|| error(format!("the part {part} is missing")))?;
        let entry = self
            .archive
            .by_index(*number)
            .map_err(|e| error(format!("the part {part} cannot be unpacked ({e})")))?;
        let remaining = inflate_limit(entry.compressed_size(), &self.limits).min(limit);
        if entry.size() > remaining {
            return Err(too_large(remaining));
        }
        Source::new(part, BufReader::new(Limited { entry, remaining, limit: remaining }))
    }

    /// The name of the one 3D model part, from the root relationships.
    pub(super) fn root_model(&mut self) -> Result<String, ImportError> {
        let relationships = self.relationships("/")?;
        let mut models = relationships.iter().filter(|r| r.kind == MODEL);
        match (models.next(), models.next()) {
            (Some(model), None) => Ok(model.target.clone()),
            (None, _) => Err(error("/_rels/.rels names no 3D model part")),
            (Some(_), Some(_)) => Err(error("/_rels/.rels names more than one 3D model part")),
        }
    }

    /// Checks the relationships of a model part.
    pub(super) fn check_relationships(&mut self, part: &str) -> Result<(), ImportError> {
        self.relationships(part).map(|_| ())
    }

    /// The relationships of a part (`/` for the package), checked: distinct identifiers, targets
    /// inside the package, at most one print ticket.
    fn relationships(&mut self, source: &str) -> Result<Vec<Relationship>, ImportError> {
        let (folder, file) = source.rsplit_once('/').unwrap_or(("", source));
        let part = format!("{folder}/_rels/{file}.rels");
        if !self.has(&part) {
            return if source == "/" {
                Err(error(format!("{part} is missing")))
            } else {
                Ok(vec![])
            };
        }
        let mut relationships = Vec::new();
        let mut xml = self.limited_part(&part, MAX_SMALL_PART_BYTES)?;
        loop {
            let mut buffer = Vec::new();
            let event = xml.next(&mut buffer)?;
            match &event {
                Event::Eof => break,
                Event::Start(start) | Event::Empty(start) => {
                    let (namespace, name) = xml.element(start)?;
                    if namespace == RELATIONSHIPS && name == "Relationship" {
                        relationships.push(Relationship::parse(&xml, start, folder)?);
                    }
                }
                _ => {}
            }
        }
        drop(xml);
        let mut ids = HashSet::new();
        for relationship in &relationships {
            let target = &relationship.target;
            if !ids.insert(&relationship.id) {
                return Err(error(format!("{part} uses the id {:?} twice", relationship.id)));
            }
            if relationship.external || !self.has(target) {
                return Err(error(format!(
                    "{part} refers to {target:?}, which is not in the package"
                )));
            }
        }
        if relationships.iter().filter(|r| r.kind == PRINT_TICKET).count() > 1 {
            return Err(error(format!("{part} names more than one print ticket")));
        }
        Ok(relationships)
    }
}

struct Relationship {
    id: String,
    kind: String,
    /// Part name, absolute.
    target: String,
    external: bool,
}

impl Relationship {
    fn parse<R: io::BufRead>(
        xml: &Source<R>,
        start: &quick_xml::events::BytesStart<'_>,
        folder: &str,
    ) -> Result<Self, ImportError> {
        let mut this =
            Self { id: String::new(), kind: String::new(), target: String::new(), external: false };
        for attribute in start.attributes() {
            let attribute = xml.attribute(attribute)?;
            let value = xml::text(&attribute);
            match attribute.key.0 {
                "Id" => this.id = value,
                "Type" => this.kind = value,
                "Target" => this.target = value,
                "TargetMode" => this.external = value == "External",
                _ => {}
            }
        }
        this.target = this.target.replace("%20", " ");
        if !this.target.starts_with('/') {
            this.target = format!("{folder}/{}", this.target.trim_start_matches("./"));
        }
        Ok(this)
    }
}

/// Stops with an error where a part unpacks to more than its limit, whatever the directory of
/// the archive says of its size.
struct Limited<R> {
    entry: R,
    remaining: u64,
    limit: u64,
}

impl<R: Read> Read for Limited<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.entry.read(buffer)?;
        self.remaining = self.remaining.checked_sub(count as u64).ok_or_else(|| {
            io::Error::new(io::ErrorKind::FileTooLarge, LimitPassed { limit: self.limit })
        })?;
        Ok(count)
    }
}

/// Travels through the layers between [`Limited`] and [`super::xml`].
#[derive(Debug, thiserror::Error)]
#[error("more than {limit} bytes unpacked")]
pub(super) struct LimitPassed {
    pub(super) limit: u64,
}

pub(super) fn too_large(limit: u64) -> ImportError {
    ImportError::TooLarge { what: "bytes in one unpacked 3MF part", limit }
}
