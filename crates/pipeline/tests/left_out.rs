//! Builds that go on after they were broken off, and placements that are given up: from the layers to the proof.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

mod blocks;

use blocks::{is_verified, layers};
use pipeline::Build;
use scan_path::{Layer, LeftOut};
use std::path::Path;

fn build(folder: &Path) -> Build {
    let places = [[0.0, 0.0, 1.0], [20.0, 0.0, 1.0], [40.0, 0.0, 1.0]];
    blocks::build(folder, [4.0, 3.0, 1.0], places, "")
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
