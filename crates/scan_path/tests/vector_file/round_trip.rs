//! What is written comes back, and the bytes depend on the content alone.

use crate::samples::{any_layers, file_of, header, small_file, small_layer};
use base::{Point, Progress};
use proptest::prelude::*;
use scan_path::{
    EncodeError, EncodedLayer, Header, Layer, PathStats, Paths, VectorReader, VectorWriter,
    WriteError, check_file, encode_layer, stats,
};
use std::io::{Cursor, Read};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_layers_come_back_and_nothing_is_found(layers in any_layers()) {
        let header = header(u32::try_from(layers.len()).unwrap());
        let file = file_of(&header, &layers);
        let mut reader = VectorReader::open(Cursor::new(&file)).unwrap();
        prop_assert_eq!(reader.header(), &header);
        let mut sum = PathStats::default();
        for layer in layers.iter().rev() { // any order
            let k = layer.index;
            prop_assert_eq!(&reader.layer(k).unwrap(), layer);
            prop_assert_eq!(reader.index()[k as usize].stats, stats(layer));
            sum.add(&stats(layer));
        }
        prop_assert_eq!(reader.totals().stats, sum);
        prop_assert_eq!(check_file(&mut reader, &Progress::default()).unwrap(), []);
    }

    #[test]
    fn layers_encoded_on_threads_in_any_order_give_the_same_bytes(layers in any_layers()) {
        let header = header(u32::try_from(layers.len()).unwrap());
        let mut encoded: Vec<_> = std::thread::scope(|scope| {
            let encode = |layer| scope.spawn({
                let header = &header;
                move || encode_layer(layer, header).unwrap()
            });
            let tasks: Vec<_> = layers.iter().rev().map(encode).collect();
            tasks.into_iter().map(|task| task.join().unwrap()).collect()
        });
        encoded.sort_by_key(EncodedLayer::index);
        let mut writer = VectorWriter::new(Vec::new(), header.clone()).unwrap();
        for layer in encoded {
            writer.push(layer).unwrap();
        }
        prop_assert_eq!(writer.finish().unwrap().1, file_of(&header, &layers));
    }
}

/// Both readers take files that say nothing of the beam's width and of what melts.
#[test]
fn beam_and_melt_may_be_left_out() {
    let bare = Header { beam_radius_mm: None, melt: Vec::new(), ..header(1) };
    let file = file_of(&bare, &[small_layer(0)]);
    let mut reader = VectorReader::open(Cursor::new(&file)).unwrap();
    assert_eq!(reader.header(), &bare);
    assert_eq!(check_file(&mut reader, &Progress::default()).unwrap(), []);
}

#[test]
fn the_manifest_of_a_small_file() {
    let (_, _, file) = small_file();
    let mut archive = zip::ZipArchive::new(Cursor::new(file)).unwrap();
    let mut manifest = String::new();
    archive.by_name("manifest.json").unwrap().read_to_string(&mut manifest).unwrap();
    insta::assert_snapshot!(manifest);
}

#[test]
fn a_writer_wants_all_layers_in_order() {
    let header = header(2);
    let [first, second] = [0, 1].map(|k| encode_layer(&small_layer(k), &header).unwrap());
    let mut writer = VectorWriter::new(Vec::new(), header.clone()).unwrap();
    let error = writer.push(second.clone()).unwrap_err();
    assert!(matches!(error, WriteError::OutOfOrder { expected: 0, pushed: 1 }), "{error}");
    writer.push(first.clone()).unwrap();
    assert!(matches!(writer.push(first), Err(WriteError::OutOfOrder { expected: 1, pushed: 0 })));
    let error = writer.finish().unwrap_err();
    assert!(matches!(error, WriteError::Incomplete { pushed: 1, layer_count: 2 }), "{error}");

    let mut faulty = header;
    faulty.exposures[0].speed_mm_s = f64::NAN;
    assert!(matches!(VectorWriter::new(Vec::new(), faulty), Err(WriteError::Header(_))));
}

#[test]
fn layers_that_do_not_fit_the_tables_or_the_build_space_are_not_encoded() {
    let header = header(1);
    let with = |change: &dyn Fn(&mut Layer)| {
        let mut layer = small_layer(0);
        change(&mut layer);
        encode_layer(&layer, &header).unwrap_err()
    };
    let ends = |ends: &[u32]| {
        let ends = ends.to_vec();
        with(&move |layer: &mut Layer| {
            if let Paths::Polylines { ends: old, .. } = &mut layer.blocks[2].paths {
                old.clone_from(&ends);
            }
        })
    };
    assert!(matches!(with(&|l| l.index = 1), EncodeError::LayerOutOfRange { layer: 1, .. }));
    let error = with(&|l| l.blocks[1].placement = 3);
    assert!(matches!(error, EncodeError::RowOutOfRange { table: "placement", row: 3, .. }));
    let error = with(&|l| l.blocks[1].exposure = 2);
    assert!(matches!(error, EncodeError::RowOutOfRange { table: "exposure", row: 2, .. }));
    for bad in [&[3, 4, 5][..], &[3], &[3, 6], &[4, 3, 5], &[], &[3, 5, 5]] {
        let error = ends(bad);
        assert!(matches!(error, EncodeError::BadPath { block: 2, .. }), "{bad:?}: {error}");
    }
    let error = with(&|layer| {
        layer.blocks[1].paths =
            Paths::Segments(vec![[Point::default(), Point::new(0, 150_000_001)]]);
    });
    assert_eq!(
        error.to_string(),
        "layer 0, block 1: the point (0.000000, 150.000001) mm lies outside the build space; move or turn the part"
    );
}
