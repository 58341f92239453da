//! XML as 3MF allows it: UTF-8 or UTF-16, no document type, every prefix bound.

use super::super::error::ImportError;
use super::package::{LimitPassed, too_large};
use quick_xml::NsReader;
use quick_xml::events::attributes::{AttrError, Attribute};
use quick_xml::events::{BytesStart, Event};
use quick_xml::name::ResolveResult;
use std::io::{self, BufRead, Cursor, Read};

const XML: &str = "http://www.w3.org/XML/1998/namespace";
const SCHEMA_INSTANCE: &str = "http://www.w3.org/2001/XMLSchema-instance";

/// One part, event by event.
pub(super) struct Source<R: BufRead> {
    part: String,
    reader: NsReader<Utf8<R>>,
    depth: u32,
    seen_root: bool,
}

/// Bytes in UTF-8: as they come, or decoded in full beforehand.
enum Utf8<R> {
    AsIs(R),
    Decoded(Cursor<Vec<u8>>),
}

impl<R: BufRead> Read for Utf8<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match self {
            Self::AsIs(reader) => reader.read(buffer),
            Self::Decoded(reader) => reader.read(buffer),
        }
    }
}

impl<R: BufRead> BufRead for Utf8<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        match self {
            Self::AsIs(reader) => reader.fill_buf(),
            Self::Decoded(reader) => reader.fill_buf(),
        }
    }

    fn consume(&mut self, amount: usize) {
        match self {
            Self::AsIs(reader) => reader.consume(amount),
            Self::Decoded(reader) => reader.consume(amount),
        }
    }
}

impl<R: BufRead> Source<R> {
    /// Looks at the encoding of the bytes of a part.
    pub(super) fn new(part: &str, mut reader: R) -> Result<Self, ImportError> {
        let broken = |e: io::Error| io_error(part, 0, &e);
        let start = reader.fill_buf().map_err(broken)?;
        let word: Option<fn([u8; 2]) -> u16> = match start {
            [0xff, 0xfe, ..] | [b'<', 0, _, 0, ..] => Some(u16::from_le_bytes),
            [0xfe, 0xff, ..] | [0, b'<', 0, _, ..] => Some(u16::from_be_bytes),
            _ => None,
        };
        let utf8 = if let Some(word) = word {
            let mut bytes = Vec::new();
            reader.read_to_end(&mut bytes).map_err(broken)?;
            let words = bytes.as_chunks().0.iter().map(|&pair| word(pair));
            let text: Result<String, _> = char::decode_utf16(words).collect();
            let text = text.map_err(|_| ImportError::Model {
                part: part.to_owned(),
                offset: 0,
                problem: "the text is neither UTF-8 nor UTF-16".to_owned(),
            })?;
            Utf8::Decoded(Cursor::new(text.trim_start_matches('\u{feff}').as_bytes().to_vec()))
        } else {
            Utf8::AsIs(reader)
        };
        let mut reader = NsReader::from_reader(utf8);
        reader.config_mut().check_comments = true;
        Ok(Self { part: part.to_owned(), reader, depth: 0, seen_root: false })
    }

    /// An error here.
    pub(super) fn error(&self, problem: impl Into<String>) -> ImportError {
        ImportError::Model {
            part: self.part.clone(),
            offset: self.reader.buffer_position(),
            problem: problem.into(),
        }
    }

