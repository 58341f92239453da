//! Planted faults: each must be found, none may panic or change content silently.

use crate::outside_reader::python_reads;
use crate::repack::repack;
use crate::samples::{file_of, header, small_file, small_layer};
use base::{Finding, Progress, Severity};
use proptest::prelude::*;
use scan_path::{Layer, ReadError, VectorReader, check_file, encode_layer};
use std::io::Cursor;

/// Replaces text in the manifest; it must occur.
fn edit_manifest(file: &[u8], from: &str, to: &str) -> Vec<u8> {
    repack(file, |entries| {
        let manifest = &mut entries.last_mut().unwrap().1;
        let text = String::from_utf8(manifest.clone()).unwrap();
        assert!(text.contains(from), "{from}");
        *manifest = text.replace(from, to).into_bytes();
    })
}

fn check(file: &[u8]) -> Result<Vec<Finding>, ReadError> {
    let mut reader = VectorReader::open(Cursor::new(file))?;
    Ok(check_file(&mut reader, &Progress::default()).unwrap())
}

/// Kinds of the findings that forbid running the file.
#[track_caller]
fn stops(file: &[u8]) -> Vec<&'static str> {
    let findings = check(file).unwrap().into_iter();
    let stops = findings.filter(|finding| finding.severity() == Severity::Stop);
    stops.map(|finding| finding.kind().as_str()).collect()
}

/// The row of a layer's index, as in the manifest's text.
fn row(header: &scan_path::Header, layer: &Layer) -> String {
    serde_json::to_string(encode_layer(layer, header).unwrap().row()).unwrap()
}

#[test]
fn a_repacked_file_reads_the_same_but_is_not_untouched() {
    let (_, layers, file) = small_file();
    let repacked = repack(&file, |_| ());
    assert_eq!(stops(&repacked), Vec::<&str>::new());
    let findings = check(&repacked).unwrap();
    assert_eq!(findings.len(), 1);
    assert_eq!(findings[0].kind().as_str(), "container_bytes");
    let mut reader = VectorReader::open(Cursor::new(repacked)).unwrap();
    assert_eq!(reader.layer(2).unwrap(), layers[2]);
}

#[test]
fn a_moved_vector_is_found() {
    let (header, layers, file) = small_file();
    let refused = |file: &[u8]| !python_reads(file)["refused"].is_null();
    let moved = repack(&file, |entries| {
        let at = entries[2].1.len() - 40; // somewhere in the last block's coordinates
        entries[2].1[at] ^= 1;
    });
    assert_eq!(stops(&moved), ["layer_checksum"]);
    assert!(refused(&moved));

    // Moved by someone who recalculates the checksum, but not the lengths.
    let mut layer = layers[2].clone();
    let scan_path::Paths::Polylines { points, .. } = &mut layer.blocks[2].paths else { panic!() };
    points[1].x += 1000;
    let moved = with_layer_2(&header, &layers, &file, &layer);
    assert_eq!(stops(&moved), ["layer_row", "totals"]);
    assert!(!refused(&moved), "meant to be readable");
}

#[test]
fn a_dropped_vector_is_found() {
    let (header, layers, file) = small_file();
    let mut layer = layers[2].clone();
    let scan_path::Paths::Segments(segments) = &mut layer.blocks[1].paths else { panic!() };
    segments.remove(1);
    let other = file_of(&header, &[layers[0].clone(), layers[1].clone(), layer.clone()]);
    let mut dropped = Vec::new();
    repack(&other, |entries| dropped.clone_from(&entries[2].1));
    let dropped = repack(&file, |entries| entries[2].1 = dropped);
    assert_eq!(stops(&dropped), ["layer_checksum"]);
    assert_eq!(stops(&with_layer_2(&header, &layers, &file, &layer)), ["layer_row", "totals"]);
}

