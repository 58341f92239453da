//! Adjacency of small meshes, sound and broken.

use super::*;

const TETRAHEDRON: [[u32; 3]; 4] = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]];

fn mesh(vertices: &[[f64; 3]], triangles: &[[u32; 3]]) -> Mesh {
    Mesh { vertices: vertices.to_vec(), triangles: triangles.to_vec() }
}

fn corner_vertices() -> [[f64; 3]; 4] {
    [[0., 0., 0.], [1., 0., 0.], [0., 1., 0.], [0., 0., 1.]]
}

/// Partners are mutual and name the same edge the other way.
#[track_caller]
fn assert_well_formed(mesh: &Mesh, topology: &Topology) {
    let edge = |h: u32| {
        let (t, k) = (h as usize / 3, h as usize % 3);
        (mesh.triangles[t][k], mesh.triangles[t][(k + 1) % 3])
    };
    for h in 0..u32::try_from(3 * mesh.triangles.len()).unwrap() {
        if let Some(p) = topology.partner(h) {
            assert_eq!(topology.partner(p), Some(h));
            let (a, b) = edge(h);
            assert_eq!(edge(p), (b, a));
        }
    }
}

#[test]
fn a_tetrahedron_is_closed_whatever_the_order_of_its_triangles() {
    let mut solid = mesh(&corner_vertices(), &TETRAHEDRON);
    for _ in 0..4 {
        let topology = Topology::new(&solid);
        assert_well_formed(&solid, &topology);
        assert!(topology.is_closed_and_oriented());
        assert!((0..12).all(|h| topology.partner(h).is_some()));
        solid.triangles.rotate_left(1);
        solid.triangles[0].rotate_left(1);
    }
}

#[test]
fn a_missing_triangle_leaves_three_open_edges() {
    let solid = mesh(&corner_vertices(), &TETRAHEDRON[..3]);
    let topology = Topology::new(&solid);
    assert_well_formed(&solid, &topology);
    assert_eq!(topology.open_count(), 3);
    assert_eq!(topology.open_half_edges().collect::<Vec<_>>(), [0, 5, 7]);
    assert_eq!(topology.opposite(0), Opposite::Open);
    assert!(!topology.is_closed_and_oriented());
}

#[test]
fn a_turned_triangle_makes_its_three_edges_inconsistent() {
    let mut solid = mesh(&corner_vertices(), &TETRAHEDRON);
    solid.triangles[2].reverse();
    let topology = Topology::new(&solid);
    assert_well_formed(&solid, &topology);
    assert_eq!(topology.inconsistent().len(), 3);
    assert_eq!((topology.open_count(), topology.over_shared().len()), (0, 0));
    assert!(!topology.is_closed_and_oriented());
}

#[test]
fn degenerate_triangles_stand_aside_for_their_neighbours() {
    let mut solid = mesh(&corner_vertices(), &TETRAHEDRON);
    solid.triangles.insert(1, [0, 1, 1]);
    solid.triangles.push([0, 1, 77]);
    let topology = Topology::new(&solid);
    assert_well_formed(&solid, &topology);
    assert!(topology.is_closed_and_oriented());
    assert_eq!(topology.degenerate_triangles().collect::<Vec<_>>(), [1, 5]);
    assert_eq!(topology.degenerate_count(), 2);
    assert_eq!(topology.opposite(4), Opposite::Degenerate);
    assert_eq!(topology.opposite(u32::MAX), Opposite::Degenerate);
}

/// Two tetrahedra that touch along an edge: each must keep to itself.
#[test]
fn solids_that_share_an_edge_are_paired_solid_by_solid() {
    let mut vertices = corner_vertices().to_vec();
    vertices.extend([[-1., 0., 0.], [0., -1., 0.]]); // the twin, turned by 180° about Z
    let mut triangles = TETRAHEDRON.to_vec();
    triangles.extend(TETRAHEDRON.map(|t| t.map(|v| if v == 1 || v == 2 { v + 3 } else { v })));
    for turn in 0..8 {
        let mut solid = mesh(&vertices, &triangles);
        solid.triangles.rotate_left(turn);
        let topology = Topology::new(&solid);
        assert_well_formed(&solid, &topology);
        assert!(topology.is_closed_and_oriented());
        let shared = OverSharedEdge { vertices: [0, 3], triangles: [2, 2] };
        assert_eq!(topology.over_shared(), [shared]);
        let solid_of = |h: u32| (h as usize / 3 + turn) % 8 / 4;
        for h in 0..24 {
            assert_eq!(topology.partner(h).map(solid_of), Some(solid_of(h)), "turn {turn}");
        }
    }
}

#[test]
fn three_triangles_at_an_edge_have_no_partners_there() {
    let solid = mesh(
        &[[0., 0., 0.], [0., 0., 1.], [1., 0., 0.], [0., 1., 0.], [-1., 0., 0.]],
        &[[0, 1, 2], [0, 1, 3], [1, 0, 4]],
    );
    let topology = Topology::new(&solid);
    assert_eq!(topology.open_count(), 6);
    assert_eq!(topology.opposite(3), Opposite::OverShared);
    assert_eq!(topology.over_shared()[0].triangles, [2, 1]);
    assert!(!topology.is_closed_and_oriented());
}
