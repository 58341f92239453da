//! Speed of centrelines: a smooth ring and a noisy one, by points; a body without thin walls.

use base::Point;
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use region::{CentrelineOptions, Region, centrelines};
use std::hint::black_box;

const OPTIONS: CentrelineOptions = CentrelineOptions {
    max_half_width_nm: 200_000,
    min_half_width_nm: 50_000,
    min_length_nm: 200_000,
    chord_tolerance_nm: 5_000,
};

/// Ring of 20 mm with waves; `noise` nm on every other point.
fn ring(points: usize, half_width_mm: f64, noise_nm: i32) -> Region {
    let side = |sign: f64| -> Vec<Point> {
        (0..points / 2)
            .map(|i| {
                let angle = std::f64::consts::TAU * i as f64 / (points / 2) as f64;
                let r = 20.0 + (7.0 * angle).sin() + sign * half_width_mm;
                let p = Point::from_mm(r * angle.cos(), r * angle.sin()).unwrap_or_default();
                let noise = [0, noise_nm][i % 2];
                Point::new(p.x + noise, p.y - noise)
            })
            .collect()
    };
    let mut hole = side(-1.0);
    hole.reverse();
    Region::from_proper_rings([side(1.0), hole])
}

fn bench(c: &mut Criterion) {
    let mut group = c.benchmark_group("centrelines");
    group.sample_size(10);
    for points in [1_000, 4_000, 16_000] {
        group.throughput(Throughput::Elements(points as u64));
        for (name, half_width, noise) in
            [("smooth ring", 0.15, 0), ("noisy ring", 0.15, 8_000), ("thick ring", 3.0, 0)]
        {
            let region = ring(points, half_width, noise);
            group.bench_with_input(BenchmarkId::new(name, points), &region, |b, region| {
                b.iter(|| centrelines(black_box(region), &OPTIONS));
            });
        }
    }
    group.finish();
}

criterion_group!(benches, bench);
criterion_main!(benches);
