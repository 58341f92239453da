//! What must hold for every closed mesh, however tangled.

use crate::shapes::{ball, cuboid, gyroid, placed, region_at, section_at, spaced, stack, torus};
use base::{Affine, Point};
use mesh::Mesh;
use proptest::prelude::*;
use region::Region;
use slicing::{Scratch, Section, Slicer};

/// A closed surface of 18 vertices and 32 triangles.
fn closed_surface() -> Mesh {
    stack(&[-1.0, -0.5, 0.5, 1.0], 8, |z: f64, _| 1.0 - z.abs())
}

/// A closed mesh with its vertices anywhere: the surface crosses itself at will. Heights are
/// sometimes whole, so that planes at whole heights meet vertices, edges and flat triangles; places
/// are sometimes whole multiples of 0.5 nm, so that crossings lie half way between grid points.
fn tangle() -> impl Strategy<Value = Mesh> {
    let height = || prop_oneof![-5.0..5.0_f64, (-5..=5).prop_map(f64::from)];
    let anywhere = -50.0..50.0_f64;
    let vertices = |place: BoxedStrategy<f64>| {
        let vertex = (place.clone(), place, height()).prop_map(|(x, y, z)| [x, y, z]);
        prop::collection::vec(vertex, 18)
    };
    let in_halves = (-100_000_000..100_000_000).prop_map(|halves| 0.5e-6 * f64::from(halves));
    prop_oneof![vertices(anywhere.boxed()), vertices(in_halves.boxed())]
        .prop_map(|vertices| Mesh { vertices, ..closed_surface() })
}

/// The directed segments of a section before rounding, mm: straight from the definition.
fn segments(mesh: &Mesh, z: f64) -> Vec<[[f64; 2]; 2]> {
    let crossing = |p: [f64; 3], q: [f64; 3]| {
        let t = (z - p[2]) / (q[2] - p[2]);
        [p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]
    };
    (0..mesh.triangles.len())
        .filter_map(|t| {
            let corners = mesh.corners(t);
            let above = corners.map(|v| v[2] >= z);
            let from = (0..3).find(|&k| above[k] && !above[(k + 1) % 3])?;
            let to = (0..3).find(|&k| !above[k] && above[(k + 1) % 3])?;
            Some([from, to].map(|k| crossing(corners[k], corners[(k + 1) % 3])))
        })
        .collect()
}

fn shoelace(segments: &[[[f64; 2]; 2]]) -> f64 {
    segments.iter().map(|[p, q]| 0.5 * (p[0] * q[1] - p[1] * q[0])).sum()
}

fn length(segments: &[[[f64; 2]; 2]]) -> f64 {
    segments.iter().map(|[p, q]| (q[0] - p[0]).hypot(q[1] - p[1])).sum()
}

/// Rings as a set: neither the first ring nor the first point of a ring matters.
fn as_set(rings: &Region) -> Vec<Vec<Point>> {
    let mut set: Vec<Vec<Point>> = rings
        .rings()
        .map(|ring| {
            let rotations = (0..ring.len()).map(|i| [&ring[i..], &ring[..i]].concat());
            rotations.min().unwrap_or_default()
        })
        .collect();
    set.sort_unstable();
    set
}

fn sections(slicer: &Slicer) -> Vec<Section> {
    let mut scratch = Scratch::default();
    slicer.layers().map(|layer| slicer.section(layer, &mut scratch)).collect()
}

fn moved(rings: &Region, dx: i32, dy: i32) -> Vec<Vec<Point>> {
    rings
        .rings()
        .map(|ring| ring.iter().map(|p| Point::new(p.x + dx, p.y + dy)).collect())
        .collect()
}

