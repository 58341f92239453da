//! The ZIP container of a vector file: a private, strict subset of ISO/IEC 21320-1.
//!
//! Written here rather than through the `zip` crate so that every byte of the container is laid
//! down by SPEC.md, not by a library's version, and so that a check can compare all of them.
//! The crate and Python's `zipfile` are the outside check in the tests.

mod archive;
mod records;

pub(crate) use archive::Archive;
pub use archive::ContainerError;
pub(crate) use records::{Entry, end_records};

use std::io::{self, Write};

/// An entry's content, compressed and ready to be written; made on any thread.
#[derive(Clone, Debug)]
pub(crate) struct Packed {
    entry: Entry,
    data: Vec<u8>,
}

impl Packed {
    /// Compresses `content`; stores it as it is where that is not smaller.
    pub(crate) fn new(name: String, content: &[u8]) -> io::Result<Self> {
        // The fastest level: on layers the others save 1 to 2 % and take longer.
        let level = flate2::Compression::fast();
        let mut encoder = flate2::write::DeflateEncoder::new(Vec::new(), level);
        encoder.write_all(content)?;
        let mut data = encoder.finish()?;
        let deflated = data.len() < content.len();
        if !deflated {
            data = content.to_vec();
        }
        let crc = crc32fast::hash(content);
        let (size, packed_size) = (content.len() as u64, data.len() as u64);
        Ok(Self { entry: Entry { name, deflated, crc, size, packed_size, offset: 0 }, data })
    }
}

/// Writes entries one after the other, then the directory. Needs no seeking.
#[derive(Debug)]
pub(crate) struct ArchiveWriter<W> {
    out: W,
    position: u64,
    entries: Vec<Entry>,
}

impl<W: Write> ArchiveWriter<W> {
    /// An archive that begins at the current end of `out`.
    pub(crate) fn new(out: W) -> Self {
        Self::at(out, 0)
    }

    fn at(out: W, position: u64) -> Self {
        Self { out, position, entries: Vec::new() }
    }

    pub(crate) fn push(&mut self, packed: Packed) -> io::Result<()> {
        let entry = Entry { offset: self.position, ..packed.entry };
        let head = entry.local_record();
        self.out.write_all(&head)?;
        self.out.write_all(&packed.data)?;
        self.position += head.len() as u64 + entry.packed_size;
        self.entries.push(entry);
        Ok(())
    }

