//! How long the time of a layer takes to work out: a million vectors on one core, wanted ≤ 0.5 s.

#![expect(clippy::unwrap_used, reason = "a bench may stop at the first surprise")]

use base::Point;
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use motion::{Corners, Head, Timeline, layer_time};
use scan_path::{Block, ExposureKind, ExposureRow, Header, Layer, Paths, RegionKind};

/// Lines there and back at 30°, each a little longer than the one before.
fn hatch(lines: u32) -> Layer {
    let (sin, cos) = 30_f64.to_radians().sin_cos();
    let at = |x: f64, y: f64| Point::from_mm(x * cos - y * sin, x * sin + y * cos).unwrap();
    let line = |k: u32| {
        let (y, long) = (f64::from(k % 1000) * 0.1, 2.0 + f64::from(k % 777) * 0.01);
        let ends = [at(-long, y), at(long, y)];
        if k.is_multiple_of(2) { ends } else { [ends[1], ends[0]] }
    };
    let paths = Paths::Segments((0..lines).map(line).collect());
    let (kind, region) = (ExposureKind::Hatch, RegionKind::Core);
    Layer { index: 0, blocks: vec![Block { placement: 0, exposure: 0, kind, region, paths }] }
}

/// One contour of so many chords of 0.05 mm.
fn contour(marks: u32) -> Layer {
    let at = |k: u32| {
        let (sin, cos) = (f64::from(k) * 0.01).sin_cos();
        Point::from_mm(5.0 * cos, 5.0 * sin).unwrap()
    };
    let points: Vec<Point> = (0..=marks).map(at).collect();
    let paths = Paths::Polylines { points, ends: vec![marks + 1] };
    let (kind, region) = (ExposureKind::Contour, RegionKind::Core);
    Layer { index: 0, blocks: vec![Block { placement: 0, exposure: 0, kind, region, paths }] }
}

fn times(c: &mut Criterion) {
    let row = ExposureRow {
        power_w: 20.0,
        speed_mm_s: 4000.0,
        path_run_in_mm: 0.8,
        path_run_out_mm: 0.8,
        ..ExposureRow::default()
    };
    let header = Header { jump_speed_mm_s: 8000.0, exposures: vec![row], ..Header::default() };
    let head = Head {
        acceleration_mm_s2: [1e7, 1e7],
        jerk_mm_s3: Some(1e11),
        settle_s: 2e-4,
        corners: Corners::SlowDown,
        corner_tolerance_mm: 0.01,
    };
    let mut group = c.benchmark_group("motion");
    group.sample_size(10);
    for vectors in [1, 1000, 1_000_000] {
        for (name, layer) in [("hatch", hatch(vectors)), ("contour", contour(vectors))] {
            group.throughput(Throughput::Elements(u64::from(vectors)));
            group.bench_function(BenchmarkId::new(name, vectors), |b| {
                b.iter(|| layer_time(&layer, &header, Some(&head)));
            });
        }
    }
    let layer = hatch(1_000_000);
    group.bench_function("hatch, kept", |b| b.iter(|| Timeline::new(&layer, &header, Some(&head))));
    group.finish();
}

criterion_group!(benches, times);
criterion_main!(benches);
