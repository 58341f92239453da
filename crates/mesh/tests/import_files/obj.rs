//! OBJ: polygons, indices of every kind, objects and groups.

use crate::{check_promises, check_welded, kinds, only, open, read, volume};
use mesh::import::{Format, ImportError, Imported};

/// A cube of side 2 about the origin, as quads.
const CUBE: &str =
    "v -1 -1 -1\nv 1 -1 -1\nv 1 1 -1\nv -1 1 -1\nv -1 -1 1\nv 1 -1 1\nv 1 1 1\nv -1 1 1
f 4 3 2 1\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n";

fn obj(text: &str) -> Result<Imported, ImportError> {
    read(text.as_bytes(), Format::Obj)
}

#[track_caller]
fn check_cube(text: &str) {
    let imported = obj(text).unwrap();
    let mesh = only(&imported);
    check_welded(mesh);
    assert_eq!((mesh.triangles.len(), mesh.vertices.len()), (12, 8));
    assert!((volume(mesh) - 8.0).abs() < 1e-12);
    assert_eq!(kinds(&imported), Vec::<&str>::new());
}

#[test]
fn indices_come_in_many_forms() {
    check_cube(CUBE);
    check_cube(&CUBE.replace('\n', "\r\n"));
    check_cube(&CUBE.replace("f 4 3 2 1", "f 4/1 3/1/1 2//1 1/ # a comment"));
    check_cube(&CUBE.replace("f 4 3 2 1", "f 4 3 \\\n 2 \\\r\n\t1"));
    check_cube(&CUBE.replace("f 4 3 2 1", "f -5 -6 -7 -8"));
    check_cube(&CUBE.replace("v 1 1 1\n", "v 1.0e0 +1 1 0.5 0.5 0.5\n"));
    check_cube(
        &(CUBE.replace("v -1 -1 -1\n", "") + "v 9 9 9")
            .replace("v 1 -1 -1\n", "v -1 -1 -1\nv 1 -1 -1\n"),
    );
    // the file that the name of the test collection promises: volume 8, every index negative
    let file = open("broken/negative_indices.obj").unwrap();
    check_welded(only(&file));
    assert!((volume(only(&file)) - 8.0).abs() < 1e-5);
}

#[test]
fn vertices_at_one_position_are_one() {
    // every face with vertices of its own
    let mut text = String::new();
    let positions: Vec<&str> = CUBE.lines().filter(|line| line.starts_with('v')).collect();
    for face in CUBE.lines().filter_map(|line| line.strip_prefix("f ")) {
        for corner in face.split(' ') {
            text += positions[corner.parse::<usize>().unwrap() - 1];
            text += "\n";
        }
        text += "f -4 -3 -2 -1\n";
    }
    check_cube(&text);
}

#[test]
fn a_mark_of_the_encoding_takes_no_vertex_and_other_encodings_are_named() {
    check_cube(&format!("\u{feff}{CUBE}"));
    for wide in [u16::to_le_bytes, u16::to_be_bytes] {
        for mark in ["", "\u{feff}"] {
            let text = format!("{mark}{CUBE}");
            let bytes: Vec<u8> = text.encode_utf16().flat_map(wide).collect();
            let error = read(&bytes, Format::Obj).unwrap_err().to_string();
            assert!(error.contains("UTF-16"), "{error}");
        }
    }
}

#[test]
fn names_are_one_line_of_plain_text() {
    let long = "x".repeat(2_000_000);
    let imported = obj(&format!("o \u{1b}[31mred\u{7}{long}\n{CUBE}")).unwrap();
    let name = &imported.objects[0].name;
    assert!(name.starts_with("[31mred x") && name.chars().count() <= 1000, "{name:.40}");
}

#[test]
fn polygons_with_notches_keep_their_volume() {
    // a prism over an L, faces as single polygons: area 3, height 1
    let text = "v 0 0 0\nv 2 0 0\nv 2 1 0\nv 1 1 0\nv 1 2 0\nv 0 2 0
v 0 0 1\nv 2 0 1\nv 2 1 1\nv 1 1 1\nv 1 2 1\nv 0 2 1
f 6 5 4 3 2 1\nf 7 8 9 10 11 12
f 1 2 8 7\nf 2 3 9 8\nf 3 4 10 9\nf 4 5 11 10\nf 5 6 12 11\nf 6 1 7 12";
    let imported = obj(text).unwrap();
    assert_eq!(only(&imported).triangles.len(), 20);
    assert!((volume(only(&imported)) - 3.0).abs() < 1e-12);
    assert!((only(&imported).vertices.len(), 12) == (12, 12));
}

#[test]
fn named_objects_are_parts_and_groups_are_not() {
    let file = open("broken/two_objects.obj").unwrap();
    let names: Vec<_> = file.objects.iter().map(|object| object.name.as_str()).collect();
    assert_eq!(names, ["cube", "tetra"]);
    assert_eq!(file.objects[1].mesh.triangles.len(), 4);
    check_promises(&file);
    check_cube(
        &("g bottom\no only one\n".to_owned() + &CUBE.replace("f 1 2 6 5", "g side\nf 1 2 6 5")),
    );
}

#[test]
fn what_cannot_be_meant_is_an_error_with_its_line() {
    let error = |text: &str| obj(text).unwrap_err().to_string();
    assert!(error("v 0 0 0\nf 1 2 1").starts_with("line 2: vertex 2 of 1 does not exist"));
    assert!(error("v 0 0 0\nf 1 -2 1").starts_with("line 2: \"-2\" is not the index of a vertex"));
    assert!(error("v 0 0 0\n\nf 0 1 1").starts_with("line 3: \"0\" is not"));
    assert!(error("f 99999999999 1 1").starts_with("line 1"));
    assert!(error("v 0 zero 0").starts_with("line 1: \"zero\""));
    assert!(error("v 0 0").starts_with("line 1: \"\""));
    assert!(matches!(obj("v 0 0 0\nl 1 1\np 1"), Err(ImportError::NoTriangles { .. })));
}

#[test]
fn what_is_odd_is_a_finding() {
    let short = open("broken/notenoughindices.obj").unwrap();
    assert_eq!((kinds(&short), only(&short).triangles.len()), (vec!["faces_too_short"], 1));
    let degenerate = open("broken/deg_faces.obj").unwrap();
    assert_eq!(only(&degenerate).triangles.len(), 4); // f 1 1 3 stays
    let all_in_one_point = open("broken/degenerate_mesh.obj").unwrap();
    assert_eq!(only(&all_in_one_point).vertices.len(), 1);
    assert!(matches!(open("broken/inf_nan.obj"), Err(ImportError::NoTriangles { .. })));
    assert_eq!(only(&open("broken/eof_test.obj").unwrap()).triangles.len(), 1);
    let curved = obj(&(CUBE.to_owned() + "surf 0 1 0 1 1 2 3 4")).unwrap();
    assert_eq!(kinds(&curved), ["curved_surfaces_ignored"]);
}
