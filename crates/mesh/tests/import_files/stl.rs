//! STL, both forms: well-formed, and wrong in every way that files are.

use crate::{bytes, check_welded, kinds, only, open, read, volume};
use base::{Progress, Unit};
use mesh::import::{Format, ImportError, Limits, import, import_from};

type Facet = [[f32; 3]; 3];

/// Corner tetrahedron, counter-clockwise outside, volume 1/6.
const TETRAHEDRON: [Facet; 4] = [
    [[0., 0., 0.], [0., 1., 0.], [1., 0., 0.]],
    [[0., 0., 0.], [1., 0., 0.], [0., 0., 1.]],
    [[0., 0., 0.], [0., 0., 1.], [0., 1., 0.]],
    [[1., 0., 0.], [0., 1., 0.], [0., 0., 1.]],
];

pub(crate) fn binary(header: &[u8], count: u32, facets: &[Facet]) -> Vec<u8> {
    let mut bytes = header.to_vec();
    bytes.resize(80, 0);
    bytes.extend(count.to_le_bytes());
    for facet in facets {
        bytes.extend([0; 12]);
        bytes.extend(facet.as_flattened().iter().flat_map(|c| c.to_le_bytes()));
        bytes.extend([0; 2]);
    }
    bytes
}

pub(crate) fn text(facets: &[Facet], line_end: &str) -> String {
    let mut lines = vec!["solid part of mine".to_owned()];
    for facet in facets {
        lines.push("facet normal 0 0 0".to_owned());
        lines.push("  outer loop".to_owned());
        lines.extend(facet.iter().map(|[x, y, z]| format!("    vertex {x:e} {y:+} {z:?}")));
        lines.push("  endloop".to_owned());
        lines.push("endfacet".to_owned());
    }
    lines.push("endsolid part of mine".to_owned());
    lines.join(line_end)
}

#[track_caller]
fn check_tetrahedron(bytes: &[u8], expected_kinds: &[&str]) {
    let imported = read(bytes, Format::Stl).unwrap();
    let mesh = only(&imported);
    check_welded(mesh);
    assert_eq!((mesh.triangles.len(), mesh.vertices.len()), (4, 4));
    assert!((volume(mesh) - 1.0 / 6.0).abs() < 1e-15);
    assert_eq!(kinds(&imported), expected_kinds);
}

#[test]
fn both_forms_give_the_same_mesh() {
    let binary = binary(b"any", 4, &TETRAHEDRON);
    check_tetrahedron(&binary, &[]);
    for line_end in ["\n", "\r\n", "\r", "\t \n\n"] {
        let text = text(&TETRAHEDRON, line_end);
        if line_end != "\r" {
            check_tetrahedron(text.as_bytes(), &[]);
            check_tetrahedron(text.to_uppercase().as_bytes(), &[]);
        }
        let one = read(text.as_bytes(), Format::Stl).unwrap();
        assert_eq!(only(&one), only(&read(&binary, Format::Stl).unwrap()));
        assert_eq!(one.objects[0].name, "part of mine");
    }
    let marked = [b"\xef\xbb\xbf\n".as_slice(), text(&TETRAHEDRON, "\n").as_bytes()].concat();
    check_tetrahedron(&marked, &[]);
}

#[test]
fn a_binary_file_that_begins_with_solid_is_binary() {
    check_tetrahedron(&binary(b"solid facet normal 0 0 0", 4, &TETRAHEDRON), &[]);
    // even if its count is wrong
    let lying = binary(b"solid facet", 7, &TETRAHEDRON);
    check_tetrahedron(&lying, &["count_field_wrong"]);
    let from_file = open("broken_syntax/wrongHeader.bin.stl").unwrap();
    assert!((volume(only(&from_file)) - 1e6).abs() < 1e-6); // cube of 100 mm
}

