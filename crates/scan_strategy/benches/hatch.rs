//! Speed of the hatch kernel: swept number of corners and lines, and degenerate regions.

use base::Point;
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use region::Region;
use scan_strategy::{HatchScratch, hatch_lines};
use std::hint::black_box;

/// A ring of 100 mm outer and 60 mm inner radius, `sides` corners each.
fn ring(sides: u32) -> Region {
    let circle = |radius: f64, turn: f64| -> Vec<Point> {
        let corner = |i: u32| {
            let a = turn * std::f64::consts::TAU * f64::from(i) / f64::from(sides);
            Point::from_mm(radius * a.cos(), radius * a.sin()).expect("on the grid")
        };
        (0..sides).map(corner).collect()
    };
    Region::from_proper_rings([circle(100.0, 1.0), circle(60.0, -1.0)])
}

/// `count` × `count` squares of 1 mm with 1 mm between.
fn squares(count: i32) -> Region {
    let mut region = Region::empty();
    for i in 0..count {
        for j in 0..count {
            let (x, y) = (i * 2_000_000, j * 2_000_000);
            let (u, v) = (x + 1_000_000, y + 1_000_000);
            region.push_ring(&[(x, y), (u, y), (u, v), (x, v)].map(|(x, y)| Point::new(x, y)));
        }
    }
    region
}

/// A comb with many teeth along the lines: many crossings on every line at 90°.
fn comb(teeth: i32) -> Region {
    let mut points = vec![Point::new(0, 0), Point::new(teeth * 200_000, 0)];
    for i in (0..teeth).rev() {
        let x = i * 200_000;
        points.push(Point::new(x + 150_000, 50_000_000));
        points.push(Point::new(x + 100_000, 1_000_000));
    }
    Region::from_proper_rings([points])
}

fn bench_hatch(c: &mut Criterion) {
    let cases = [
        ("ring of 200 corners", ring(100), 67.0),
        ("ring of 2,000 corners", ring(1_000), 67.0),
        ("ring of 200,000 corners", ring(100_000), 67.0),
        ("2,500 squares", squares(50), 67.0),
        ("square along its edges", squares(1), 0.0),
        ("comb of 1,000 teeth", comb(1_000), 0.0),
    ];
    let mut group = c.benchmark_group("hatch_lines");
    let (mut scratch, mut out) = (HatchScratch::default(), Vec::new());
    for (name, region, angle) in cases {
        hatch_lines(&region, angle, 100_000.0, &mut scratch, &mut out);
        group.throughput(Throughput::Elements(out.len() as u64));
        group.bench_function(BenchmarkId::from_parameter(name), |b| {
            b.iter(|| {
                out.clear();
                hatch_lines(black_box(&region), angle, 100_000.0, &mut scratch, &mut out);
                black_box(out.len())
            });
        });
    }
    group.finish();
}

criterion_group!(benches, bench_hatch);
criterion_main!(benches);
