//! Headers and layers that the tests share.

use crate::outside_reader::python_must_agree;
use base::Point;
use proptest::prelude::*;
use scan_path::{
    Block, ExposureKind, ExposureRow, HeadRow, Header, Layer, MadeFrom, MeltRow, PartRow, Paths,
    PlacementRow, RegionKind, SourceRow, TimesRow, VectorWriter, encode_layer, sha256,
};
use std::io::Cursor;

/// A small header of plausible tables, none left out: 3 placements, 2 exposures, 250 × 300 × 300 mm.
pub(crate) fn header(layer_count: u32) -> Header {
    let exposure = |name: &str, power_w, speed_mm_s| ExposureRow {
        name: name.to_owned(),
        recipe: "test powder, 100 µm".to_owned(),
        power_w,
        speed_mm_s,
        path_run_in_mm: 0.5,
        path_run_out_mm: 0.25,
        power_factor: (power_w > 20.0).then_some(1.06),
    };
    let placement = |part, copy, x| PlacementRow {
        part,
        copy: Some(copy),
        location_mm: [x, 0.1, 20.0],
        rotation_deg: [0.0, 0.0, 33.3],
        bounds_mm: Some([[x - 10.0, -9.9, 10.0], [x + 10.0, 10.1, 30.0]]),
    };
    Header {
        generator: "scan_path tests".to_owned(),
        job_name: "hinges & <clips>".to_owned(),
        machine_name: "test machine".to_owned(),
        build_space_mm: [250.0, 300.0, 300.0],
        layer_thickness_mm: 0.1,
        layer_count,
        spreading_direction_deg: Some(90.0),
        jump_speed_mm_s: 6000.0,
        beam_radius_mm: Some(0.25),
        melt: vec![MeltRow {
            recipe: "test powder, 100 µm".to_owned(),
            nominal_j_mm2: 0.0065,
            steady_j_mm2: 0.0125,
        }],
        times: Some(TimesRow { recoat_s: 12.0, min_layer_s: 20.0, ..TimesRow::default() }),
        head: Some(HeadRow {
            acceleration_mm_s2: [1.25e7, 1e7],
            jerk_mm_s3: Some(1e11),
            settle_us: 150.0,
            lag_us: 200.0,
            laser_on_delay_us: 90.0,
            laser_off_delay_us: 110.0,
            command_rate_hz: 100_000.0,
            command_bits: 20,
            distance_mm: 400.0,
            mirror_separation_mm: 20.0,
            has_flat_field_lens: false,
            field_size_mm: [260.0, 310.0],
        }),
        parts: ["hinge", "clip \"A\""].map(|name| PartRow { name: name.to_owned() }).to_vec(),
        placements: vec![placement(0, 1, -40.0), placement(0, 2, 0.0), placement(1, 1, 40.0)],
        exposures: vec![exposure("contour", 8.0, 1500.0), exposure("hatch", 21.5, 3000.0)],
        left_out: Vec::new(),
        made_from: Some(made_from()),
    }
}

fn made_from() -> MadeFrom {
    let row = |name: &str| SourceRow { name: name.to_owned(), sha256: sha256(name) };
    MadeFrom {
        job: sha256("job"),
        machine: sha256("machine"),
        recipes: vec![row("powder.ron")],
        meshes: vec![row("hinge.stl"), row("clip \"A\".3mf")],
    }
}

/// One layer with one block of each kind.
pub(crate) fn small_layer(index: u32) -> Layer {
    let mm = |x, y| Point::from_mm(x, y).unwrap();
    let shift = f64::from(index);
    let square = vec![
        mm(-45.0 + shift, -5.0),
        mm(-35.0 + shift, -5.0),
        mm(-35.0 + shift, 5.0),
        mm(-45.0 + shift, 5.0),
        mm(-45.0 + shift, -5.0),
    ];
    let block = |placement, exposure, kind, region, paths| Block {
        placement,
        exposure,
        kind,
        region,
        paths,
    };
    let lines = (0..4).map(f64::from).map(|i| [mm(-44.5, i - 2.0), mm(-35.5, i - 2.000_001)]);
    Layer {
        index,
        blocks: vec![
            block(
                0,
                0,
                ExposureKind::Contour,
                RegionKind::Core,
                Paths::Polylines { points: square, ends: vec![5] },
            ),
            block(
                0,
                1,
                ExposureKind::Hatch,
                RegionKind::DownFacing,
                Paths::Segments(lines.collect()),
            ),
            block(
                2,
                0,
                ExposureKind::Centreline,
                RegionKind::UpFacing,
                Paths::Polylines {
                    points: vec![
                        mm(40.0, 0.0),
                        mm(41.0, 0.5),
                        mm(42.0, 0.0),
                        mm(1.0, 0.0),
                        mm(2.0, 0.0),
                    ],
                    ends: vec![3, 5],
                },
            ),
        ],
    }
}

/// Writes the layers, which must be numbered from 0; the Python reader has read the file too.
pub(crate) fn file_of(header: &Header, layers: &[Layer]) -> Vec<u8> {
    let mut writer = VectorWriter::new(Cursor::new(Vec::new()), header.clone()).unwrap();
    for layer in layers {
        writer.push(encode_layer(layer, header).unwrap()).unwrap();
    }
    let file = writer.finish().unwrap().1.into_inner();
    python_must_agree(&file);
    file
}

/// A file of a few small layers, one of them empty.
pub(crate) fn small_file() -> (Header, Vec<Layer>, Vec<u8>) {
    let layers = vec![small_layer(0), Layer { index: 1, blocks: vec![] }, small_layer(2)];
    let header = header(3);
    let file = file_of(&header, &layers);
    (header, layers, file)
}

/// Layers 0, 1, … with any content that fits [`header`], degenerate paths on purpose.
pub(crate) fn any_layers() -> impl Strategy<Value = Vec<Layer>> {
    let x = prop_oneof![Just(-125_000_000), Just(125_000_000), Just(0), -125_000_000..=125_000_000];
    let point = (x, -150_000_000..=150_000_000).prop_map(|(x, y)| Point::new(x, y));
    let point = point.boxed();
    let segments = prop::collection::vec([point.clone(), point.clone()], 0..20);
    let polylines = prop::collection::vec(prop::collection::vec(point, 2..9), 0..6);
    let paths = prop_oneof![
        segments.prop_map(Paths::Segments),
        polylines.prop_map(|paths| {
            let mut ends = Vec::new();
            let mut points = Vec::new();
            for path in paths {
                points.extend(path);
                ends.push(u32::try_from(points.len()).unwrap());
            }
            Paths::Polylines { points, ends }
        })
    ];
    let kind = prop::sample::select(&ExposureKind::ALL[..]);
    let region = prop::sample::select(&RegionKind::ALL[..]);
    let block = (0..3_u32, 0..2_u16, kind, region, paths).prop_map(
        |(placement, exposure, kind, region, paths)| Block {
            placement,
            exposure,
            kind,
            region,
            paths,
        },
    );
    let blocks = prop::collection::vec(block, 0..5);
    prop::collection::vec(blocks, 0..6).prop_map(|layers| {
        let numbered = layers.into_iter().zip(0..);
        numbered.map(|(blocks, index)| Layer { index, blocks }).collect()
    })
}
