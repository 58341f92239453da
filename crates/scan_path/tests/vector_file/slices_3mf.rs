//! 3MF with slice stacks. `tests/oracles/open_with_lib3mf.py` opens the same file with another library.

use base::Point;
use scan_path::slices_3mf::{
    Build3mf, Slice, SlicedObject, SlicesError, SlicesWriter, write_slices_3mf,
};
use std::io::{Cursor, Read};
use threemf2::model::OptionalResourceId;
use threemf2::package::ThreemfPackage;

fn build() -> Build3mf {
    Build3mf {
        title: "rings & boxes".to_owned(),
        application: "scan_path tests".to_owned(),
        build_space_mm: [250.0, 300.0, 300.0],
    }
}

/// A box of 20 × 10 × `count` · 0.1 mm around (`x`, 0) with a square hole through it, standing at
/// 5 mm; one slice has a void.
fn object(x: f64, count: u32) -> SlicedObject<impl Iterator<Item = Result<Slice, SlicesError>>> {
    let corners = move |w: f64, h: f64| {
        [(-w, -h), (w, -h), (w, h), (-w, h)]
            .map(|(a, b)| Point::from_mm(x + a, b).unwrap())
            .to_vec()
    };
    let slices = (1..=count).map(move |k| {
        let mut hole = corners(2.0, 2.0);
        hole.reverse();
        hole.push(hole[0]); // closed explicitly: must not be written twice
        let speck = corners(2.0, 2.0)[..2].to_vec();
        let rings = if k == 2 { vec![] } else { vec![corners(10.0, 5.0), hole, speck] };
        Ok(Slice { z_top_mm: 5.0 + f64::from(k) * 0.1, rings })
    });
    let top = 5.0 + f64::from(count) * 0.1;
    let vertices = [5.0, top]
        .into_iter()
        .flat_map(|z| [(-10., -5.), (10., -5.), (10., 5.), (-10., 5.)].map(|(a, b)| [x + a, b, z]));
    let triangles = [
        [0, 2, 1],
        [0, 3, 2],
        [4, 5, 6],
        [4, 6, 7],
        [0, 1, 5],
        [0, 5, 4],
        [1, 2, 6],
        [1, 6, 5],
        [2, 3, 7],
        [2, 7, 6],
        [3, 0, 4],
        [3, 4, 7],
        [3, 3, 7],
    ];
    SlicedObject {
        name: format!("box \"{count}\""),
        part_number: if count == 3 { String::new() } else { format!("B-{count}") },
        z_bottom_mm: 5.0,
        slices,
        vertices: vertices.collect(),
        triangles: triangles.to_vec(),
    }
}

fn file() -> Vec<u8> {
    let objects = [object(-50.0, 3), object(50.0, 5)];
    let out = write_slices_3mf(Cursor::new(Vec::new()), &build(), objects).unwrap();
    if let Some(path) = std::env::var_os("SLICES_3MF_OUT") {
        std::fs::write(path, out.get_ref()).unwrap(); // for tests/oracles/open_with_lib3mf.py
    }
    out.into_inner()
}

/// Outside source: threemf2 reads the package; its numbers are those put in, from the corner.
#[test]
fn another_library_reads_the_slices_at_the_right_place() {
    let package =
        ThreemfPackage::from_reader_with_memory_optimized_deserializer(Cursor::new(file()), true)
            .unwrap();
    let model = &package.root;
    assert_eq!(model.build.item.len(), 2);
    let stacks = &model.resources.slicestack;
    let objects = &model.resources.object;
    assert_eq!((stacks.len(), objects.len()), (2, 2));
    for ((stack, object), count) in stacks.iter().zip(objects).zip([3, 5]) {
        assert_eq!(object.slicestackid, OptionalResourceId::new(stack.id));
        assert_eq!(object.name.as_deref(), Some(format!("box \"{count}\"").as_str()));
        assert_eq!(stack.slice.len(), count);
        assert!(stack.slice[1].polygon.is_empty());
        let rings = stack.slice.iter().map(|slice| slice.polygon.len()).sum::<usize>();
        assert_eq!(rings, 2 * (count - 1));
    }
}

#[test]
fn the_model_of_one_object() {
    let out = write_slices_3mf(Cursor::new(Vec::new()), &build(), [object(0.0, 2)]).unwrap();
    let mut archive = zip::ZipArchive::new(out).unwrap();
    let mut model = String::new();
    archive.by_name("3D/3dmodel.model").unwrap().read_to_string(&mut model).unwrap();
    insta::assert_snapshot!(model);
}

#[test]
fn bytes_do_not_depend_on_when_they_are_written() {
    assert_eq!(file(), file());
    let date = (1 << 5 | 1_u16).to_le_bytes(); // 1980-01-01, not today
    assert_eq!(file()[12..14], date);
}

#[test]
fn what_cannot_be_written_is_an_error() {
    let new = || SlicesWriter::new(Cursor::new(Vec::new()), &build()).unwrap();
    let none = std::iter::empty::<&[Point]>;
    let mut writer = new();
    let mut stack = writer.object("a", "", 1.0).unwrap();
    assert!(matches!(stack.slice(1.0, none()), Err(SlicesError::NotRising { .. })));
    stack.slice(1.1, none()).unwrap();
    assert!(matches!(stack.slice(1.1, none()), Err(SlicesError::NotRising { .. })));
    assert!(matches!(stack.slice(f64::NAN, none()), Err(SlicesError::BadNumber { .. })));
    let error = stack.finish(&[[0.0; 3]], &[[0, 1, 2]]).unwrap_err();
    assert!(matches!(error, SlicesError::NoSuchVertex { triangle: 0, .. }), "{error}");
    assert!(matches!(writer.object("b", "", 0.0).map(drop), Err(SlicesError::Unfinished)));
    assert!(matches!(writer.finish().map(drop), Err(SlicesError::Unfinished)));
    let mut writer = new();
    let stack = writer.object("a", "", 1.0).unwrap();
    let error = stack.finish(&[[f64::INFINITY, 0.0, 0.0]], &[]).unwrap_err();
    assert!(matches!(error, SlicesError::BadNumber { .. }), "{error}");

    let failing = SlicedObject {
        name: String::new(),
        part_number: String::new(),
        z_bottom_mm: 0.0,
        slices: [Err(Text("no section".to_owned()))],
        vertices: vec![],
        triangles: vec![],
    };
    let Err(Text(text)) = write_slices_3mf(Cursor::new(Vec::new()), &build(), [failing]) else {
        panic!("the error of the slices was lost");
    };
    assert_eq!(text, "no section");
}

/// An error of the caller's own.
struct Text(String);

impl From<SlicesError> for Text {
    fn from(error: SlicesError) -> Self {
        Self(error.to_string())
    }
}
