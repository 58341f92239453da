//! The order of parts in a layer, from the job file to the proof.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

mod blocks;

use blocks::layers;
use pipeline::Build;
use scan_path::{ExposureKind, Layer};
use std::path::Path;

/// Three blocks in a row, listed so that the nearest one is not the next; the last one stands higher.
fn build(folder: &Path, order: &str) -> Build {
    let places = [[0.0, 0.0, 1.0], [40.0, 0.0, 1.0], [20.0, 0.0, 1.3]];
    blocks::build(folder, [8.0, 6.0, 1.0], places, order)
}

fn is_verified(build: &Build, layers: &[Layer]) -> bool {
    blocks::is_verified(build, &build.header, layers)
}

/// Placements in the order of their turns.
fn turns(layer: &Layer) -> Vec<u32> {
    let mut rows: Vec<u32> = layer.blocks.iter().map(|block| block.placement).collect();
    rows.dedup();
    rows
}

#[test]
fn parts_come_in_the_order_that_the_job_asks_for_and_the_proof_sees_it() {
    let folder = tempfile::tempdir().unwrap();
    // all three are cut in it; it starts where k mod 3 says
    let k = 10;
    for (next, expected) in
        [("Nearest", [0, 2, 1]), ("AsListed", [0, 1, 2]), ("Rotating", [1, 2, 0])]
    {
        let build = build(folder.path(), &format!("part_order: (next: {next}),"));
        let mut layers = layers(&build);
        assert_eq!(turns(&layers[k]), expected, "{next}");
        assert!(is_verified(&build, &layers), "{next}");
        let whole = layers[k].blocks.clone();
        // every other order of the three is refused, and that a part is taken up again
        for other in [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]] {
            let of = |row: u32| whole.iter().filter(move |b| b.placement == row).cloned();
            layers[k].blocks = other.into_iter().flat_map(of).collect();
            assert_eq!(is_verified(&build, &layers), other == expected, "{next}: {other:?}");
        }
        layers[k].blocks = whole;
        let first = layers[k].blocks.remove(0);
        layers[k].blocks.push(first);
        assert!(!is_verified(&build, &layers), "{next}");
    }
}

#[test]
fn of_all_layers_as_many_start_with_each_part_where_they_take_turns() {
    let folder = tempfile::tempdir().unwrap();
    let build = build(folder.path(), "part_order: (next: Rotating),");
    let mut starts = [0; 3];
    for layer in layers(&build).iter().filter(|layer| turns(layer).len() == 3) {
        starts[turns(layer)[0] as usize] += 1;
    }
    assert!(starts.iter().max().unwrap() - starts.iter().min().unwrap() <= 1, "{starts:?}");
}

#[test]
fn kinds_of_all_parts_come_together() {
    let folder = tempfile::tempdir().unwrap();
    let parts = build(folder.path(), "part_order: (next: AsListed),");
    let kinds = build(folder.path(), "part_order: (rounds: KindAfterKind, next: AsListed),");
    let (of_parts, mut of_kinds) = (layers(&parts), layers(&kinds));
    let k = 10;
    let name = |layer: &Layer| -> Vec<(ExposureKind, u32)> {
        layer.blocks.iter().map(|block| (block.kind, block.placement)).collect()
    };
    let (contour, hatch) = (ExposureKind::Contour, ExposureKind::Hatch);
    let mut by_kind = name(&of_parts[k]);
    by_kind.sort_by_key(|(kind, row)| (*kind != by_first(&of_parts[k]), *row));
    assert_eq!(name(&of_kinds[k]), by_kind);
    assert_eq!(by_kind.iter().filter(|(kind, _)| *kind == contour).count(), 3);
    assert_eq!(by_kind.iter().filter(|(kind, _)| *kind == hatch).count(), 3);
    assert!(is_verified(&kinds, &of_kinds) && is_verified(&parts, &of_parts));
    // neither passes for the other
    assert!(!is_verified(&kinds, &of_parts) && !is_verified(&parts, &of_kinds));
    of_kinds[k].blocks.swap(2, 3);
    assert!(!is_verified(&kinds, &of_kinds));
}

/// What the recipe has first: contours or hatch.
fn by_first(layer: &Layer) -> ExposureKind {
    layer.blocks[0].kind
}
