//! The order of parts in a layer, from the job file to the proof.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::Progress;
use pipeline::{Build, load, verify_against};
use scan_path::{ExposureKind, Layer, VectorWriter, encode_layer};
use std::path::Path;

/// A block of 8 × 6 × 1 mm.
const BLOCK: &str = "v 0 0 0\nv 8 0 0\nv 8 6 0\nv 0 6 0\nv 0 0 1\nv 8 0 1\nv 8 6 1\nv 0 6 1\n\
    f 1 4 3\nf 1 3 2\nf 5 6 7\nf 5 7 8\nf 1 2 6\nf 1 6 5\nf 2 3 7\nf 2 7 6\nf 3 4 8\nf 3 8 7\n\
    f 4 1 5\nf 4 5 8\n";

/// Three blocks in a row, listed so that the nearest one is not the next; the last one stands higher.
fn build(folder: &Path, order: &str) -> Build {
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets").canonicalize().unwrap();
    let assets = assets.display().to_string().replace('\\', "/");
    let job = format!(
        r#"(version: 3, name: "row", machine: "{assets}/machines/bench_co2_30w.ron",
        recipe: "{assets}/recipes/pa12_fine.ron", {order} parts: [
            (name: "block", mesh: "block.obj", placements: [
                (location_mm: (0, 0, 1)), (location_mm: (40, 0, 1)), (location_mm: (20, 0, 1.3)),
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

fn is_verified(build: &Build, layers: &[Layer]) -> bool {
    let mut writer = VectorWriter::new(Vec::new(), build.header.clone()).unwrap();
    for layer in layers {
        writer.push(encode_layer(layer, &build.header).unwrap()).unwrap();
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("row.hwv");
    std::fs::write(&path, writer.finish().unwrap().1).unwrap();
    verify_against(&path, build, &Progress::default()).unwrap().is_verified()
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
