//! Offsets: smooth rings of growing size, and the cases that need the engine.
#![allow(missing_docs, reason = "criterion_group! makes an undocumented function")]

use base::Point;
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use region::{Join, Region, inset, outset};
use std::hint::black_box;

const MITRE: Join = Join::Mitre { limit: 2.0 };
const ROUND: Join = Join::Round { chord_tolerance_nm: 5_000 };

/// A ring about the origin whose radius waves, nm.
#[expect(clippy::cast_possible_truncation, reason = "within the grid")]
fn wavy(n: u32, radius: f64, wave: f64, waves: f64, clockwise: bool) -> Vec<Point> {
    let mut ring: Vec<Point> = (0..n)
        .map(|i| {
            let t = f64::from(i) / f64::from(n) * std::f64::consts::TAU;
            let r = radius + wave * (waves * t).cos();
            Point::new((r * t.cos()) as i32, (r * t.sin()) as i32)
        })
        .collect();
    if clockwise {
        ring.reverse();
    }
    ring
}

fn annulus(n: u32) -> Region {
    Region::from_proper_rings([
        wavy(n / 2, 100e6, 2e6, 12.0, false),
        wavy(n / 2, 60e6, 2e6, 12.0, true),
    ])
}

/// A comb whose teeth are thinner than twice the distance: every one vanishes.
fn comb(teeth: i32) -> Region {
    let mut ring = vec![Point::new(0, -2_000_000)];
    ring.push(Point::new(teeth * 600_000, -2_000_000));
    for i in (0..teeth).rev() {
        let x = i * 600_000;
        ring.extend(
            [(450_000, 0), (350_000, 5_000_000), (250_000, 5_000_000), (150_000, 0)]
                .map(|(dx, y)| Point::new(x + dx, y)),
        );
    }
    Region::from_proper_rings([ring])
}

fn offsets(c: &mut Criterion) {
    let mut group = c.benchmark_group("inset 0.2 mm");
    for n in [1_000, 10_000, 100_000] {
        let region = annulus(n);
        group.throughput(Throughput::Elements(u64::from(n)));
        group.bench_with_input(BenchmarkId::new("annulus, mitre", n), &region, |b, r| {
            b.iter(|| inset(black_box(r), 200_000, MITRE));
        });
        group.bench_with_input(BenchmarkId::new("annulus, round", n), &region, |b, r| {
            b.iter(|| inset(black_box(r), 200_000, ROUND));
        });
    }
    for teeth in [100, 1_000] {
        let region = comb(teeth);
        group.throughput(Throughput::Elements(region.points().len() as u64));
        group.bench_with_input(BenchmarkId::new("vanishing teeth", teeth), &region, |b, r| {
            b.iter(|| inset(black_box(r), 200_000, MITRE));
        });
    }
    group.finish();

    let mut group = c.benchmark_group("outset 0.2 mm");
    for n in [1_000, 10_000, 100_000] {
        let region = annulus(n);
        group.throughput(Throughput::Elements(u64::from(n)));
        group.bench_with_input(BenchmarkId::new("annulus, round", n), &region, |b, r| {
            b.iter(|| outset(black_box(r), 200_000, ROUND));
        });
    }
    group.finish();
}

criterion_group!(benches, offsets);
criterion_main!(benches);
