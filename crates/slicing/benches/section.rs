//! Preparing a mesh and cutting it: swept size, a layer that hits and one that misses, all layers
//! on one thread and on two.

use base::{Affine, Progress};
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use mesh::{Mesh, Topology};
use slicing::{Scratch, Slicer};
use std::hint::black_box;
use std::sync::atomic::{AtomicU32, Ordering::Relaxed};

#[path = "../tests/section_checks/shapes.rs"]
#[expect(dead_code, clippy::unwrap_used, reason = "shared with the tests, which use all of it")]
mod shapes;

const LAYERS: f64 = 1000.0;

/// A torus of about so many triangles, 100 mm high, in 1,000 layers.
fn torus(triangles: u32) -> (Mesh, Affine, f64) {
    let n = (f64::from(triangles) / 2.0).sqrt().round();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small count")]
    let n = n as u32;
    let mesh = shapes::torus(100.0, 50.0, n, triangles / 2 / n);
    (mesh, Affine::translation([0.0, 0.0, 50.0]), 100.0 / LAYERS)
}

fn prepare(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("prepare");
    group.sample_size(10);
    for triangles in [10_000, 100_000, 1_000_000] {
        let (mesh, pose, thickness) = torus(triangles);
        let topology = Topology::new(&mesh);
        group.throughput(Throughput::Elements(triangles.into()));
        group.bench_function(BenchmarkId::new("topology", triangles), |bench| {
            bench.iter(|| Topology::new(black_box(&mesh)));
        });
        group.bench_function(BenchmarkId::new("slicer", triangles), |bench| {
            let place = || Slicer::new(&mesh, &topology, &pose, thickness, &Progress::default());
            bench.iter(place);
        });
    }
}

fn one_layer(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("one_layer");
    for triangles in [10_000, 100_000, 1_000_000] {
        let (mesh, pose, thickness) = torus(triangles);
        let slicer = shapes::placed(&mesh, &pose, thickness);
        for (name, layer) in [("hit", 500), ("miss", 1500)] {
            group.bench_function(BenchmarkId::new(name, triangles), |bench| {
                let mut scratch = Scratch::default();
                bench.iter(|| slicer.section(black_box(layer), &mut scratch));
            });
        }
        // No adjacency at all: every triangle is a chain of its own.
        if triangles == 10_000 {
            let soup = shapes::placed(&shapes::soup(&mesh), &pose, thickness);
            group.bench_function(BenchmarkId::new("soup", triangles), |bench| {
                let mut scratch = Scratch::default();
                bench.iter(|| soup.section(black_box(500), &mut scratch));
            });
        }
    }
}

fn all_layers(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("all_layers");
    group.sample_size(10);
    let (mesh, pose, thickness) = torus(1_000_000);
    group.bench_function("torus from the mesh on", |bench| {
        bench.iter(|| cut_all(&shapes::placed(&mesh, &pose, thickness), 1));
    });
    let slicer = shapes::placed(&mesh, &pose, thickness);
    for threads in [1, 2] {
        group.bench_function(BenchmarkId::new("torus", threads), |bench| {
            bench.iter(|| cut_all(&slicer, threads));
        });
    }
}

/// Points in all layers; threads take the next layer as they become free.
fn cut_all(slicer: &Slicer, threads: usize) -> usize {
    let next = AtomicU32::new(slicer.layers().start);
    let work = || {
        let (mut scratch, mut points) = (Scratch::default(), 0);
        loop {
            let layer = next.fetch_add(1, Relaxed);
            if layer >= slicer.layers().end {
                return points;
            }
            points += slicer.section(layer, &mut scratch).rings.points().len();
        }
    };
    std::thread::scope(|scope| {
        let others: Vec<_> = (1..threads).map(|_| scope.spawn(work)).collect();
        others.into_iter().fold(work(), |sum, other| sum + other.join().unwrap_or_default())
    })
}

criterion_group!(benches, prepare, one_layer, all_layers);
criterion_main!(benches);
