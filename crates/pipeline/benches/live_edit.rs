//! What a person waits for when a number of the recipe is dragged: the build after an edit, one
//! layer of it, and that layer in time.
//!
//! Wanted: 50 ms for a layer of 10,000 vectors, 150 ms for 200,000.

use base::Progress;
use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use job::recipe::{CellOrder, Pattern};
use job::{Job, Machine, Recipe};
use pipeline::{Build, Loaded, LoadedMesh, load_part_mesh};
use std::fmt::Write as _;
use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;

struct Bench {
    job: Job,
    machine: Machine,
    recipe: Recipe,
    mesh: Arc<LoadedMesh>,
}

impl Bench {
    /// A plate of `size_mm`, hatched in cells.
    fn new(folder: &Path, size_mm: f64, cell_mm: f64, spacing_mm: f64) -> Self {
        let mut obj = String::new();
        for corner in 0..8_u8 {
            let side = |bit: u8, size: f64| f64::from(corner >> bit & 1) * size;
            let (x, y, z) = (side(0, size_mm), side(1, size_mm), side(2, 20.0));
            writeln!(obj, "v {x} {y} {z}").expect("a string takes all");
        }
        obj += "f 1 3 4 2\nf 5 6 8 7\nf 1 2 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n";
        std::fs::write(folder.join("plate.obj"), obj).expect("written");
        let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets");
        let read = |name: &str| std::fs::read_to_string(assets.join(name)).expect("an asset");
        let machine = Machine::from_ron(&read("machines/bench_co2_30w.ron")).expect("valid");
        let mut recipe = Recipe::from_ron(&read("recipes/pa12.ron")).expect("valid");
        let order = CellOrder::Scattered;
        let hatch = recipe.core.hatch.as_mut().expect("hatched");
        hatch.pattern = Pattern::Cells { size_mm: cell_mm, overlap_mm: 0.0, order };
        hatch.spacing_mm = spacing_mm;
        let job = Job::from_ron(
            "(version: 3, name: \"plate\", machine: \"m\", recipe: \"r\", parts: [(name: \"plate\", \
             mesh: \"plate.obj\", placements: [(location_mm: (0, 0, 12))])])",
        )
        .expect("valid");
        let mesh = load_part_mesh(folder, &job.parts[0], &Progress::default()).expect("read");
        Self { job, machine, recipe, mesh: Arc::new(mesh) }
    }

    fn build(&self, earlier: Option<&Build>, spacing_mm: f64) -> Build {
        let mut recipe = self.recipe.clone();
        recipe.core.hatch.as_mut().expect("hatched").spacing_mm = spacing_mm;
        let loaded = Loaded::assemble(
            self.job.clone(),
            self.machine.clone(),
            |_| Ok(recipe.clone()),
            |_| Ok(Arc::clone(&self.mesh)),
        );
        Build::after(earlier, loaded.expect("a job"), &Progress::default()).expect("a build")
    }
}

fn live_edit(c: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a folder");
    let mut group = c.benchmark_group("edit of the hatch spacing to a layer in time");
    group.sample_size(20);
    for (size_mm, cell_mm, spacing_mm) in [(95.0, 5.0, 0.2), (165.0, 3.0, 0.05)] {
        let bench = Bench::new(folder.path(), size_mm, cell_mm, spacing_mm);
        let first = bench.build(None, spacing_mm);
        let layer = first.layer(100, &Progress::default()).expect("a layer");
        let vectors = layer.report.paths.marks;
        group.bench_function(BenchmarkId::new("vectors", vectors), |b| {
            b.iter(|| {
                let build = bench.build(Some(&first), black_box(spacing_mm * 1.01));
                let computed = build.layer(100, &Progress::default()).expect("a layer");
                build.timeline(&computed.layer)
            });
        });
    }
    group.finish();
}

criterion_group!(benches, live_edit);
criterion_main!(benches);
