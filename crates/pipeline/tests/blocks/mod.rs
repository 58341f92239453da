//! Jobs of three blocks, from the job file to the proof.

use base::Progress;
use pipeline::{Build, load, verify_against};
use scan_path::{Header, Layer, VectorWriter, encode_layer};
use std::path::Path;

/// Blocks of `size` mm at `places`, with more lines of the job in between.
pub(crate) fn build(folder: &Path, size: [f64; 3], places: [[f64; 3]; 3], more: &str) -> Build {
    let [x, y, z] = size;
    let block = format!(
        "v 0 0 0\nv {x} 0 0\nv {x} {y} 0\nv 0 {y} 0\nv 0 0 {z}\nv {x} 0 {z}\nv {x} {y} {z}\nv 0 {y} {z}\n\
         f 1 4 3\nf 1 3 2\nf 5 6 7\nf 5 7 8\nf 1 2 6\nf 1 6 5\nf 2 3 7\nf 2 7 6\nf 3 4 8\nf 3 8 7\n\
         f 4 1 5\nf 4 5 8\n"
    );
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets").canonicalize().unwrap();
    let assets = assets.display().to_string().replace('\\', "/");
    let places = places.map(|[x, y, z]| format!("(location_mm: ({x}, {y}, {z}))")).join(", ");
    let job = format!(
        r#"(version: 3, name: "row", machine: "{assets}/machines/bench_co2_30w.ron",
        recipe: "{assets}/recipes/pa12_fine.ron", {more} parts: [
            (name: "block", mesh: "block.obj", placements: [{places}]),
        ])"#
    );
    std::fs::write(folder.join("block.obj"), block).unwrap();
    std::fs::write(folder.join("job.ron"), job).unwrap();
    let loaded = load(&folder.join("job.ron"), &Progress::default()).unwrap();
    Build::new(loaded, &Progress::default()).unwrap()
}

pub(crate) fn layers(build: &Build) -> Vec<Layer> {
    let layer = |k| build.layer(k, &Progress::default()).unwrap().layer;
    (0..build.layer_count()).map(layer).collect()
}

/// Whether the proof takes a file of these tables and layers for that of a build.
pub(crate) fn is_verified(build: &Build, header: &Header, layers: &[Layer]) -> bool {
    let mut writer = VectorWriter::new(Vec::new(), header.clone()).unwrap();
    for layer in layers {
        writer.push(encode_layer(layer, header).unwrap()).unwrap();
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("row.hwv");
    std::fs::write(&path, writer.finish().unwrap().1).unwrap();
    verify_against(&path, build, &Progress::default()).unwrap().is_verified()
}
