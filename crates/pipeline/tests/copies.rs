//! Copies share what is worked out of them, and nobody can tell.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::Progress;
use pipeline::{Build, load, write_vector_file};
use scan_path::{Block, Layer};
use std::path::Path;

/// Copies beside each other, whole layers and parts of a layer higher, off the whole nanometres, turned.
const PLACES: [&str; 6] = [
    "(location_mm: (-41, -40, 6))",
    "(location_mm: (12.345678, -40, 6))",
    "(location_mm: (-41.000001, 17.5, 6.7))",
    "(location_mm: (12, 17.5, 6.03))",
    "(location_mm: (12.0000003, 60, 6))",
    "(location_mm: (-41, 60, 6), rotation_deg: (0, 0, 90))",
];

fn build(folder: &Path, places: &[&str]) -> Build {
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets").canonicalize().unwrap();
    let assets = assets.display().to_string().replace('\\', "/");
    let job = format!(
        r#"(version: 3, name: "copies", machine: "{assets}/machines/bench_co2_30w.ron",
        recipe: "{assets}/recipes/pa12.ron", part_order: (next: AsListed), parts: [
            (name: "clip", mesh: "{assets}/parts/snap_clip.stl", placements: [{}]),
        ])"#,
        places.join(", ")
    );
    std::fs::write(folder.join("job.ron"), job).unwrap();
    let loaded = load(&folder.join("job.ron"), &Progress::default()).unwrap();
    Build::new(loaded, &Progress::default()).unwrap()
}

fn bytes(build: &Build, folder: &Path, threads: usize) -> Vec<u8> {
    let path = folder.join("copies.hwv");
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    pool.install(|| write_vector_file(build, &path, &Progress::default())).unwrap();
    std::fs::read(path).unwrap()
}

#[test]
fn a_file_has_the_same_bytes_whether_copies_share_or_not() {
    let folder = tempfile::tempdir().unwrap();
    let shared = build(folder.path(), &PLACES);
    let apart = build(folder.path(), &PLACES).without_sharing();
    let expected = bytes(&apart, folder.path(), 1);
    assert!(expected == bytes(&shared, folder.path(), 3), "with sharing");
    assert!(expected == bytes(&shared, folder.path(), 1), "with all that is kept from before");
}

/// The first placement of a layer does not know of others: it has the marks that it has alone, as shared by
/// others or not.
#[test]
fn a_placement_has_the_marks_that_it_has_alone() {
    let folder = tempfile::tempdir().unwrap();
    let of_first = |layer: &Layer| -> Vec<Block> {
        layer.blocks.iter().filter(|block| block.placement == 0).cloned().collect()
    };
    for (start, first) in (0_u32..).zip(0..PLACES.len()) {
        let mut places = PLACES;
        places.rotate_left(first);
        let (all, alone) = (build(folder.path(), &places), build(folder.path(), &places[..1]));
        let mut compared = 0;
        for k in (start..alone.layer_count()).step_by(16) {
            let layer = |build: &Build| build.layer(k, &Progress::default()).unwrap().layer;
            let (of_all, of_alone) = (of_first(&layer(&all)), layer(&alone).blocks);
            assert!(of_all == of_alone, "placement {first}, layer {k}");
            compared += of_alone.len();
        }
        assert!(compared > 5, "{compared}");
    }
}
