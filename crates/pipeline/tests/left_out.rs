//! Builds that go on after they were broken off, and placements that are given up: from the layers to the proof.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::Progress;
use pipeline::{Build, load, verify_against};
use scan_path::{Header, Layer, LeftOut, VectorWriter, encode_layer};
use std::path::Path;

/// A block of 4 × 3 × 1 mm.
const BLOCK: &str = "v 0 0 0\nv 4 0 0\nv 4 3 0\nv 0 3 0\nv 0 0 1\nv 4 0 1\nv 4 3 1\nv 0 3 1\n\
    f 1 4 3\nf 1 3 2\nf 5 6 7\nf 5 7 8\nf 1 2 6\nf 1 6 5\nf 2 3 7\nf 2 7 6\nf 3 4 8\nf 3 8 7\n\
    f 4 1 5\nf 4 5 8\n";

fn build(folder: &Path) -> Build {
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets").canonicalize().unwrap();
    let assets = assets.display().to_string().replace('\\', "/");
    let job = format!(
        r#"(version: 3, name: "three", machine: "{assets}/machines/bench_co2_30w.ron",
        recipe: "{assets}/recipes/pa12_fine.ron", parts: [
            (name: "block", mesh: "block.obj", placements: [
                (location_mm: (0, 0, 1)), (location_mm: (20, 0, 1)), (location_mm: (40, 0, 1)),
            ]),
        ])"#
    );
    std::fs::write(folder.join("block.obj"), BLOCK).unwrap();
    std::fs::write(folder.join("job.ron"), job).unwrap();
    let loaded = load(&folder.join("job.ron"), &Progress::default()).unwrap();
    Build::new(loaded, &Progress::default()).unwrap()
}

fn layers(build: &Build) -> Vec<Layer> {
    let layer = |k| build.layer(k, &Progress::default()).unwrap().layer;
    (0..build.layer_count()).map(layer).collect()
}

fn is_verified(build: &Build, header: &Header, layers: &[Layer]) -> bool {
    let mut writer = VectorWriter::new(Vec::new(), header.clone()).unwrap();
    for layer in layers {
        writer.push(encode_layer(layer, header).unwrap()).unwrap();
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("three.hwv");
    std::fs::write(&path, writer.finish().unwrap().1).unwrap();
    verify_against(&path, build, &Progress::default()).unwrap().is_verified()
}

#[test]
fn what_is_left_out_on_purpose_is_proven_to_be_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let whole = build(folder.path());
    let all = layers(&whole);
    let k = all.len() / 2 + 2;
    let mut part = build(folder.path());
    let row = part.row_named("block 2 of 3").unwrap();
    let from_layer = u32::try_from(k).unwrap();
    part.leave_out(LeftOut { placement: None, from_layer: 0, below_layer: Some(from_layer) });
    part.leave_out(LeftOut { placement: Some(row), from_layer, below_layer: None });
    let mut some = layers(&part);
    assert!(some[..k].iter().all(|layer| layer.blocks.is_empty()));
    assert!(all[..k].iter().any(|layer| !layer.blocks.is_empty()));
    let of = |layer: &Layer, row: u32| layer.blocks.iter().filter(|b| b.placement == row).count();
    assert!(some.iter().all(|layer| of(layer, row) == 0));
    assert!(of(&all[k], row) > 0 && of(&some[k], 0) == of(&all[k], 0));
    // the job as it is proves the file that says what it leaves out, and no other
    assert!(is_verified(&whole, &whole.header, &all));
    assert!(is_verified(&whole, &part.header, &some));
    assert!(!is_verified(&whole, &whole.header, &some), "left out without a word");
    assert!(!is_verified(&whole, &part.header, &all), "there, though said to be left out");
    let first = some[k].blocks.remove(0);
    assert!(!is_verified(&whole, &part.header, &some), "more is missing than is said");
    some[k].blocks.insert(0, first);
    let exposed = all.iter().position(|layer| !layer.blocks.is_empty()).unwrap();
    some[exposed] = all[exposed].clone();
    assert!(!is_verified(&whole, &part.header, &some), "a layer from before is repeated");
    assert_eq!(
        part.header.left_out_words(),
        [
            format!("everything is left out of the layers below {k}"),
            format!("block 2 of 3 is left out of the layers from {k} on"),
        ]
    );
}