/// The file with another layer 2, its size and checksum right, but the old counts and totals.
fn with_layer_2(
    header: &scan_path::Header,
    layers: &[Layer],
    file: &[u8],
    layer: &Layer,
) -> Vec<u8> {
    let other = file_of(header, &[layers[0].clone(), layers[1].clone(), layer.clone()]);
    let mut bytes = Vec::new();
    repack(&other, |entries| bytes.clone_from(&entries[2].1));
    let old = encode_layer(&layers[2], header).unwrap();
    let new = encode_layer(layer, header).unwrap();
    let mut row = old.row().clone();
    row.bytes = new.row().bytes;
    row.sha256.clone_from(&new.row().sha256);
    let from = serde_json::to_string(old.row()).unwrap();
    let file = edit_manifest(file, &from, &serde_json::to_string(&row).unwrap());
    repack(&file, |entries| entries[2].1 = bytes)
}

#[test]
fn swapped_layers_are_found() {
    let header = header(2);
    let layers = [small_layer(0), small_layer(1)];
    let file = file_of(&header, &layers);
    let swapped = repack(&file, |entries| {
        let content = entries[0].1.clone();
        entries[0].1 = std::mem::replace(&mut entries[1].1, content);
    });
    assert_eq!(stops(&swapped), ["layer_checksum", "layer_checksum"]);
    assert!(!python_reads(&swapped)["refused"].is_null());

    // With their checksums: the layers' own numbers give them away, and the totals' checksum.
    let [row_0, row_1] = [0, 1].map(|k| row(&header, &layers[k]));
    let (sha_0, sha_1) = (&row_0[50..140], &row_1[50..140]);
    let (sha_0, sha_1) = (sha_of(sha_0), sha_of(sha_1));
    let swapped = edit_manifest(&swapped, sha_0, "first");
    let swapped = edit_manifest(&swapped, sha_1, sha_0);
    let swapped = edit_manifest(&swapped, "first", sha_1);
    assert_eq!(stops(&swapped), ["layer_swapped", "layer_swapped", "totals"]);

    let names = repack(&file, |entries| entries.swap(0, 1));
    assert_eq!(stops(&names), ["entries"]);
}

fn sha_of(text: &str) -> &str {
    let hex = |part: &&str| part.len() == 64 && part.bytes().all(|b| b.is_ascii_hexdigit());
    text.split('"').find(hex).unwrap()
}

#[test]
fn missing_and_added_entries_are_found() {
    let (_, _, file) = small_file();
    let missing = repack(&file, |entries| drop(entries.remove(1)));
    assert_eq!(stops(&missing), ["entries", "layer_missing"]);
    assert!(!python_reads(&missing)["refused"].is_null());
    let added =
        |name: &str| repack(&file, |entries| entries.insert(0, (name.to_owned(), b"?".to_vec())));
    assert_eq!(stops(&added("layers/000003.bin")), ["entries"]);
    assert_eq!(stops(&added("note.txt")), ["entries"]);
    assert_eq!(stops(&added("x_note.txt")), Vec::<&str>::new()); // left to anyone
    let no_manifest = repack(&file, |entries| drop(entries.pop()));
    assert!(check(&no_manifest).unwrap_err().to_string().contains("manifest.json"));
}

#[test]
fn faults_in_the_manifest_are_found() {
    let (_, _, file) = small_file();
    for (from, to, kind) in [
        ("\"power_w\": 21.5", "\"power_w\": -21.5", "header"),
        ("\"speed_mm_s\": 3000.0", "\"speed_mm_s\": 0", "header"),
        ("\"layer_count\": 3", "\"layer_count\": 4", "layer_count"),
        ("\"layers\":3", "\"layers\":4", "totals"),
        ("layers/000001", "layers/000002", "layer_row"),
        ("    250.0,", "    88.0,", "vector_outside_build_space"),
    ] {
        let found = stops(&edit_manifest(&file, from, to));
        assert!(found.contains(&kind), "{from} to {to}: {found:?}");
    }
}