#[test]
fn the_bytes_decide_not_the_count() {
    for lie in [0, 1, 3, 5, 66, u32::MAX] {
        check_tetrahedron(&binary(b"", lie, &TETRAHEDRON), &["count_field_wrong"]);
    }
    let from_file = open("broken_syntax/incorrectFaceCounter.bin.stl").unwrap();
    assert_eq!(kinds(&from_file), ["count_field_wrong"]);
    assert_eq!(only(&from_file).triangles.len(), 4);
}

#[test]
fn trailing_bytes_are_a_finding() {
    let mut bytes = binary(b"", 4, &TETRAHEDRON);
    bytes.extend(b"colour table");
    check_tetrahedron(&bytes, &["trailing_bytes"]);
    bytes.resize(84 + 4 * 50 + 77, 1); // longer than a record, not a multiple
    check_tetrahedron(&bytes, &["trailing_bytes"]);
    let text = text(&TETRAHEDRON, "\n");
    check_tetrahedron((text.clone() + "\ncolour table").as_bytes(), &["trailing_bytes"]);
    check_tetrahedron((text + "\n\0\0\0").as_bytes(), &[]); // filling
}

#[test]
fn a_file_cut_short_is_refused_at_its_place() {
    let bytes = binary(b"", 4, &TETRAHEDRON);
    let error = read(&bytes[..84 + 2 * 50 + 20], Format::Stl).unwrap_err();
    assert_eq!(
        error.to_string(),
        "the file is cut short at byte 204: record 2 needs bytes 184 to 234; copy or export it \
         again"
    );
    let text = text(&TETRAHEDRON, "\n");
    let error = read(&text.as_bytes()[..text.len() / 2], Format::Stl).unwrap_err();
    assert!(matches!(error, ImportError::Line { line: 15..18, .. }), "{error}");
    for length in 0..84 {
        assert!(read(&bytes[..length], Format::Stl).is_err());
    }
}

#[test]
fn corners_that_are_not_finite_take_their_triangle_out() {
    for bad in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        let mut facets = TETRAHEDRON.to_vec();
        facets.push([[bad, 0., 0.], [0., 1., 0.], [0., 0., 1.]]);
        check_tetrahedron(&binary(b"", 5, &facets), &["corners_not_finite"]);
        check_tetrahedron(text(&facets, "\n").as_bytes(), &["corners_not_finite"]);
    }
    for word in ["-nan(ind)", "1.#QNAN", "-1.#IND", "1e99", "Infinity"] {
        let odd = text(&[TETRAHEDRON[0]], "\n").replacen("+0", word, 1);
        let whole = text(&TETRAHEDRON, "\n").replacen("solid part of mine", "", 1);
        let both = odd.replace("endsolid part of mine", "") + &whole;
        check_tetrahedron(both.as_bytes(), &["corners_not_finite"]);
    }
    let nothing_left = binary(b"", 1, &[[[f32::NAN; 3]; 3]]);
    assert!(matches!(read(&nothing_left, Format::Stl), Err(ImportError::NoTriangles { .. })));
}

#[test]
fn minus_zero_is_zero_and_degenerate_triangles_stay() {
    let facets = [[[0.0, -0.0, 0.0], [1.0, -0.0, 0.0], [-0.0, 1.0, -0.0]], [[0.0; 3]; 3]];
    let imported = read(&binary(b"", 2, &facets), Format::Stl).unwrap();
    let mesh = only(&imported);
    assert_eq!(mesh.triangles, [[0, 1, 2], [0, 0, 0]]);
    assert!(mesh.vertices.as_flattened().iter().all(|c| c.is_sign_positive()));
}

#[test]
fn units_are_applied_to_the_numbers_of_the_file() {
    let bytes = binary(b"", 4, &TETRAHEDRON);
    for (unit, mm) in [(Unit::Inch, 25.4), (Unit::Metre, 1000.0), (Unit::Micron, 0.001)] {
        let imported = import(&bytes, Format::Stl, Some(unit), &Progress::default()).unwrap();
        assert_eq!(only(&imported).bounds(), Some(([0.0; 3], [mm; 3])));
        assert!(imported.findings.is_empty(), "a stated unit is believed");
    }
}

