//! Meshes that are not sound: the section is still closed, and says what was done.

use crate::shapes::{ball, both, cuboid, placed, region_at, section_at, soup, spaced, stack};
use base::{Affine, Progress};
use mesh::{Mesh, Topology};
use slicing::{Scratch, Slicer, SlicingError};

#[track_caller]
fn assert_area(mesh: &Mesh, z: f64, expected: f64, tolerance: f64) {
    let region = region_at(mesh, z);
    assert!(region::is_proper(&region));
    let area = region.area_mm2();
    assert!((area - expected).abs() <= tolerance, "{area} mm² instead of {expected}");
}

fn unit_cubes() -> (Mesh, Mesh) {
    (cuboid([0.0; 3], [1.0; 3]), cuboid([0.5, 0.5, 0.0], [1.5, 1.5, 1.0]))
}

#[test]
fn overlapping_shells_count_once() {
    let (a, b) = unit_cubes();
    assert!(section_at(&both(&a, &b), 0.4).exact);
    assert_area(&both(&a, &b), 0.4, 1.75, 1e-5);
}

#[test]
fn a_shell_that_faces_inwards_is_a_cavity() {
    let outer = cuboid([0.0; 3], [4.0; 3]);
    let mut inner = cuboid([1.0; 3], [2.0; 3]);
    inner.triangles.iter_mut().for_each(|t| t.reverse());
    assert_area(&both(&outer, &inner), 1.5, 15.0, 1e-9);
}

#[test]
fn a_mesh_that_faces_inwards_is_turned_and_reported() {
    let (mut cube, _) = unit_cubes();
    assert!(!placed(&cube, &Affine::IDENTITY, 0.1).is_inside_out());
    cube.triangles.iter_mut().for_each(|t| t.reverse());
    assert_area(&cube, 0.5, 1.0, 1e-9);
    assert!(placed(&cube, &Affine::IDENTITY, 0.1).is_inside_out());
    let mirrored = placed(&cube, &Affine::scaling([1.0, -1.0, 1.0]), 0.1);
    assert!(mirrored.is_inside_out());
    assert!(mirrored.section(4, &mut Scratch::default()).rings.area_mm2() > 0.99);
}

#[test]
fn cubes_that_share_an_edge_are_sectioned_exactly() {
    let cubes = both(&cuboid([0.0; 3], [1.0; 3]), &cuboid([1.0, 1.0, 0.0], [2.0, 2.0, 1.0]));
    // Weld the common edge: vertices 3 and 7 of the first are 8 and 12 of the second.
    let weld = |v: u32| match v {
        8 => 3,
        12 => 7,
        v => v,
    };
    let cubes = Mesh { triangles: cubes.triangles.iter().map(|t| t.map(weld)).collect(), ..cubes };
    assert_eq!(Topology::new(&cubes).over_shared().len(), 1);
    let section = section_at(&cubes, 0.3);
    assert!(section.exact);
    assert_eq!(section.rings.ring_count(), 2);
    assert_area(&cubes, 0.3, 2.0, 1e-9);
}

/// Triangles that share no vertex, but whose vertices coincide: all gaps have length zero.
#[test]
fn a_soup_of_triangles_gives_the_same_region_as_the_welded_mesh() {
    let ball = ball(10.0, &spaced(-10.0, 10.0, 12), 30);
    for z in [-7.3, 0.0, 2.5, 9.9] {
        let section = section_at(&soup(&ball), z);
        assert!(!section.exact);
        assert_eq!(section.gaps, []);
        let expected = region_at(&ball, z).area_mm2();
        assert_area(&soup(&ball), z, expected, 1e-9);
    }
}

#[test]
fn a_hole_in_the_wall_is_closed_straight_and_reported() {
    let mut mast = stack(&[0.0, 5.0, 10.0], 36, |_, _| 10.0);
    let whole = section_at(&mast, 7.0).rings.area_mm2();
    // The upper of the first two quads of the wall, which is flat there anyhow.
    mast.triangles.drain(4..6);
    let topology = Topology::new(&mast);
    assert_eq!(topology.open_count(), 4);
    let slicer = Slicer::new(&mast, &topology, &Affine::IDENTITY, 1.0, &Progress::default());
    let slicer = slicer.unwrap();
    let mut scratch = Scratch::default();
    for layer in slicer.layers() {
        let section = slicer.section(layer, &mut scratch);
        let (region, report) = slicer.proper_section(layer, &mut scratch);
        let is_damaged = layer >= 5;
        assert_eq!((section.exact, section.gaps.len()), (!is_damaged, usize::from(is_damaged)));
        assert_eq!((report.exact, report.gaps.len()), (!is_damaged, usize::from(is_damaged)));
        assert!((region.area_mm2() - whole).abs() < 1e-4);
    }
    let (_, report) = slicer.proper_section(6, &mut scratch);
    assert!((report.gaps[0].length_mm() - 20.0 * 5.0_f64.to_radians().sin()).abs() < 1e-5);
}

#[test]
fn an_open_box_has_its_sections_all_the_same() {
    for missing in [0, 2] {
        // bottom, top
        let mut cup = cuboid([0.0; 3], [1.0; 3]);
        cup.triangles.drain(missing..missing + 2);
        assert!(section_at(&cup, 0.5).exact); // whole where it is cut
        assert_area(&cup, 0.5, 1.0, 1e-9);
    }
}