    pub(crate) fn finish(mut self) -> io::Result<W> {
        let start = self.position;
        for entry in &self.entries {
            let record = entry.central_record();
            self.out.write_all(&record)?;
            self.position += record.len() as u64;
        }
        let count = self.entries.len() as u64;
        self.out.write_all(&end_records(count, start, self.position - start))?;
        self.out.flush()?;
        Ok(self.out)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::File;
    use std::io::{Cursor, Read, Seek, SeekFrom};
    use std::process::Command;

    fn archive(contents: &[(&str, &[u8])]) -> Vec<u8> {
        let mut writer = ArchiveWriter::new(Vec::new());
        for (name, content) in contents {
            writer.push(Packed::new((*name).to_owned(), content).unwrap()).unwrap();
        }
        writer.finish().unwrap()
    }

    /// Outside source: the `zip` crate reads what we write, and we read what it writes.
    #[test]
    fn the_zip_crate_agrees() {
        let contents: [(&str, &[u8]); 3] = [("a.bin", b""), ("b", &[7; 5000]), ("c", b"xyz")];
        let ours = archive(&contents);
        let mut theirs = zip::ZipArchive::new(Cursor::new(&ours)).unwrap();
        assert_eq!(theirs.len(), 3);
        for (i, (name, content)) in contents.into_iter().enumerate() {
            let mut entry = theirs.by_index(i).unwrap();
            let mut read = Vec::new();
            entry.read_to_end(&mut read).unwrap();
            assert_eq!((entry.name().unwrap().as_ref(), &read[..]), (name, content));
        }
        let mut archive = Archive::open(Cursor::new(&ours)).unwrap();
        assert_eq!(archive.oddities().unwrap(), Vec::<String>::new());
        for (name, content) in contents {
            assert_eq!(archive.read(name, 9000).unwrap(), content);
        }

        let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for (name, content) in contents {
            writer.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
            writer.write_all(content).unwrap();
        }
        let theirs = writer.finish().unwrap();
        let mut archive = Archive::open(theirs).unwrap();
        for (name, content) in contents {
            assert_eq!(archive.read(name, 9000).unwrap(), content);
        }
        assert!(!archive.oddities().unwrap().is_empty()); // times, attributes
    }

    /// Outside source: Python's `zipfile` and the `zip` crate read ZIP64 directories.
    #[test]
    fn many_entries_and_far_offsets_use_zip64() {
        let mut writer = ArchiveWriter::new(Vec::new());
        for i in 0..70_000 {
            writer.push(Packed::new(format!("{i}"), b"hello").unwrap()).unwrap();
        }
        let many = writer.finish().unwrap();
        let mut archive = Archive::open(Cursor::new(&many)).unwrap();
        assert_eq!(archive.entries().len(), 70_000);
        assert_eq!(archive.read("69999", 10).unwrap(), b"hello");
        assert_eq!(archive.oddities().unwrap(), Vec::<String>::new());
        assert_eq!(zip::ZipArchive::new(Cursor::new(&many)).unwrap().len(), 70_000);

        // A sparse file: takes no room on disk.
        let file = tempfile::NamedTempFile::new().unwrap();
        let start = (5 << 30) + 17;
        let mut out = file.reopen().unwrap();
        out.seek(SeekFrom::Start(start)).unwrap();
        let mut writer = ArchiveWriter::at(out, start);
        writer.push(Packed::new("far".to_owned(), &[9; 300]).unwrap()).unwrap();
        writer.finish().unwrap();
        let mut archive = Archive::open(File::open(file.path()).unwrap()).unwrap();
        assert_eq!(archive.read("far", 300).unwrap(), [9; 300]);
        let script = "import sys, zipfile; print(zipfile.ZipFile(sys.argv[1]).read('far').hex())";
        let output = Command::new("python3").args(["-c", script]).arg(file.path()).output();
        let output = output.expect("the tests need python3 on the path");
        assert_eq!(String::from_utf8_lossy(&output.stdout).trim(), "09".repeat(300));
    }

    #[test]
    fn what_the_profile_forbids_is_refused_in_words() {
        let good = archive(&[("a", &[7; 500]), ("b", b"xyz")]);
        let find = |signature: &[u8]| good.windows(4).rposition(|w| w == signature).unwrap();
        let directory = good.windows(4).position(|w| w == b"PK\x01\x02").unwrap();
        let end = find(b"PK\x05\x06");
        for (at, value, word) in [
            (directory + 10, 99, "compression method"),
            (directory + 8, 1, "encrypted"),
            (directory + 6, 63, "version"),
            (directory + 34, 1, "several volumes"),
            (end + 4, 1, "several volumes"),
            (end + 10, 9, "directory"),
            (end + 16, 0xFF, "directory"),
            (directory, 0, "directory"),
            (directory + 46, b'b', "twice"),
        ] {
            let mut bad = good.clone();
            bad[at] = value;
            let error = Archive::open(Cursor::new(bad)).unwrap_err().to_string();
            assert!(error.contains(word), "byte {at}: {error}");
        }
        let cut = Archive::open(Cursor::new(&good[..good.len() - 1])).unwrap_err();
        assert!(cut.to_string().contains("cut short"), "{cut}");
    }

    #[test]
    fn contents_that_differ_from_their_records_are_refused() {
        let good = archive(&[("a", &[7; 500])]);
        let read = |bytes: Vec<u8>, most| {
            Archive::open(Cursor::new(bytes)).unwrap().read("a", most).unwrap_err().to_string()
        };
        assert!(read(good.clone(), 499).contains("at most 499"));
        let directory = good.windows(4).position(|w| w == b"PK\x01\x02").unwrap();
        // In both records alike, or the one contradicts the other: two bytes further on in the directory.
        for (at, word) in [(16, "CRC-32"), (24, "unpacks to"), (25, "unpacks to")] {
            let mut bad = good.clone();
            bad[directory + at] ^= 1;
            bad[at - 2] ^= 1;
            let error = read(bad, 9000);
            assert!(error.contains(word), "byte {at}: {error}");
        }
        // In the local record: method, CRC-32, both sizes.
        for at in [8, 14, 18, 22] {
            let mut bad = good.clone();
            bad[at] ^= 1;
            let error = read(bad, 9000);
            assert!(error.contains("contradicts"), "byte {at}: {error}");
        }
        assert!(read(good, 0).contains("at most 0"));
    }
}
