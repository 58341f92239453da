//! Mesh files that are odd in one way each.

use crate::solids::{cube, obj};
use crate::{Provoked, found};
use base::{Progress, Unit};
use mesh::Mesh;
use mesh::import::{Format, import};
use std::fmt::Write as _;
use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;

fn read(bytes: &[u8], format: Format, unit: Option<Unit>) -> Provoked {
    found(import(bytes, format, unit, &Progress::default()).unwrap().findings)
}

pub(crate) fn obj_with(line: &str) -> Provoked {
    read(format!("{}{line}\n", obj(&cube(20.0))).as_bytes(), Format::Obj, None)
}

pub(crate) fn corners_not_finite() -> Provoked {
    obj_with("v nan 0 0\nf 1 2 9")
}

pub(crate) fn box_of_size(edge: f64) -> Provoked {
    read(obj(&cube(edge)).as_bytes(), Format::Obj, None)
}

/// A cube in the text form of STL, without its first and last line.
fn facets(normal: impl Fn(usize) -> Option<&'static str>) -> String {
    let Mesh { vertices, triangles } = cube(20.0);
    let mut text = String::new();
    for (k, triangle) in triangles.iter().enumerate() {
        writeln!(text, "facet {}\nouter loop", normal(k).unwrap_or_default()).unwrap();
        for [x, y, z] in triangle.map(|v| vertices[v as usize]) {
            writeln!(text, "vertex {x} {y} {z}").unwrap();
        }
        text.push_str("endloop\nendfacet\n");
    }
    text
}

/// The first facets of a cube look down; no normal is 0 0 0 but where the fixture says so.
const NO_NORMAL: &str = "normal 0 0 0";

pub(crate) fn normals_disagree() -> Provoked {
    let up = |k| if k == 0 { Some("normal 0 0 1") } else { Some(NO_NORMAL) };
    let text = format!("solid a\n{}endsolid a\n", facets(up));
    read(text.as_bytes(), Format::Stl, None)
}

/// Facets with a normal of zeros, or without one if `normal` is absent, and a last line.
pub(crate) fn text_stl(normal: Option<&'static str>, end: &str) -> Provoked {
    let facets = facets(|_| normal.map(|_| NO_NORMAL));
    read(format!("solid a\n{facets}{end}\n").as_bytes(), Format::Stl, None)
}

pub(crate) fn two_solids() -> Provoked {
    let facets = facets(|_| Some(NO_NORMAL));
    let text = format!("solid a\n{facets}endsolid a\nsolid b\n{facets}endsolid b\n");
    read(text.as_bytes(), Format::Stl, None)
}

/// A cube in the binary form of STL that announces so many more triangles than it has.
pub(crate) fn binary_stl(more: u32, tail: &[u8]) -> Provoked {
    let Mesh { vertices, triangles } = cube(20.0);
    let mut bytes = vec![b' '; 80];
    bytes.extend((u32::try_from(triangles.len()).unwrap() + more).to_le_bytes());
    for triangle in triangles {
        bytes.extend([0; 12]);
        for c in triangle.iter().flat_map(|v| vertices[*v as usize]) {
            #[expect(clippy::cast_possible_truncation, reason = "small whole numbers")]
            bytes.extend((c as f32).to_le_bytes());
        }
        bytes.extend([0; 2]);
    }
    bytes.extend(tail);
    read(&bytes, Format::Stl, None)
}

const RELS: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/a.model" Id="r" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>"#;

/// A 3MF file whose objects are cubes with these attributes and content beside the mesh.
fn package(objects: &[(&str, &str)]) -> Vec<u8> {
    let Mesh { vertices, triangles } = cube(20.0);
    let mut mesh = String::from("<mesh><vertices>");
    for [x, y, z] in vertices {
        write!(mesh, r#"<vertex x="{x}" y="{y}" z="{z}"/>"#).unwrap();
    }
    mesh.push_str("</vertices><triangles>");
    for [a, b, c] in triangles {
        write!(mesh, r#"<triangle v1="{a}" v2="{b}" v3="{c}"/>"#).unwrap();
    }
    mesh.push_str("</triangles>");
    let (mut resources, mut items) = (String::new(), String::new());
    for (id, (attributes, more)) in (1..).zip(objects) {
        write!(
            resources,
            r#"<object id="{id}" name="o{id}" {attributes}>{mesh}{more}</mesh></object>"#
        )
        .unwrap();
        write!(items, r#"<item objectid="{id}"/>"#).unwrap();
    }
    let model = format!(
        r#"<model xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02" xmlns:e="http://example.org/extension" unit="millimeter"><resources>{resources}</resources><build>{items}</build></model>"#
    );
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in
        [("[Content_Types].xml", "<Types/>"), ("_rels/.rels", RELS), ("3D/a.model", &model)]
    {
        zip.start_file(name, SimpleFileOptions::default()).unwrap();
        zip.write_all(content.as_bytes()).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

pub(crate) fn unit_overruled() -> Provoked {
    read(&package(&[("", "")]), Format::ThreeMf, Some(Unit::Inch))
}

pub(crate) fn surface_not_solid() -> Provoked {
    read(&package(&[(r#"type="surface""#, "")]), Format::ThreeMf, None)
}

pub(crate) fn supports_left_out() -> Provoked {
    read(&package(&[("", ""), (r#"type="support""#, "")]), Format::ThreeMf, None)
}

pub(crate) fn extension_ignored() -> Provoked {
    read(&package(&[("", "<e:lattice/>")]), Format::ThreeMf, None)
}
