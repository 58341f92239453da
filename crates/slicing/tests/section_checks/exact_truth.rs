//! Sections of machine parts against their exact boundary representation.
//!
//! The numbers beside each mesh were computed by a CAD kernel from the part's exact surfaces; the
//! mesh deviates from those by up to 0.1 mm, which is what the tolerance allows for.

use crate::shapes::{region_at, section_at};
use mesh::Mesh;

/// The mesh was made with this chordal deviation.
const DEVIATION_MM: f64 = 0.1;

fn read(stl: &[u8]) -> Mesh {
    let stl = stl_io::read_stl(&mut std::io::Cursor::new(stl)).unwrap();
    Mesh {
        vertices: stl.vertices.iter().map(|v| v.0.map(f64::from)).collect(),
        triangles: stl
            .faces
            .iter()
            .map(|f| f.vertices.map(|v| u32::try_from(v).unwrap()))
            .collect(),
    }
}

fn check(stl: &[u8], truth: &str) {
    let mesh = read(stl);
    let truth: serde_json::Value = serde_json::from_str(truth).unwrap();
    let sections = truth["sections"].as_array().unwrap();
    assert!(sections.len() > 20);
    let (mut error, mut allowed) = (0.0, 0.0);
    for section in sections {
        let (z, expected) = (section[0].as_f64().unwrap(), section[1].as_f64().unwrap());
        assert!(section_at(&mesh, z).exact, "z {z}");
        let region = region_at(&mesh, z);
        let (area, tolerance) = (region.area_mm2(), DEVIATION_MM * region.perimeter_mm());
        assert!((area - expected).abs() < tolerance, "z {z}: {area} instead of {expected} mm²");
        error += (area - expected).abs();
        allowed += tolerance;
    }
    // Most walls are flat: on the whole a tenth of that must do.
    assert!(error < 0.1 * allowed, "{error} of {allowed} mm²");
}

#[test]
fn plate_with_holes() {
    check(
        include_bytes!(
            "../../../../tests/meshes/exact_truth/WaveShare_Mounting_Plate_SO101_tol0.1.stl"
        ),
        include_str!("../../../../tests/meshes/exact_truth/WaveShare_Mounting_Plate_SO101.json"),
    );
}

#[test]
fn block_of_features() {
    check(
        include_bytes!("../../../../tests/meshes/exact_truth/featuretype_tol0.1.stl"),
        include_str!("../../../../tests/meshes/exact_truth/featuretype.json"),
    );
}

#[test]
fn box_of_ten_parts() {
    check(
        include_bytes!("../../../../tests/meshes/exact_truth/box_sides_tol0.1.stl"),
        include_str!("../../../../tests/meshes/exact_truth/box_sides.json"),
    );
}
