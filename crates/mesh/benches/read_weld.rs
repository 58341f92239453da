//! STL, read and welded, from bytes in memory: the swept size, the order that suits the cache
//! least, a soup without shared corners, and the text form.
//!
//! How it stands beside stl-reader 0.2.3 (`PyPI`, C++, MIT: reads a file and welds exactly) is in
//! the table of DEVELOPERS.md, made by `tests/oracles/speed.sh`.

use base::Progress;
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use mesh::import::{Format, import};
use std::f64::consts::TAU;
use std::fmt::Write;
use std::hint::black_box;

type Facet = [[f32; 3]; 3];

/// A torus of radii 100 and 50 mm, `2 · around · across` triangles, all lower triangles of the
/// quads first.
fn torus(around: usize, across: usize) -> Vec<Facet> {
    let point = |i: usize, j: usize| {
        let u = (i % around) as f64 * TAU / around as f64;
        let v = ((j % across) as f64 + 0.5) * TAU / across as f64;
        let r = 100.0 + 50.0 * v.cos();
        #[expect(clippy::cast_possible_truncation, reason = "STL holds f32")]
        [r * u.cos(), r * u.sin(), 50.0 * v.sin()].map(|c| c as f32)
    };
    let quads = || (0..around).flat_map(|i| (0..across).map(move |j| (i, j)));
    let lower = quads().map(|(i, j)| [point(i, j), point(i + 1, j), point(i + 1, j + 1)]);
    let upper = quads().map(|(i, j)| [point(i, j), point(i + 1, j + 1), point(i, j + 1)]);
    lower.chain(upper).collect()
}

/// The same facets in an order without any locality.
fn shuffled(mut facets: Vec<Facet>) -> Vec<Facet> {
    let mut state = 1_u64;
    for k in (1..facets.len()).rev() {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        let other = (state >> 33) as usize % (k + 1);
        facets.swap(k, other);
    }
    facets
}

fn binary(facets: &[Facet]) -> Vec<u8> {
    let mut bytes = vec![0; 80];
    bytes.extend(u32::try_from(facets.len()).unwrap_or(u32::MAX).to_le_bytes());
    for facet in facets {
        bytes.extend([0; 12]);
        bytes.extend(facet.as_flattened().iter().flat_map(|c| c.to_le_bytes()));
        bytes.extend([0; 2]);
    }
    bytes
}

fn text(facets: &[Facet]) -> Vec<u8> {
    let mut text = "solid torus\n".to_owned();
    for facet in facets {
        text += "facet normal 0 0 0\nouter loop\n";
        for [x, y, z] in facet {
            let _ = writeln!(text, "vertex {x:e} {y:e} {z:e}");
        }
        text += "endloop\nendfacet\n";
    }
    text += "endsolid torus\n";
    text.into_bytes()
}

fn bench_read_weld(c: &mut Criterion) {
    let mut group = c.benchmark_group("read_weld");
    group.sample_size(10);
    let soup =
        || (0..333_333).map(|k| [[k as f32, 0., 0.], [k as f32, 1., 0.], [k as f32, 0., 1.]]);
    let cases = [
        ("binary torus", binary(&torus(100, 50)), 10_000),
        ("binary torus", binary(&torus(1000, 500)), 1_000_000),
        ("binary torus, shuffled", binary(&shuffled(torus(1000, 500))), 1_000_000),
        ("binary soup", binary(&soup().collect::<Vec<_>>()), 333_333),
        ("text torus", text(&torus(300, 150)), 90_000),
    ];
    for (name, bytes, triangles) in cases {
        group.throughput(Throughput::Elements(triangles));
        group.bench_function(BenchmarkId::new(name, triangles), |b| {
            b.iter(|| import(black_box(&bytes), Format::Stl, None, &Progress::default()));
        });
    }
    group.finish();
}

criterion_group!(benches, bench_read_weld);
criterion_main!(benches);
