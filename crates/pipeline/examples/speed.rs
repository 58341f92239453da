//! Times the stages on one mesh; prints JSON. Run by `tests/oracles/speed.sh` beside
//! general-purpose libraries.
//!
//! `speed FILE.stl LAYERS THREADS`

#![expect(clippy::print_stdout, clippy::unwrap_used, reason = "a measuring tool")]

use base::{Affine, Point, Progress};
use mesh::import::{Format, Limits, import_from};
use mesh::{Mesh, Topology};
use pipeline::in_order;
use region::{Join, Region, inset};
use scan_strategy::{HatchScratch, hatch_lines};
use slicing::{Scratch, Slicer};
use std::sync::Arc;
use std::time::Instant;

const RUNS: u32 = 6;
/// Layers computed in one go, as in `write`.
const RUN: u32 = 8;
const INSET_NM: i32 = 200_000;
const MITRE: Join = Join::Mitre { limit: 2.0 };
const SPACING_NM: f64 = 100_000.0;
const ANGLE_DEG: f64 = 67.0;

/// Shortest of several runs, s, and the last run's result.
fn best<T>(runs: u32, mut work: impl FnMut() -> T) -> (f64, T) {
    let mut shortest = f64::INFINITY;
    let mut result = None;
    for _ in 0..runs {
        drop(result.take());
        let start = Instant::now();
        result = Some(work());
        shortest = shortest.min(start.elapsed().as_secs_f64());
    }
    (shortest, result.unwrap())
}

fn read(path: &str) -> Mesh {
    let mut file = std::fs::File::open(path).unwrap();
    let length = file.metadata().unwrap().len();
    let mut imported =
        import_from(&mut file, length, Format::Stl, None, &Limits::default(), &Progress::default())
            .unwrap();
    imported.objects.remove(0).mesh
}

fn slicer(mesh: &Arc<Mesh>, layers: f64) -> Slicer {
    let (low, high) = mesh.bounds().unwrap();
    let topology = Topology::new(mesh);
    let pose = Affine::translation([0.0, 0.0, -low[2]]);
    let thickness = (high[2] - low[2]) / layers;
    Slicer::new(mesh, &topology, &pose, thickness, &Progress::default()).unwrap()
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let layers: u32 = args[2].parse().unwrap();
    let threads: usize = args[3].parse().unwrap();
    rayon::ThreadPoolBuilder::new().num_threads(threads).build_global().unwrap();

    let (read_weld_s, mesh) = best(RUNS, || read(&args[1]));
    let mesh = Arc::new(mesh);
    let (sections_s, sections) = best(RUNS, || {
        let slicer = slicer(&mesh, f64::from(layers));
        let mut scratch = Scratch::default();
        (0..layers).map(|k| slicer.section(k, &mut scratch).rings).collect::<Vec<Region>>()
    });
    let vertices: usize = sections.iter().map(|region| region.points().len()).sum();
    let (inset_s, _) = best(RUNS, || {
        sections.iter().map(|region| inset(region, INSET_NM, MITRE)).collect::<Vec<_>>()
    });
    let (hatch_s, vectors) = best(RUNS, || {
        let mut scratch = HatchScratch::default();
        let mut lines: Vec<[Point; 2]> = Vec::new();
        let mut count = 0;
        for region in &sections {
            lines.clear();
            hatch_lines(region, ANGLE_DEG, SPACING_NM, &mut scratch, &mut lines);
            count += lines.len();
        }
        count
    });
    // Every stage of every layer, on as many threads as asked for, handed on as `write` does.
    let slicer = slicer(&mesh, f64::from(layers));
    let (layers_s, counted) = best(RUNS, || {
        let mut count = 0;
        let lines_of_run = |(scratch, hatch): &mut (Scratch, HatchScratch), run: u32| {
            let mut lines = Vec::new();
            for layer in run * RUN..((run + 1) * RUN).min(layers) {
                let inside = inset(&slicer.section(layer, scratch).rings, INSET_NM, MITRE);
                hatch_lines(&inside, ANGLE_DEG, SPACING_NM, hatch, &mut lines);
            }
            Ok::<_, ()>(lines)
        };
        in_order(layers.div_ceil(RUN), lines_of_run, |lines| {
            count += lines.len();
            Ok(())
        })
        .map(|()| count)
    });
    println!(
        "{{\"triangles\": {}, \"read_weld_s\": {read_weld_s}, \"sections_s\": {sections_s}, \
         \"vertices\": {vertices}, \"inset_s\": {inset_s}, \"vectors\": {vectors}, \
         \"hatch_s\": {hatch_s}, \"layers_s\": {layers_s}, \"layer_vectors\": {}}}",
        mesh.triangles.len(),
        counted.unwrap()
    );
}
