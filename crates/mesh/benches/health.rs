//! Measures, hierarchy and health report over mesh size, for a curved surface and for flat ones,
//! where neighbours are exactly coplanar.

use base::Progress;
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use mesh::{Hierarchy, Mesh, health, measures};
use std::f64::consts::TAU;
use std::hint::black_box;
use std::ops::ControlFlow;

/// A closed grid of `2·n·n` triangles, its points placed by `at`.
fn closed_grid(n: u32, at: impl Fn(f64, f64) -> [f64; 3]) -> Mesh {
    let angle = |i: u32| TAU * f64::from(i) / f64::from(n);
    let vertices = (0..n * n).map(|v| at(angle(v / n), angle(v % n))).collect();
    let index = |i: u32, j: u32| (i % n) * n + j % n;
    let triangles = (0..n * n)
        .flat_map(|v| {
            let (i, j) = (v / n, v % n);
            let [a, b] = [index(i, j), index(i + 1, j)];
            let [c, d] = [index(i + 1, j + 1), index(i, j + 1)];
            [[a, b, c], [a, c, d]]
        })
        .collect();
    Mesh { vertices, triangles }
}

fn torus(n: u32) -> Mesh {
    closed_grid(n, |u, w| {
        let r = 20.0 + 5.0 * w.cos();
        [r * u.cos(), r * u.sin(), 5.0 * w.sin()]
    })
}

/// A ring of square section: half of its triangles lie in two planes.
fn square_ring(n: u32) -> Mesh {
    let on_square = |u: f64| {
        let (sin, cos) = u.sin_cos();
        let half = sin.abs().max(cos.abs());
        [cos / half, sin / half]
    };
    closed_grid(n, |u, w| {
        let [x, z] = on_square(w);
        let r = 20.0 + 5.0 * x;
        [r * u.cos(), r * u.sin(), 5.0 * z]
    })
}

fn bench_health(c: &mut Criterion) {
    for shape in ["torus", "square_ring"] {
        let make: fn(u32) -> Mesh = if shape == "torus" { torus } else { square_ring };
        let mut group = c.benchmark_group(shape);
        group.sample_size(10);
        for n in [71, 224, 707] {
            let mesh = make(n); // 2·n²: 10⁴, 10⁵, 10⁶ triangles
            let count = mesh.triangles.len();
            group.throughput(Throughput::Elements(count as u64));
            group.bench_function(BenchmarkId::new("measures", count), |b| {
                b.iter(|| measures(black_box(&mesh)));
            });
            group.bench_function(BenchmarkId::new("build", count), |b| {
                b.iter(|| Hierarchy::build(black_box(&mesh)));
            });
            let tree = Hierarchy::build(&mesh);
            group.bench_function(BenchmarkId::new("self_pairs", count), |b| {
                b.iter(|| {
                    let mut pairs = 0_u64;
                    let done = tree.self_pairs(&Progress::default(), |_, _| {
                        pairs += 1;
                        ControlFlow::Continue(())
                    });
                    (pairs, done)
                });
            });
            group.bench_function(BenchmarkId::new("health", count), |b| {
                b.iter(|| health(black_box(&mesh), &Progress::default()));
            });
        }
        group.finish();
    }
}

criterion_group!(benches, bench_health);
criterion_main!(benches);