/// Its volume is taken from the middle: from its floor, this funnel's would be negative.
#[test]
fn a_funnel_without_lid_keeps_its_material_inside() {
    let mut funnel = stack(&[0.0, 1.0], 60, |z, _| 1.0 + z);
    funnel.triangles.retain(|t| t.iter().any(|&v| v < 60)); // the lid has upper vertices only
    assert_eq!(Topology::new(&funnel).open_count(), 60);
    assert!(!placed(&funnel, &Affine::IDENTITY, 0.1).is_inside_out());
    assert!(section_at(&funnel, 0.5).rings.area_mm2() > 7.0);
}

/// One triangle, or a whole side, turned over: its piece of the contour is turned back.
#[test]
fn triangles_that_face_the_wrong_side_are_taken_along() {
    let whole = ball(10.0, &spaced(-10.0, 10.0, 10), 24);
    for turned in [1, 7, 40] {
        let mut mesh = whole.clone();
        // A run of wall triangles in the middle ring.
        let middle = mesh.triangles.len() / 2;
        mesh.triangles[middle..middle + turned].iter_mut().for_each(|t| t.reverse());
        for z in [-3.1, -1.0, 0.0, 0.7, 3.9] {
            let expected = region_at(&whole, z).area_mm2();
            assert_area(&mesh, z, expected, 1e-9);
        }
    }
}

#[test]
fn degenerate_triangles_change_nothing() {
    let (mut cube, _) = unit_cubes();
    let expected = section_at(&cube, 0.5).rings;
    cube.triangles.extend([[0, 0, 7], [3, 4, 3], [1, 2, 900]]);
    let section = section_at(&cube, 0.5);
    assert!(section.exact);
    assert_eq!(section.rings, expected);
}

/// A sheet bounds nothing, but must not upset anything either.
#[test]
fn lone_triangles_leave_nothing() {
    let sheet = Mesh {
        vertices: vec![[0.0; 3], [1.0, 0.0, 1.0], [0.0, 1.0, 1.0], [5.0, 5.0, 5.0]],
        triangles: vec![[0, 1, 2]],
    };
    let section = section_at(&sheet, 0.5);
    assert!(!section.exact && section.rings.is_empty());
    assert_eq!(section.gaps.len(), 1);
    assert!(section_at(&Mesh::default(), 0.5).rings.is_empty());
}

#[test]
fn unusable_arguments_are_named() {
    let (cube, _) = unit_cubes();
    let topology = Topology::new(&cube);
    let attempt = |mesh: &Mesh, pose: &Affine, thickness: f64| {
        Slicer::new(mesh, &topology, pose, thickness, &Progress::default()).map(|_| ())
    };
    let identity = Affine::IDENTITY;
    for mm in [0.0, -0.1, f64::NAN, f64::INFINITY] {
        let error = attempt(&cube, &identity, mm);
        assert!(matches!(error, Err(SlicingError::LayerThickness { .. })), "{error:?}");
    }
    let nowhere = Affine::scaling([f64::NAN, 1.0, 1.0]);
    assert_eq!(attempt(&cube, &nowhere, 0.1), Err(SlicingError::PoseNotFinite));
    let foreign = attempt(&Mesh::default(), &identity, 0.1);
    assert!(matches!(foreign, Err(SlicingError::ForeignTopology { .. })));
    for far in [[1073.0, 0.0, 0.0], [0.0, -1073.8, 0.0], [1e30, 0.0, 0.0]] {
        let error = attempt(&cube, &Affine::translation(far), 0.1);
        assert!(matches!(error, Err(SlicingError::OffGrid { .. })), "{error:?}");
    }
    let high = attempt(&cube, &Affine::translation([0.0, 0.0, 1e12]), 0.1);
    assert!(matches!(high, Err(SlicingError::TooHigh { vertex: 0, .. })));
    let fine = attempt(&cube, &identity, 1e-8);
    assert!(matches!(fine, Err(SlicingError::TooManyLayers { .. })), "{fine:?}");

    let slicer = placed(&cube, &identity, 0.1);
    assert!(slicer.moved(1_072_000_000, 0, 0).is_ok());
    assert!(matches!(
        slicer.moved(0, 1_073_000_000, 0),
        Err(SlicingError::MovedOffGrid { dy_nm: 1_073_000_000, .. })
    ));
    assert!(slicer.moved(0, 0, -20).unwrap().layers().is_empty());

    let progress = Progress::default();
    progress.cancel();
    let cancelled = Slicer::new(&cube, &topology, &identity, 0.1, &progress);
    assert!(matches!(cancelled, Err(SlicingError::Cancelled(_))));
}

/// Adjacency of another mesh of the same size: nonsense, but no panic, no endless walk, and
/// nothing left behind in the scratch space.
#[test]
fn a_topology_of_another_mesh_is_survived() {
    let cube = cuboid([0.0; 3], [1.0; 3]);
    let mut other = cube.clone();
    other.triangles.rotate_left(5);
    other.triangles.swap(1, 7);
    let pose = Affine::IDENTITY;
    let wrong = Slicer::new(&cube, &Topology::new(&other), &pose, 0.1, &Progress::default());
    let (wrong, right) = (wrong.unwrap(), placed(&cube, &pose, 0.1));
    let mut scratch = Scratch::default();
    for layer in 0..10 {
        wrong.section(layer, &mut scratch);
        assert_eq!(
            right.section(layer, &mut scratch),
            right.section(layer, &mut Scratch::default())
        );
    }
}