#[test]
fn later_versions_and_features_are_refused_in_words_and_private_keys_ignored() {
    let (header, _, file) = small_file();
    let error =
        |from: &str, to: &str| check(&edit_manifest(&file, from, to)).unwrap_err().to_string();
    let version = error("\"format_version\": 2", "\"format_version\": 3");
    assert!(version.contains("format version 3"), "{version}");
    // The version is looked at first: the rest may have changed beyond recognition.
    let shape = edit_manifest(&file, "\"header\"", "\"head\"");
    let version = edit_manifest(&shape, "\"format_version\": 2", "\"format_version\": 3");
    assert!(check(&version).unwrap_err().to_string().contains("format version 3"));
    let features = error("\"requires\": []", "\"requires\": [\"arcs\", \"x_ovens\"]");
    assert!(features.contains("arcs, x_ovens"), "{features}");
    let other = error("hatchwright vectors", "something else");
    assert!(other.contains("something else"), "{other}");
    for bad in ["1e999", "-1", "\"1\"", "null"] {
        let error = error("\"layer_thickness_mm\": 0.1", &format!("\"layer_count\": {bad}"));
        assert!(error.contains("manifest"), "{error}");
    }
    let extended = edit_manifest(&file, "\"requires\"", "\"x_oven\": {\"t\": 3}, \"requires\"");
    let extended = edit_manifest(&extended, "\"power_w\"", "\"x_colour\": \"red\", \"power_w\"");
    let extended = edit_manifest(&extended, "\"entry\"", "\"later\": [1], \"entry\"");
    assert_eq!(stops(&extended), Vec::<&str>::new());
    assert_eq!(VectorReader::open(Cursor::new(extended)).unwrap().header(), &header);
}

/// Version 1 had other names for three keys of the header and none for the copy, see SPEC.md.
#[test]
fn a_file_of_the_first_version_is_read_and_its_copies_are_unknown() {
    let (mut header, layers, file) = small_file();
    header.placements.iter_mut().for_each(|row| row.copy = None);
    let older = file_of(&header, &layers);
    let mut older = edit_manifest(&older, "\"format_version\": 2", "\"format_version\": 1");
    for (new, name) in [
        ("rotation_deg", "turns_deg"),
        ("path_run_in_mm", "run_in_mm"),
        ("path_run_out_mm", "run_out_mm"),
    ] {
        older = edit_manifest(&older, &format!("\"{new}\""), &format!("\"{name}\""));
    }
    assert_eq!(stops(&older), Vec::<&str>::new());
    let mut reader = VectorReader::open(Cursor::new(&older)).unwrap();
    assert_eq!((reader.format_version(), reader.header()), (1, &header));
    assert_eq!(reader.layer(2).unwrap(), layers[2]);
    assert!(python_reads(&older)["refused"].is_null());
    let newer = VectorReader::open(Cursor::new(file)).unwrap();
    assert_eq!((newer.format_version(), newer.header().placements[1].copy), (2, Some(2)));
}

/// What a change to a file leads to must be an error, a finding, or the same content: a deflate
/// stream has a few bits that nobody reads.
#[track_caller]
fn assert_not_silently_different(original: &[u8], changed: &[u8], what: &str) {
    let Ok(findings) = check(changed) else { return };
    if findings.is_empty() {
        let mut a = VectorReader::open(Cursor::new(original)).unwrap();
        let mut b = VectorReader::open(Cursor::new(changed)).unwrap();
        assert_eq!(a.header(), b.header(), "{what}");
        assert_eq!((a.index(), a.totals()), (b.index(), b.totals()), "{what}");
        for k in 0..a.header().layer_count {
            assert_eq!(a.layer(k).unwrap(), b.layer(k).unwrap(), "{what}, layer {k}");
        }
    }
}

