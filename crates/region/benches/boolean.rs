//! Boolean operations and the proof that spares them.
#![allow(missing_docs, reason = "criterion_group! makes an undocumented function")]

use base::Point;
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use region::{FillRule, Region, difference, resolve, union_all};
use std::hint::black_box;

#[expect(clippy::cast_possible_truncation, reason = "within the grid")]
fn star(n: u32, centre: Point, radius: f64, phase: f64) -> Region {
    let ring: Vec<Point> = (0..n)
        .map(|i| {
            let t = f64::from(i) / f64::from(n) * std::f64::consts::TAU;
            let r = radius * (1.0 + 0.2 * (9.0 * t + phase).cos());
            Point::new(centre.x + (r * t.cos()) as i32, centre.y + (r * t.sin()) as i32)
        })
        .collect();
    Region::from_proper_rings([ring])
}

fn booleans(c: &mut Criterion) {
    let origin = Point::new(0, 0);
    let mut group = c.benchmark_group("boolean");
    for n in [1_000, 10_000, 100_000] {
        let (a, b) = (star(n, origin, 80e6, 0.0), star(n, origin, 80e6, 1.0));
        group.throughput(Throughput::Elements(u64::from(2 * n)));
        group.bench_function(BenchmarkId::new("difference of stars", n), |bench| {
            bench.iter(|| difference(black_box(&a), black_box(&b)));
        });
        group.throughput(Throughput::Elements(u64::from(n)));
        group.bench_function(BenchmarkId::new("resolve, already proper", n), |bench| {
            bench.iter(|| resolve(black_box(&a), FillRule::Positive));
        });
        // The degenerate case: everything coincides.
        group.throughput(Throughput::Elements(u64::from(2 * n)));
        group.bench_function(BenchmarkId::new("difference with itself", n), |bench| {
            bench.iter(|| difference(black_box(&a), black_box(&a)));
        });
    }
    let chain: Vec<Region> =
        (0..500).map(|i| star(64, Point::new(i * 1_500_000 - 400_000_000, 0), 1e6, 0.0)).collect();
    group.throughput(Throughput::Elements(500 * 64));
    group.bench_function("union of 500 in a chain", |bench| {
        bench.iter(|| union_all(black_box(&chain)));
    });
    group.finish();
}

criterion_group!(benches, booleans);
criterion_main!(benches);
