//! Reading a container that may be damaged or hostile.
//!
//! Accepts any ISO/IEC 21320-1 file, also one that another program wrote. No size is trusted:
//! allocations are bounded by bytes that are really there, or by a limit the caller sets.

use super::records::{Entry, end_records, u16_at, u32_at, u64_at};
use std::collections::BTreeMap;
use std::io::{self, Read, Seek, SeekFrom};

const END_RECORD: u64 = 22;
const ZIP64_LOCATOR: u64 = 20;
const ZIP64_END_RECORD: u64 = 56;
const LOCAL_RECORD: u64 = 30;
const CENTRAL_RECORD: usize = 46;
/// Longest comment that may follow the end record.
const LONGEST_COMMENT: u64 = u16::MAX as u64;

/// Why a container or one of its entries cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum ContainerError {
    /// The file could not be read.
    #[error("the file could not be read: {0}")]
    Io(#[from] io::Error),
    /// There is no ZIP end record.
    #[error("this is no vector file, or it was cut short: it has no ZIP end record")]
    NoEndRecord,
    /// The directory contradicts itself or the file's length.
    #[error("the container's directory is damaged: {0}")]
    Directory(&'static str),
    /// A feature that ISO/IEC 21320-1 forbids.
    #[error("the container uses what ISO/IEC 21320-1 forbids: {0}")]
    Forbidden(&'static str),
    /// Two entries have one name.
    #[error("the container lists the entry \"{0}\" twice")]
    Duplicate(String),
    /// There is no such entry.
    #[error("the container has no entry \"{0}\"")]
    Missing(String),
    /// An entry's record, size or content contradict one another.
    #[error("the entry \"{name}\" is damaged: {what}")]
    Entry {
        /// Name of the entry.
        name: String,
        /// What is wrong.
        what: String,
    },
}

/// An open container.
#[derive(Debug)]
pub(crate) struct Archive<R> {
    input: R,
    /// Length of the file, bytes.
    length: u64,
    directory: Directory,
    entries: Vec<Entry>,
    by_name: BTreeMap<String, usize>,
}

#[derive(Clone, Copy, Debug)]
struct Directory {
    count: u64,
    start: u64,
    size: u64,
}

impl<R: Read + Seek> Archive<R> {
    pub(crate) fn open(mut input: R) -> Result<Self, ContainerError> {
        let length = input.seek(SeekFrom::End(0))?;
        let directory = find_directory(&mut input, length)?;
        let bytes = read_at(&mut input, directory.start, directory.size)?;
        let entries = parse_directory(&bytes, directory)?;
        let mut by_name = BTreeMap::new();
        for (i, entry) in entries.iter().enumerate() {
            if by_name.insert(entry.name.clone(), i).is_some() {
                return Err(ContainerError::Duplicate(entry.name.clone()));
            }
        }
        Ok(Self { input, length, directory, entries, by_name })
    }

    /// The entries in the order of the directory.
    pub(crate) fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The content of an entry of at most `most` bytes.
    pub(crate) fn read(&mut self, name: &str, most: u64) -> Result<Vec<u8>, ContainerError> {
        let missing = || ContainerError::Missing(name.to_owned());
        let entry =
            self.by_name.get(name).and_then(|&i| self.entries.get(i)).ok_or_else(missing)?;
        let damaged = |what: String| ContainerError::Entry { name: name.to_owned(), what };
        if entry.size > most {
            return Err(damaged(format!(
                "it announces {} bytes, at most {most} are allowed",
                entry.size
            )));
        }
        let record = read_at(&mut self.input, entry.offset, LOCAL_RECORD)?;
        if record.len() as u64 != LOCAL_RECORD || !record.starts_with(b"PK\x03\x04") {
            return Err(damaged("no local record where the directory says".to_owned()));
        }
        if !local_agrees(&record, entry) {
            return Err(damaged("its local record contradicts the directory".to_owned()));
        }
        let name_size = u64::from(u16_at(&record, 26));
        let extra_size = u64::from(u16_at(&record, 28));
        let local_name = read_at(&mut self.input, entry.offset + LOCAL_RECORD, name_size)?;
        if local_name != name.as_bytes() {
            return Err(damaged("its local record bears another name".to_owned()));
        }
        // Sums of numbers below the file's length, or 16-bit ones: no overflow.
        let start = entry.offset + LOCAL_RECORD + name_size + extra_size;
        if start + entry.packed_size > self.directory.start {
            return Err(damaged("its data reach into the directory".to_owned()));
        }
        let packed = read_at(&mut self.input, start, entry.packed_size)?;
        if packed.len() as u64 != entry.packed_size {
            return Err(damaged("the file ends within it".to_owned()));
        }
        let content =
            if entry.deflated { inflate(&packed, entry.size).map_err(damaged)? } else { packed };
        if content.len() as u64 != entry.size {
            return Err(damaged(format!(
                "it unpacks to {} bytes instead of {}",
                content.len(),
                entry.size
            )));
        }
        if crc32fast::hash(&content) != entry.crc {
            return Err(damaged("its content does not match its CRC-32".to_owned()));
        }
        Ok(content)
    }

    /// Where the container's bytes differ from what SPEC.md lays down for a writer, in words:
    /// gaps, other records, other times or attributes. Compares every byte outside the data.
    pub(crate) fn oddities(&mut self) -> io::Result<Vec<String>> {
        let mut oddities = Vec::new();
        let mut position = 0;
        let mut records = Vec::new();
        for entry in &self.entries {
            if entry.offset != position {
                oddities.push(format!(
                    "\"{}\" does not begin where the entry before it ends",
                    entry.name
                ));
            }
            let expected = entry.local_record();
            let size = expected.len() as u64;
            if read_at(&mut self.input, entry.offset, size)? != expected {
                oddities.push(format!("the local record of \"{}\" has unusual fields", entry.name));
            }
            position = entry.offset + size + entry.packed_size;
            records.extend(entry.central_record());
        }
        let Directory { count, start, .. } = self.directory;
        if position != start {
            oddities.push("the directory does not begin where the last entry ends".to_owned());
        }
        records.extend(end_records(count, start, records.len() as u64));
        if read_at(&mut self.input, start, self.length - start)? != records {
            oddities.push("the directory has unusual fields".to_owned());
        }
        Ok(oddities)
    }
}

/// Whether a local record says the same of an entry's data as the directory: programs that read from the
/// front know nothing else. What follows the data, or stands in a ZIP64 field, is not said here.
fn local_agrees(record: &[u8], entry: &Entry) -> bool {
    const FOLLOWS_DATA: u16 = 1 << 3;
    let far = u64::from(u32::MAX);
    let method = if entry.deflated { 8 } else { 0 };
    let follows = u16_at(record, 6) & FOLLOWS_DATA != 0;
    let agrees = |at: usize, value: u64| {
        let said = u64::from(u32_at(record, at));
        said == value || said == far || follows && said == 0
    };
    u16_at(record, 8) == method
        && (u32_at(record, 14) == entry.crc || follows && u32_at(record, 14) == 0)
        && agrees(18, entry.packed_size)
        && agrees(22, entry.size)
}

/// Unpacks at most one byte more than `size`.
fn inflate(packed: &[u8], size: u64) -> Result<Vec<u8>, String> {
    let mut content = Vec::new();
    let mut decoder = flate2::bufread::DeflateDecoder::new(packed);
    let read = decoder.by_ref().take(size + 1).read_to_end(&mut content);
    read.map_err(|error| format!("it cannot be unpacked ({error})"))?;
    if content.len() as u64 == size && decoder.total_in() != packed.len() as u64 {
        return Err("bytes follow its compressed data".to_owned());
    }
    Ok(content)
}

fn find_directory<R: Read + Seek>(input: &mut R, length: u64) -> Result<Directory, ContainerError> {
    let tail_size = length.min(END_RECORD + LONGEST_COMMENT);
    let tail_start = length - tail_size;
    let tail = read_at(input, tail_start, tail_size)?;
    let is_end = |&at: &usize| {
        let record = &tail[at..];
        record.starts_with(b"PK\x05\x06")
            && record.len() as u64 == END_RECORD + u64::from(u16_at(record, 20))
    };
    let last = tail.len().checked_sub(22).ok_or(ContainerError::NoEndRecord)?;
    let at = (0..=last).rev().find(is_end).ok_or(ContainerError::NoEndRecord)?;
    let record = &tail[at..];
    if (u16_at(record, 4), u16_at(record, 6)) != (0, 0) {
        return Err(ContainerError::Forbidden("several volumes"));
    }
    let mut end_of_directory = tail_start + at as u64;
    let mut directory = Directory {
        count: u64::from(u16_at(record, 10)),
        size: u64::from(u32_at(record, 12)),
        start: u64::from(u32_at(record, 16)),
    };
    let mut count_here = u64::from(u16_at(record, 8));
    if let Some(locator_at) = end_of_directory.checked_sub(ZIP64_LOCATOR) {
        let locator = read_at(input, locator_at, ZIP64_LOCATOR)?;
        if locator.len() as u64 == ZIP64_LOCATOR && locator.starts_with(b"PK\x06\x07") {
            let record_at = u64_at(&locator, 8);
            let record = read_at(input, record_at, ZIP64_END_RECORD)?;
            if record.len() as u64 != ZIP64_END_RECORD || !record.starts_with(b"PK\x06\x06") {
                return Err(ContainerError::Directory("no ZIP64 record where its locator says"));
            }
            if u64_at(&record, 16) != 0 || u32_at(&locator, 4) != 0 || u32_at(&locator, 16) > 1 {
                return Err(ContainerError::Forbidden("several volumes"));
            }
            count_here = u64_at(&record, 24);
            directory = Directory {
                count: u64_at(&record, 32),
                size: u64_at(&record, 40),
                start: u64_at(&record, 48),
            };
            end_of_directory = record_at;
        }
    }
    if directory.start.checked_add(directory.size) != Some(end_of_directory)
        || directory.count != count_here
    {
        return Err(ContainerError::Directory("its place, size or count is wrong"));
    }
    Ok(directory)
}

fn parse_directory(bytes: &[u8], directory: Directory) -> Result<Vec<Entry>, ContainerError> {
    let mut entries = Vec::new(); // not sized in advance: the count is not to be trusted
    let mut rest = bytes;
    for _ in 0..directory.count {
        let (entry, size) = parse_entry(rest)?;
        if entry.offset.saturating_add(LOCAL_RECORD).saturating_add(entry.packed_size)
            > directory.start
        {
            return Err(ContainerError::Directory("an entry reaches into the directory"));
        }
        entries.push(entry);
        rest = &rest[size..];
    }
    if rest.is_empty() {
        Ok(entries)
    } else {
        Err(ContainerError::Directory("it holds more than its count says"))
    }
}

/// The entry at the start of `bytes`, and the size of its record.
fn parse_entry(bytes: &[u8]) -> Result<(Entry, usize), ContainerError> {
    const CUT: ContainerError = ContainerError::Directory("it is cut short");
    let record = bytes.get(..CENTRAL_RECORD).ok_or(CUT)?;
    if !record.starts_with(b"PK\x01\x02") {
        return Err(ContainerError::Directory("an entry's record is missing"));
    }
    let flags = u16_at(record, 8);
    if flags & ((1 << 0) | (1 << 6) | (1 << 13)) != 0 {
        return Err(ContainerError::Forbidden("an encrypted entry"));
    }
    if flags & (1 << 5) != 0 {
        return Err(ContainerError::Forbidden("patch data"));
    }
    if u16_at(record, 6) & 0xFF > 45 {
        return Err(ContainerError::Forbidden("an entry of a ZIP version above 4.5"));
    }
    let deflated = match u16_at(record, 10) {
        0 => false,
        8 => true,
        _ => return Err(ContainerError::Forbidden("a compression method other than deflate")),
    };
    let [name_size, extra_size, comment_size] =
        [28, 30, 32].map(|at| usize::from(u16_at(record, at)));
    let size = CENTRAL_RECORD + name_size + extra_size + comment_size;
    let strings = bytes.get(CENTRAL_RECORD..size).ok_or(CUT)?;
    let (name, rest) = strings.split_at(name_size);
    let name = std::str::from_utf8(name)
        .map_err(|_| ContainerError::Forbidden("an entry's name that is not UTF-8"))?;
    if !name.is_ascii() && flags & (1 << 11) == 0 {
        return Err(ContainerError::Forbidden("an entry's name that is not UTF-8"));
    }
    let mut volume = u32::from(u16_at(record, 34));
    let mut entry = Entry {
        name: name.to_owned(),
        deflated,
        crc: u32_at(record, 16),
        size: u64::from(u32_at(record, 24)),
        packed_size: u64::from(u32_at(record, 20)),
        offset: u64::from(u32_at(record, 42)),
    };
    read_zip64(&rest[..extra_size], &mut entry, &mut volume)?;
    if volume != 0 {
        return Err(ContainerError::Forbidden("several volumes"));
    }
    Ok((entry, size))
}

/// Takes what did not fit 32 bits from the ZIP64 extra field.
fn read_zip64(mut extra: &[u8], entry: &mut Entry, volume: &mut u32) -> Result<(), ContainerError> {
    const SHORT: ContainerError = ContainerError::Directory("an extra field is cut short");
    let far = u64::from(u32::MAX);
    while !extra.is_empty() {
        if extra.len() < 4 {
            return Err(SHORT);
        }
        let (id, size) = (u16_at(extra, 0), usize::from(u16_at(extra, 2)));
        let mut field = extra.get(4..4 + size).ok_or(SHORT)?;
        extra = &extra[4 + size..];
        if id != 1 {
            continue;
        }
        for value in [&mut entry.size, &mut entry.packed_size, &mut entry.offset] {
            if *value == far {
                let (first, rest) = field.split_at_checked(8).ok_or(SHORT)?;
                *value = u64_at(first, 0);
                field = rest;
            }
        }
        if *volume == u32::from(u16::MAX) {
            *volume = u32_at(field.get(..4).ok_or(SHORT)?, 0);
        }
    }
    Ok(())
}

/// Up to `size` bytes from `position`; fewer where the file ends.
fn read_at<R: Read + Seek>(input: &mut R, position: u64, size: u64) -> io::Result<Vec<u8>> {
    input.seek(SeekFrom::Start(position))?;
    let mut bytes = Vec::new(); // grows with what is there, whatever `size` claims
    input.by_ref().take(size).read_to_end(&mut bytes)?;
    Ok(bytes)
}
