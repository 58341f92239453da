//! Encoding and decoding a layer: hatch at an odd angle (little to compress) and contours.

use base::Point;
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use scan_path::{
    Block, ExposureKind, ExposureRow, Header, Layer, PartRow, Paths, PlacementRow, RegionKind,
    VectorReader, VectorWriter, encode_layer,
};
use std::f64::consts::TAU;
use std::hint::black_box;
use std::io::Cursor;

fn header() -> Header {
    Header {
        generator: String::new(),
        job_name: String::new(),
        machine_name: String::new(),
        build_space_mm: [300.0; 3],
        layer_thickness_mm: 0.1,
        layer_count: 1,
        spreading_direction_deg: None,
        jump_speed_mm_s: 5000.0,
        beam_radius_mm: None,
        melt: Vec::new(),
        times: None,
        head: None,
        parts: vec![PartRow { name: String::new() }],
        placements: vec![PlacementRow {
            copy: Some(1),
            part: 0,
            location_mm: [0.0; 3],
            rotation_deg: [0.0; 3],
            bounds_mm: None,
        }],
        exposures: vec![ExposureRow {
            name: String::new(),
            recipe: String::new(),
            power_w: 20.0,
            speed_mm_s: 3000.0,
            path_run_in_mm: 0.0,
            path_run_out_mm: 0.0,
            power_factor: None,
        }],
        left_out: Vec::new(),
        made_from: None,
    }
}

/// `discs` wavy discs of 10 mm radius, hatched at 67° or with one contour of 500 points.
fn layer(discs: u32, kind: ExposureKind) -> Layer {
    let blocks = (0..discs).map(|i| {
        let (column, row) = (f64::from(i % 12), f64::from(i / 12 % 12));
        let (cx, cy) = (column * 22.0 - 121.0, row * 22.0 - 121.0);
        let (sin, cos) = 67_f64.to_radians().sin_cos();
        let radius = |angle: f64| 10.0 * (1.0 + 0.02 * (7.0 * angle + f64::from(i)).sin());
        let paths = match kind {
            ExposureKind::Hatch => Paths::Segments(
                (-39..=39)
                    .map(|line| {
                        let v = f64::from(line) * 0.25;
                        let half = (100.0 - v * v).sqrt() * radius(v) / 10.0;
                        let half = if line % 2 == 0 { half } else { -half };
                        let at = |u: f64| (cx + cos * u - sin * v, cy + sin * u + cos * v);
                        [-half, half].map(at).map(|(x, y)| Point::from_mm(x, y).unwrap_or_default())
                    })
                    .collect(),
            ),
            _ => Paths::Polylines {
                points: (0..500)
                    .map(|step| {
                        let angle = f64::from(step) * TAU / 499.0;
                        let (sin, cos) = angle.sin_cos();
                        let r = radius(angle);
                        Point::from_mm(cx + r * cos, cy + r * sin).unwrap_or_default()
                    })
                    .collect(),
                ends: vec![500],
            },
        };
        Block { placement: 0, exposure: 0, kind, region: RegionKind::Core, paths }
    });
    Layer { index: 0, blocks: blocks.collect() }
}

fn bench_layers(c: &mut Criterion) {
    let header = header();
    let mut group = c.benchmark_group("layer");
    for discs in [10, 1000] {
        for (name, kind) in [("hatch", ExposureKind::Hatch), ("contour", ExposureKind::Contour)] {
            let layer = layer(discs, kind);
            let Ok(encoded) = encode_layer(&layer, &header) else { return };
            let marks = encoded.row().stats.marks;
            let Ok(mut writer) = VectorWriter::new(Vec::new(), header.clone()) else { return };
            let Ok(()) = writer.push(encoded.clone()) else { return };
            let Ok((totals, file)) = writer.finish() else { return };
            let points = totals.stats.points;
            eprintln!("{name}/{discs}: {:.2} bytes per point", file.len() as f64 / points as f64);
            let Ok(mut reader) = VectorReader::open(Cursor::new(file)) else { return };
            group.throughput(Throughput::Elements(marks));
            group.bench_function(BenchmarkId::new(format!("encode_{name}"), discs), |b| {
                b.iter(|| encode_layer(black_box(&layer), &header));
            });
            group.bench_function(BenchmarkId::new(format!("decode_{name}"), discs), |b| {
                b.iter(|| reader.layer(black_box(0)));
            });
        }
    }
    group.finish();
}

criterion_group!(benches, bench_layers);
criterion_main!(benches);