#[test]
fn every_flipped_byte_of_a_small_file_is_found_or_changes_nothing() {
    let (_, _, file) = small_file();
    let mut unfound = Vec::new();
    for at in 0..file.len() {
        for mask in [0x01, 0x80, 0xFF] {
            let mut flipped = file.clone();
            flipped[at] ^= mask;
            assert_not_silently_different(&file, &flipped, &format!("byte {at}"));
            if check(&flipped).is_ok_and(|findings| findings.is_empty()) {
                unfound.push((at, mask));
            }
        }
    }
    // Bits that decide nothing: behind the end of a deflate stream, and lengths of codes that no symbol
    // of it uses. That the content is the same is asserted above, flip by flip; these must be few.
    let few = file.len() * 3 / 200;
    assert!(unfound.len() <= few, "flips that were not found: {unfound:?}");
}

#[test]
fn every_cut_of_a_small_file_is_refused() {
    let (_, _, file) = small_file();
    for length in 0..file.len() {
        assert!(check(&file[..length]).is_err(), "cut to {length}");
    }
    let mut longer = file;
    longer.extend(b"trailing");
    assert!(check(&longer).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn scrambled_files_never_panic_nor_pass(
        edits in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
        cut in any::<prop::sample::Index>(),
        moved in any::<prop::sample::Index>(),
    ) {
        let (_, _, file) = small_file();
        let mut scrambled = file.clone();
        for (at, value) in edits {
            *at.get_mut(&mut scrambled) = value;
        }
        assert_not_silently_different(&file, &scrambled, "scrambled");
        let (cut, moved) = (cut.index(file.len()), moved.index(file.len()));
        scrambled.copy_within(cut.min(moved)..cut.max(moved), 0);
        assert_not_silently_different(&file, &scrambled, "moved about");
    }

    /// Valid container, checksums right, but a layer of random bytes.
    #[test]
    fn random_layers_never_panic(noise in prop::collection::vec(any::<u8>(), 0..200), keep in 0..60_usize) {
        let (header, layers, file) = small_file();
        let mut layer = Vec::new();
        repack(&file, |entries| layer.clone_from(&entries[2].1));
        layer.truncate(keep);
        layer.extend(noise);
        let old = encode_layer(&layers[2], &header).unwrap();
        let mut row = old.row().clone();
        row.bytes = layer.len() as u64;
        row.sha256 = sha256(&layer);
        let from = serde_json::to_string(old.row()).unwrap();
        let file = edit_manifest(&file, &from, &serde_json::to_string(&row).unwrap());
        let file = repack(&file, |entries| entries[2].1 = layer);
        prop_assert!(!stops(&file).is_empty());
    }
}

fn sha256(bytes: &[u8]) -> String {
    use sha2::Digest;
    let digits = sha2::Sha256::digest(bytes).into_iter().flat_map(|byte| [byte >> 4, byte & 15]);
    digits.map(|digit| char::from(b"0123456789abcdef"[usize::from(digit)])).collect()
}

#[test]
fn counts_that_promise_more_than_there_is_do_not_make_the_reader_allocate() {
    let (header, layers, file) = small_file();
    // Block count, then path and point counts of the first block.
    for at in [8, 16 + 12, 16 + 16] {
        let mut layer = Vec::new();
        repack(&file, |entries| layer.clone_from(&entries[2].1));
        layer[at..at + 4].copy_from_slice(&u32::MAX.to_le_bytes());
        let old = encode_layer(&layers[2], &header).unwrap();
        let changed = edit_manifest(&file, &old.row().sha256, &sha256(&layer));
        let changed = repack(&changed, |entries| entries[2].1 = layer);
        assert!(stops(&changed).contains(&"layer_malformed"), "count at {at}");
    }
}

#[test]
fn cancelling_stops_the_check() {
    let (_, _, file) = small_file();
    let progress = Progress::default();
    progress.cancel();
    let mut reader = VectorReader::open(Cursor::new(file)).unwrap();
    let error = check_file(&mut reader, &progress).unwrap_err();
    assert!(matches!(error, scan_path::CheckError::Cancelled(_)));
}