#[test]
fn a_size_that_suggests_another_unit_is_a_finding() {
    let size = |mm: f32| {
        let facets = TETRAHEDRON.map(|facet| facet.map(|corner| corner.map(|c| c * mm)));
        let imported = read(&binary(b"", 4, &facets), Format::Stl).unwrap();
        imported.findings.first().map(|finding| finding.kind().as_str())
    };
    assert_eq!(size(0.13), Some("size_suggests_metres"));
    assert_eq!(size(1.35), Some("size_suggests_inches"));
    assert_eq!(size(7.25), Some("size_suggests_inches"));
    assert_eq!(size(20.0), None);
    assert_eq!(size(360.0), None);
    assert_eq!(size(20_000.0), Some("size_suggests_microns"));
    // known to be in inches
    let bracket = open("solids/angle_block.STL").unwrap();
    assert_eq!(bracket.findings.last().unwrap().kind().as_str(), "size_suggests_inches");
}

/// The files of npm stl-models (MIT): what their names say is what must be found.
#[test]
fn broken_text_files_are_findings_or_errors_that_name_the_line() {
    #[track_caller]
    fn found(name: &str, triangles: usize, expected: &[&str]) {
        let imported = open(&format!("broken_syntax/{name}.ascii.stl")).unwrap();
        assert_eq!(only(&imported).triangles.len(), triangles);
        assert_eq!(kinds(&imported), expected);
    }
    #[track_caller]
    fn refused(name: &str, expected: &str) {
        let error = open(&format!("broken_syntax/{name}.ascii.stl")).unwrap_err();
        assert_eq!(
            error.to_string(),
            format!("{expected}; export the file again, or correct the line")
        );
    }
    found("missingEndsolid", 4, &["endsolid_missing"]);
    found("missingFace", 3, &[]);
    found("missingNormal", 4, &["normals_missing"]);
    found("notANumberNormal", 4, &[]);
    found("singleFace", 1, &[]);
    found("solidNameMismatch", 4, &["solid_names_differ"]);
    found("wrongNormal", 4, &["normals_disagree"]);
    found("wrongNormals", 4, &[]); // all zero: none given
    refused("fourVertices", "line 2: the facet that begins here has 4 corners instead of 3");
    refused("quad", "line 2: the facet that begins here has 4 corners instead of 3");
    refused("twoVertices", "line 2: the facet that begins here has 2 corners instead of 3");
    assert_eq!(open("broken_syntax/empty.stl"), Err(ImportError::Empty));
    for empty in ["empty.stl", "stl_empty_ascii.stl", "stl_empty_bin.stl"] {
        let error = open(&format!("broken/{empty}")).unwrap_err();
        assert!(matches!(error, ImportError::NoTriangles { .. }), "{error}");
    }
}

#[test]
fn text_that_is_not_stl_is_refused_in_words() {
    let error = |text: &str| read(text.as_bytes(), Format::Stl).unwrap_err().to_string();
    assert!(error("v 0 0 0\nf 1 1 1\n").contains("text that does not begin with \"solid\""));
    assert!(
        error("solid\nfacet normal 0 0 0\nouter loop\nvertex 1,5 0 0").contains("line 4: \"1,5\"")
    );
    assert!(error("solid a\nfacet\nloop").contains("line 3: \"loop\" where \"outer\""));
    assert!(error("solid a\nvertex 1 2 3").contains("line 2"));
}

#[test]
fn several_solids_are_one_part() {
    let imported = open("solids/two_objects_mixed_case_names.stl").unwrap();
    assert_eq!((only(&imported).triangles.len(), kinds(&imported)), (24, vec!["solids_joined"]));
    assert_eq!(imported.objects[0].name, "CubeExportedFromCAD");
}

