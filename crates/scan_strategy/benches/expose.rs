//! Speed of a whole section: contours, hatch in every division, order. Sections of about 10,000
//! and 200,000 vectors, plain and full of holes.

use base::Point;
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use estimate::Beam;
use job::Recipe;
use job::recipe::{
    CellOrder, ContourOrder, Contours, Hatch, Joins, Pattern, Sequence, StartPoint, Strategy,
    ThinWalls, Travel,
};
use region::Region;
use scan_path::{Block, Paths};
use scan_strategy::{Context, Melt, expose};
use std::hint::black_box;

fn recipe(pattern: Pattern) -> Recipe {
    let contours = Contours {
        count: 2,
        spacing_mm: 0.2,
        order: ContourOrder::InsideOut,
        start: StartPoint::Nearest,
        exposures: vec!["contour".to_owned()],
        further_passes: Vec::new(),
    };
    let hatch = Hatch {
        spacing_mm: 0.1,
        gap_mm: 0.1,
        angle_deg: 0.0,
        rotation_per_layer_deg: 67.0,
        forbidden: None,
        travel: Travel::Serpentine,
        pattern,
        min_length_mm: 0.1,
        every_nth_layer: 1,
        exposures: vec!["hatch".to_owned()],
        further_passes: Vec::new(),
    };
    Recipe {
        version: Recipe::VERSION,
        name: "bench".to_owned(),
        notes: String::new(),
        layer_thickness_mm: 0.1,
        material: job::recipe::Material::PA12,
        shrinkage_percent: [0.0; 3],
        z_growth_mm: 0.0,
        beam_offset_mm: 0.15,
        hole_offset_mm: None,
        joins: Joins::Round { chord_tolerance_um: 2.0 },
        thin_walls: ThinWalls::Skip,
        limits: job::recipe::Limits::default(),
        exposures: Vec::new(),
        core: Strategy {
            sequence: Sequence::ContoursFirst,
            contours: Some(contours),
            hatch: Some(hatch),
        },
        up_facing: None,
        down_facing: None,
        path_order: job::recipe::PathOrder::ShortJumps,
        shortest_return_ms: None,
    }
}

/// A square plate with `count` × `count` round holes of 3 mm, 5 mm apart, 60 corners each.
fn plate(count: i32) -> Region {
    let side = count * 5_000_000;
    let corners = [(0, 0), (side, 0), (side, side), (0, side)];
    let mut region = Region::from_proper_rings([corners.map(|(x, y)| Point::new(x, y))]);
    for (i, j) in (0..count).flat_map(|i| (0..count).map(move |j| (i, j))) {
        let hole = |k: i32| {
            let a = -std::f64::consts::TAU * f64::from(k) / 60.0;
            let (x, y) = (f64::from(i) * 5.0 + 2.5, f64::from(j) * 5.0 + 2.5);
            Point::from_mm(x + 1.5 * a.cos(), y + 1.5 * a.sin()).expect("on the grid")
        };
        region.push_ring(&(0..60).map(hole).collect::<Vec<_>>());
    }
    region
}

fn marks(blocks: &[Block]) -> u64 {
    let count = |block: &Block| match &block.paths {
        Paths::Segments(marks) => marks.len(),
        Paths::Polylines { points, ends } => points.len() - ends.len(),
    };
    blocks.iter().map(|block| count(block) as u64).sum()
}

fn bench_expose(c: &mut Criterion) {
    let mut group = c.benchmark_group("expose");
    let cells = Pattern::Cells { size_mm: 5.0, overlap_mm: 0.1, order: CellOrder::Scattered };
    let patterns = [
        ("lines", Pattern::Lines),
        ("stripes", Pattern::Stripes { width_mm: 10.0, overlap_mm: 0.1 }),
        ("cells", cells),
    ];
    for (name, pattern) in patterns {
        let recipe = recipe(pattern);
        for holes in [10, 46] {
            let section = plate(holes);
            let run = || {
                let context = Context {
                    recipe: &recipe,
                    layer: 1,
                    spreading_direction_deg: 0.0,
                    placement: 0,
                    exposure_index: &|_| Some(0),
                    melt: Melt {
                        beam: Beam::new(0.25).expect("a radius"),
                        threshold_j_mm2: 0.006_5,
                    },
                    wall_exposure_index: &|_| Some(0),
                    round: None,
                    jumps: None,
                    beam_at: None,
                };
                expose(black_box(&section), None, &context).expect("a recipe that works")
            };
            let vectors = marks(&run().blocks);
            group.throughput(Throughput::Elements(vectors));
            group.bench_function(BenchmarkId::new(name, vectors), |b| b.iter(run));
        }
    }
    group.finish();
}

criterion_group!(benches, bench_expose);
criterion_main!(benches);
