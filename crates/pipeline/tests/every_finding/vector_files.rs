//! Vector files that are damaged in one way each, as the file alone shows.

use crate::jobs::standing;
use crate::repack::repack;
use crate::solids::cuboid;
use crate::{Provoked, found};
use base::{Kind, Progress};
use pipeline::write_vector_file;
use scan_path::{VectorReader, check_file};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::io::Cursor;

type Entries = Vec<(String, Vec<u8>)>;

/// The file of a small block: three layers.
fn file() -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("block.hwv");
    let build = standing(&cuboid([0.0; 3], [6.0, 6.0, 0.3]));
    write_vector_file(&build, &path, &Progress::default()).unwrap();
    std::fs::read(path).unwrap()
}

fn check(file: &[u8]) -> Provoked {
    let mut reader = VectorReader::open(Cursor::new(file)).unwrap();
    found(check_file(&mut reader, &Progress::default()).unwrap())
}

/// The file with other entries. Another packer lays bytes down otherwise.
fn repacked(change: impl FnOnce(&mut Entries)) -> Provoked {
    check(&repack(&file(), change)).along(&[Kind::ContainerBytes])
}

fn edit(entries: &mut Entries, change: impl FnOnce(&mut Value)) {
    let text = &mut entries.last_mut().unwrap().1;
    let mut manifest: Value = serde_json::from_slice(text).unwrap();
    change(&mut manifest);
    *text = manifest.to_string().into_bytes();
}

/// With another manifest.
fn edited(change: impl FnOnce(&mut Value)) -> Provoked {
    repacked(|entries| edit(entries, change))
}

fn add_one(value: &mut Value) {
    *value = json!(value.as_u64().unwrap() + 1);
}

pub(crate) fn container_bytes() -> Provoked {
    repacked(|_| {})
}

pub(crate) fn entries() -> Provoked {
    repacked(|entries| entries.insert(0, ("note.txt".to_owned(), b"?".to_vec())))
}

pub(crate) fn header() -> Provoked {
    edited(|manifest| manifest["header"]["exposures"][0]["power_w"] = json!(-1.0))
}

pub(crate) fn layer_count() -> Provoked {
    edited(|manifest| add_one(&mut manifest["header"]["layer_count"]))
}

/// A bit of the first layer's compressed bytes, behind its local record.
pub(crate) fn container() -> Provoked {
    let mut file = file();
    file[30 + "layers/000000.bin".len() + 8] ^= 0x10;
    check(&file)
}

pub(crate) fn layer_missing() -> Provoked {
    repacked(|entries| drop(entries.remove(1))).along(&[Kind::Entries])
}

pub(crate) fn layer_checksum() -> Provoked {
    repacked(|entries| *entries[1].1.last_mut().unwrap() ^= 1)
}

/// Blocks refer to placements that the table lacks.
pub(crate) fn layer_malformed() -> Provoked {
    edited(|manifest| manifest["header"]["placements"] = json!([]))
}

/// Two layers change places with all that the manifest says of them, checksums included.
pub(crate) fn layer_swapped() -> Provoked {
    repacked(|entries| {
        let first = std::mem::take(&mut entries[0].1);
        entries[0].1 = std::mem::replace(&mut entries[1].1, first);
        edit(entries, |manifest| {
            let rows = manifest["layers"].as_array_mut().unwrap();
            rows.swap(0, 1);
            let name = rows[0]["entry"].take();
            rows[0]["entry"] = rows[1]["entry"].take();
            rows[1]["entry"] = name;
            let mut all = Sha256::new();
            for row in rows {
                all.update(row["sha256"].as_str().unwrap());
            }
            let digits = all.finalize().into_iter().flat_map(|byte| [byte >> 4, byte & 15]);
            let hex = digits.map(|digit| char::from(b"0123456789abcdef"[usize::from(digit)]));
            manifest["totals"]["sha256"] = json!(hex.collect::<String>());
        });
    })
}

pub(crate) fn layer_row() -> Provoked {
    edited(|manifest| {
        add_one(&mut manifest["layers"][1]["marks"]);
        add_one(&mut manifest["totals"]["marks"]);
    })
}

pub(crate) fn outside() -> Provoked {
    edited(|manifest| manifest["header"]["build_space_mm"] = json!([4.0, 4.0, 250.0]))
}

pub(crate) fn totals() -> Provoked {
    edited(|manifest| add_one(&mut manifest["totals"]["marks"]))
}