/// Oracle: the crate `stl_io`, another reader of both forms.
#[test]
fn triangles_are_those_that_stl_io_reads() {
    let files = [
        "angle_block.STL",
        "20mm-xyz-cube.stl",
        "unit_cube.STL",
        "two_objects_mixed_case_names.stl",
    ];
    for name in files
        .map(|file| format!("solids/{file}"))
        .iter()
        .chain([&"broken/multibody.stl".to_owned()])
    {
        let raw = bytes(name);
        let imported = read(&raw, Format::Stl).unwrap();
        let mesh = only(&imported);
        check_welded(mesh);
        let mut cursor = std::io::Cursor::new(&raw);
        let theirs = stl_io::create_stl_reader(&mut cursor).unwrap();
        let theirs: Vec<_> = theirs
            .take_while(Result::is_ok) // it stops at the second solid of a text file
            .map(|facet| facet.unwrap().vertices.map(|v| v.0.map(f64::from)))
            .collect();
        assert!(theirs.len() >= 12, "{name}");
        let ours: Vec<_> = (0..theirs.len()).map(|t| mesh.corners(t)).collect();
        assert_eq!(ours, theirs, "{name}");
    }
}

#[test]
fn large_files_are_welded_across_batches_and_growths() {
    // A strip of 40,000 separate squares, then the same in reverse: every vertex is met again.
    let square = |k: i32| {
        let (x, y) = ((k % 200) as f32, (k / 200) as f32);
        [
            [[x, y, 0.], [x + 1., y, 0.], [x + 1., y + 1., 0.]],
            [[x, y, 0.], [x + 1., y + 1., 0.], [x, y + 1., 0.]],
        ]
    };
    let facets: Vec<Facet> = (0..40_000).chain((0..40_000).rev()).flat_map(square).collect();
    let imported = read(&binary(b"", 160_000, &facets), Format::Stl).unwrap();
    let mesh = only(&imported);
    check_welded(mesh);
    assert_eq!((mesh.triangles.len(), mesh.vertices.len()), (160_000, 201 * 201));
    // all corners different: the table has to grow far beyond what a closed mesh needs
    let soup: Vec<Facet> =
        (0..50_000).map(|k| [[k as f32, 0., 0.], [k as f32, 1., 0.], [k as f32, 0., 1.]]).collect();
    let imported = read(&binary(b"", 50_000, &soup), Format::Stl).unwrap();
    check_welded(only(&imported));
    assert_eq!(only(&imported).vertices.len(), 150_000);
}

#[test]
fn reading_from_a_stream_gives_the_same() {
    let stream = |bytes: &[u8], length: usize| {
        let (mut reader, length) = (bytes, length as u64);
        import_from(
            &mut reader,
            length,
            Format::Stl,
            None,
            &Limits::default(),
            &Progress::default(),
        )
    };
    let soup: Vec<Facet> =
        (0..5000).map(|k| TETRAHEDRON[k % 4].map(|p| p.map(|c| c * k as f32))).collect();
    let sound = binary(b"solid", 5000, &soup);
    let lying = binary(b"", 4999, &soup);
    let text = text(&TETRAHEDRON, "\n").into_bytes();
    for bytes in [&sound, &lying, &text, &sound[..100].to_vec(), &vec![]] {
        assert_eq!(stream(bytes, bytes.len()), read(bytes, Format::Stl));
    }
    let ends_early = stream(&sound[..90_000], sound.len()).unwrap_err();
    assert!(matches!(ends_early, ImportError::Read { from: 65_584, .. }), "{ends_early}");
    assert_eq!(stream(&sound, 1234), read(&sound, Format::Stl)); // a length that is not true
}

#[test]
fn cancelling_ends_the_reading() {
    let progress = Progress::default();
    progress.cancel();
    for bytes in [binary(b"", 4, &TETRAHEDRON), text(&TETRAHEDRON, "\n").into_bytes()] {
        let outcome = import(&bytes, Format::Stl, None, &progress);
        assert!(matches!(outcome, Err(ImportError::Cancelled(_))));
    }
}
