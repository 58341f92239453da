//! The dose of a layer of 50,000 vectors.
#![allow(missing_docs, reason = "criterion_group! makes an undocumented function")]

use base::Progress;
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use estimate::{Beam, DoseField, Grid, Stroke, melted};
use std::hint::black_box;

const SIZE: f64 = 150.0;
const ANGLE_DEG: f64 = 67.0;
const SPACING: f64 = 0.2;
/// Lines to either side of the corner, and pieces to either side along each: more than the square holds.
const LINES: i32 = 1500;
const PIECES: i32 = 140;
/// Long enough to give about 50,000 vectors.
const STRIPE: f64 = 2.27;

/// A square with three contours, and hatch at an angle, cut into stripes.
fn layer() -> Vec<Stroke> {
    let stroke = |from, to| Stroke::new(from, to, 30.0, 5000.0);
    let mut strokes = Vec::new();
    for inset in [0.18, 0.38, 0.58] {
        let (lo, hi) = (inset, SIZE - inset);
        let corners = [[lo, lo], [hi, lo], [hi, hi], [lo, hi]];
        strokes.extend((0..4).map(|i| stroke(corners[i], corners[(i + 1) % 4])));
    }
    let (sin, cos) = ANGLE_DEG.to_radians().sin_cos();
    for k in -LINES..LINES {
        let across = f64::from(k) * SPACING;
        let at = |along: f64| [along * cos - across * sin, along * sin + across * cos];
        for piece in -PIECES..PIECES {
            let start = f64::from(piece) * STRIPE;
            let (from, to) = (at(start), at(start + STRIPE));
            let is_within = |p: [f64; 2]| p.iter().all(|c| (0.8..=SIZE - 0.8).contains(c));
            if is_within(from) && is_within(to) {
                strokes.push(stroke(from, to));
            }
        }
    }
    strokes
}

fn dose(c: &mut Criterion) {
    let strokes = layer();
    let beam = Beam::new(0.25).expect("a positive radius");
    let field = DoseField::new(&strokes, beam).expect("finite strokes");
    let mut group = c.benchmark_group("dose");
    group.sample_size(10);
    group.throughput(Throughput::Elements(strokes.len() as u64));
    group.bench_function(format!("index {} vectors", strokes.len()), |b| {
        b.iter(|| DoseField::new(black_box(&strokes), beam));
    });
    for pitch in [0.02, 0.05] {
        let grid = Grid::over([0.0; 2], [SIZE; 2], pitch).expect("a pitch");
        group.throughput(Throughput::Elements((grid.columns() * grid.rows()) as u64));
        group.bench_function(format!("grid of {pitch} mm"), |b| {
            b.iter(|| field.grid(black_box(&grid), &Progress::default()));
        });
    }
    let bounds = field.bounds().expect("some strokes");
    group.throughput(Throughput::Elements(strokes.len() as u64));
    group.bench_function("outline of the melt", |b| {
        b.iter(|| melted(&field, black_box(0.006_5), bounds, &Progress::default()));
    });
    group.throughput(Throughput::Elements(1));
    group.bench_function("one place", |b| b.iter(|| field.at(black_box([75.01, 60.03]))));
    group.finish();
}

criterion_group!(benches, dose);
criterion_main!(benches);