fn rings(region: &Region) -> Vec<Vec<Point>> {
    region.rings().map(<[Point]>::to_vec).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    /// Heights are layers of 1 mm with planes at whole numbers, where `tangle` plants vertices.
    #[test]
    fn closed_meshes_give_closed_rings_with_the_area_of_their_segments(mesh in tangle()) {
        let slicer = placed(&mesh, &Affine::translation([0.0, 0.0, 6.5]), 1.0);
        let placed_mesh = Mesh {
            vertices: mesh.vertices.iter().map(|v| [v[0], v[1], v[2] + 6.5]).collect(),
            triangles: mesh.triangles.clone(),
        };
        let volume: f64 = (0..mesh.triangles.len())
            .map(|t| {
                let [a, b, c] = mesh.corners(t);
                a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
                    + a[2] * (b[0] * c[1] - b[1] * c[0])
            })
            .sum();
        prop_assert_eq!(slicer.is_inside_out(), volume < 0.0);
        let mut scratch = Scratch::default();
        for layer in 0..13 {
            let section = slicer.section(layer, &mut scratch);
            prop_assert!(section.exact && section.gaps.is_empty());
            for ring in section.rings.rings() {
                prop_assert!(ring.windows(2).all(|w| w[0] != w[1]) && ring[0] != ring[ring.len() - 1]);
            }
            let segments = segments(&placed_mesh, f64::from(layer) + 0.5);
            prop_assert_eq!(slicer.layers().contains(&layer), !segments.is_empty());
            let expected = shoelace(&segments) * volume.signum();
            let tolerance = 1e-6 * length(&segments) + 1e-9;
            let area = section.rings.area_mm2();
            prop_assert!((area - expected).abs() < tolerance, "{} not {}", area, expected);
        }
    }

    #[test]
    fn sections_do_not_depend_on_the_order_of_the_triangles(
        mesh in tangle(),
        order in Just((0..32_usize).collect::<Vec<_>>()).prop_shuffle(),
        turn in 0..3_usize,
    ) {
        let mut shuffled = mesh.clone();
        shuffled.triangles = order.iter().map(|&t| mesh.triangles[t]).collect();
        shuffled.triangles.iter_mut().for_each(|t| t.rotate_left(turn));
        let pose = Affine::translation([0.0, 0.0, 6.5]);
        let (a, b) = (placed(&mesh, &pose, 0.7), placed(&shuffled, &pose, 0.7));
        for (a, b) in sections(&a).iter().zip(&sections(&b)) {
            prop_assert_eq!(as_set(&a.rings), as_set(&b.rings));
        }
    }

    #[test]
    fn moving_by_whole_nanometres_moves_sections_exactly(
        mesh in tangle(),
        angle in prop_oneof![Just(0.0), Just(90.0), 0.0..360.0_f64],
        (dx, dy) in (-900_000_000..900_000_000, -900_000_000..900_000_000),
        up in 0..5,
    ) {
        // Planes at whole heights, where crossings lie half way between grid points.
        let turned = Affine::translation([0.0, 0.0, 6.5]) * Affine::rotation_deg([0.0, 0.0, angle]);
        let there = Affine::translation([base::mm_from_nm(dx), base::mm_from_nm(dy), 0.0]) * turned;
        let (here, there) = (placed(&mesh, &turned, 1.0), placed(&mesh, &there, 1.0));
        let moved_there = here.moved(dx, dy, up).unwrap();
        prop_assert_eq!(moved_there.layers().len(), here.layers().len());
        let sections = sections(&here).into_iter().zip(sections(&there)).zip(sections(&moved_there));
        for ((a, b), c) in sections {
            prop_assert_eq!(moved(&a.rings, dx, dy), rings(&b.rings));
            prop_assert_eq!(b, c);
        }
        let mut scratch = Scratch::default();
        for (layer, moved_layer) in here.layers().zip(moved_there.layers()) {
            let (a, _) = here.proper_section(layer, &mut scratch);
            let (b, _) = moved_there.proper_section(moved_layer, &mut scratch);
            prop_assert_eq!(a.translated(dx, dy), Some(b));
        }
    }

    #[test]
    fn mirrored_parts_keep_the_material_on_the_left(mesh in tangle()) {
        let lift = Affine::translation([0.0, 0.0, 6.5]);
        let mirrored = lift * Affine::scaling([-1.0, 1.0, 1.0]);
        for (a, b) in sections(&placed(&mesh, &lift, 0.7))
            .iter()
            .zip(&sections(&placed(&mesh, &mirrored, 0.7)))
        {
            let tolerance = 2e-6 * a.rings.perimeter_mm() + 1e-9;
            let difference = a.rings.area_mm2() - b.rings.area_mm2();
            prop_assert!(difference.abs() < tolerance);
        }
    }
}

/// A vertex on the plane counts as above it.
#[test]
fn a_plane_in_a_flat_face_cuts_what_is_below() {
    let cube = cuboid([0.0; 3], [2.0; 3]);
    let mut scratch = Scratch::default();
    let top = placed(&cube, &Affine::IDENTITY, 4.0); // layer 0 is cut at 2
    assert_eq!(top.layers(), 0..1);
    assert!((top.section(0, &mut scratch).rings.area_mm2() - 4.0).abs() < 1e-12);
    let bottom = placed(&cube, &Affine::translation([0.0, 0.0, 0.5]), 1.0);
    assert_eq!(bottom.layers(), 1..3); // at 1.5 and 2.5, not at 0.5
    assert!(bottom.section(0, &mut scratch).rings.is_empty());
    let side = placed(&cube, &Affine::rotation_deg([0.0, 90.0, 0.0]), 1.0);
    assert_eq!(side.layers(), 0..0); // quarter turns are exact: the cube hangs below the platform
}

#[test]
fn any_layer_alone_equals_the_same_layer_in_order() {
    let part = torus(20.0, 5.0, 64, 32);
    let slicer = placed(&part, &Affine::translation([0.0, 0.0, 5.0]), 0.1);
    let in_order = sections(&slicer);
    let mut scratch = Scratch::default();
    // Another part in between: scratch space carries nothing over.
    let other = placed(&ball(3.0, &spaced(-3.0, 3.0, 9), 17), &Affine::IDENTITY, 0.1);
    for layer in slicer.layers().rev().step_by(3) {
        other.section(7, &mut scratch);
        assert_eq!(slicer.section(layer, &mut scratch), in_order[layer as usize]);
        assert_eq!(slicer.section(layer, &mut Scratch::default()), in_order[layer as usize]);
    }
    let beyond = slicer.section(slicer.layers().end, &mut scratch);
    assert!(beyond.exact && beyond.rings.is_empty());
    assert!(slicer.section(u32::MAX, &mut scratch).rings.is_empty());
}

/// Every horizontal section of G > 0, G = sin x cos y + sin y cos z + sin z cos x, over whole cells
/// fills half the square, because G(x + π, −y, z) = −G(x, y, z).
#[test]
fn gyroid_fills_half_of_every_section() {
    let n = 40;
    let solid = gyroid(n);
    let cell = f64::from(n);
    for z in spaced(0.03 * cell, 0.97 * cell, 17) {
        let section = section_at(&solid, z);
        assert!(section.exact);
        let share = region_at(&solid, z).area_mm2() / (cell * cell);
        // Linear within tetrahedra: relative error of the order (2π/40)²/8 = 0.003.
        assert!((share - 0.5).abs() < 0.003, "z {z}: {share}");
    }
}