    /// The next event. Ends with `Eof` after exactly one root element.
    pub(super) fn next<'b>(&mut self, buffer: &'b mut Vec<u8>) -> Result<Event<'b>, ImportError> {
        buffer.clear();
        let event = match self.reader.read_event_into(buffer) {
            Ok(event) => event,
            Err(quick_xml::Error::Io(e)) => {
                return Err(io_error(&self.part, self.reader.buffer_position(), &e));
            }
            Err(quick_xml::Error::Encoding(_)) => {
                return Err(self.error("the text is neither UTF-8 nor UTF-16"));
            }
            Err(e) => return Err(self.error(format!("not well-formed XML ({e})"))),
        };
        match &event {
            Event::Start(_) | Event::Empty(_) => {
                if self.depth == 0 && self.seen_root {
                    return Err(self.error("there is more than one root element"));
                }
                self.seen_root = true;
                self.depth += u32::from(matches!(event, Event::Start(_)));
            }
            Event::End(_) => self.depth = self.depth.saturating_sub(1),
            Event::DocType(_) => return Err(self.error("a document type is not allowed in 3MF")),
            Event::GeneralRef(name) => {
                let predefined = ["lt", "gt", "amp", "apos", "quot"];
                if !name.is_char_ref() && !predefined.contains(&&**name) {
                    return Err(self.error("an entity is used that is not defined"));
                }
            }
            Event::Decl(declaration) => {
                if let Some(encoding) = declaration.encoding() {
                    let encoding = encoding.map_err(|e| self.error(e.to_string()))?;
                    let known = ["utf-8", "utf-16", "utf8", "utf16"];
                    if !known.contains(&encoding.to_ascii_lowercase().as_str()) {
                        return Err(self
                            .error(format!("the encoding is {encoding}; 3MF is UTF-8 or UTF-16")));
                    }
                }
            }
            Event::Text(text)
                if self.depth == 0 && !text.trim_matches('\u{feff}').trim().is_empty() =>
            {
                return Err(self.error("there is text outside of the root element"));
            }
            Event::Eof if self.depth > 0 => {
                return Err(self.error("the part ends inside an element; it was cut short"));
            }
            Event::Eof if !self.seen_root => return Err(self.error("there is no root element")),
            _ => {}
        }
        Ok(event)
    }

    /// Namespace (empty for none) and local name of an element.
    pub(super) fn element<'e>(
        &self,
        start: &'e BytesStart<'_>,
    ) -> Result<(&str, &'e str), ImportError> {
        let (namespace, local) = self.reader.resolver().resolve_element(start.name());
        Ok((self.bound(namespace)?, local.into_inner()))
    }

    /// The namespace that a prefix is bound to.
    pub(super) fn namespace_of_prefix(&self, prefix: &str) -> Result<&str, ImportError> {
        let name = format!("{prefix}:x");
        let (namespace, _) =
            self.reader.resolver().resolve_attribute(quick_xml::name::QName(&name));
        self.bound(namespace)
    }

    /// Namespace and local name of an attribute with a prefix; `None` for one without, or for the
    /// declaration of a namespace. Attributes of XML itself are refused here but for `xml:lang`.
    pub(super) fn foreign<'k>(
        &self,
        attribute: &Attribute<'k>,
    ) -> Result<Option<(&str, &'k str)>, ImportError> {
        if !attribute.key.0.contains(':') || attribute.key.as_namespace_binding().is_some() {
            return Ok(None);
        }
        let (namespace, local) = self.reader.resolver().resolve_attribute(attribute.key);
        let namespace = self.bound(namespace)?;
        let local = local.into_inner();
        if (namespace == XML && local != "lang") || namespace == SCHEMA_INSTANCE {
            return Err(self.error(format!("3MF does not allow the attribute {}", attribute.key.0)));
        }
        Ok(Some((namespace, local)))
    }

    fn bound<'n>(&self, namespace: ResolveResult<'n>) -> Result<&'n str, ImportError> {
        match namespace {
            ResolveResult::Bound(namespace) => Ok(namespace.0),
            ResolveResult::Unbound => Ok(""),
            ResolveResult::Unknown(prefix) => {
                Err(self.error(format!("the prefix \"{prefix}\" is not bound to a namespace")))
            }
        }
    }

    /// An attribute, or why it is not one.
    pub(super) fn attribute<'k>(
        &self,
        attribute: Result<Attribute<'k>, AttrError>,
    ) -> Result<Attribute<'k>, ImportError> {
        attribute.map_err(|e| self.error(format!("not well-formed XML ({e})")))
    }
}

/// The value of an attribute as text; as it stands if it holds an unknown entity.
pub(super) fn text(attribute: &Attribute<'_>) -> String {
    attribute
        .normalized_value(quick_xml::XmlVersion::Implicit1_0)
        .map_or_else(|_| attribute.value.to_string(), std::borrow::Cow::into_owned)
}

fn io_error(part: &str, offset: u64, e: &io::Error) -> ImportError {
    if let Some(passed) = e.get_ref().and_then(|inner| inner.downcast_ref::<LimitPassed>()) {
        return too_large(passed.limit);
    }
    let problem = format!("the part cannot be unpacked ({e})");
    ImportError::Model { part: part.to_owned(), offset, problem }
}
