//! Other packers of the container, for tests here and in `pipeline`, which takes this file in by its path.

use std::io::{Cursor, Read, Write};
use zip::write::SimpleFileOptions;

/// Unpacks a file, lets `change` loose on its entries, and packs it again.
pub(crate) fn repack(file: &[u8], change: impl FnOnce(&mut Vec<(String, Vec<u8>)>)) -> Vec<u8> {
    let mut archive = zip::ZipArchive::new(Cursor::new(file)).unwrap();
    let mut entries = Vec::new();
    for i in 0..archive.len() {
        let mut entry = archive.by_index(i).unwrap();
        let mut content = Vec::new();
        entry.read_to_end(&mut content).unwrap();
        entries.push((entry.name().unwrap().into_owned(), content));
    }
    change(&mut entries);
    let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in entries {
        writer.start_file(name, SimpleFileOptions::default()).unwrap();
        writer.write_all(&content).unwrap();
    }
    writer.finish().unwrap().into_inner()
}
