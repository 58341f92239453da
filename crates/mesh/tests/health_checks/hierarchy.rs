//! The hierarchy against brute force, on meshes with planted degeneracy.

use crate::support::{cube, joined, sphere, torus, turned};
use base::{Cancelled, Progress};
use mesh::{Hierarchy, Mesh};
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::ops::ControlFlow;

/// Triangles on a coarse grid (many equal centres), of very different sizes.
fn soup() -> impl Strategy<Value = Mesh> {
    let size = prop_oneof![Just(0.0), Just(0.1), Just(1.0), Just(100.0)];
    let corner = [-3..3_i32, -3..3, -3..3].prop_map(|p| p.map(f64::from));
    prop::collection::vec((corner.clone(), [corner.clone(), corner], size), 0..80).prop_map(|all| {
        let mut mesh = Mesh::default();
        for (p, [u, v], size) in all {
            let first = mesh.vertices.len() as u32;
            let along = |d: [f64; 3]| [0, 1, 2].map(|k| p[k] + 0.1 * size * d[k]);
            mesh.vertices.extend([p, along(u), along(v)]);
            mesh.triangles.push([first, first + 1, first + 2]);
        }
        mesh
    })
}

fn boxes(mesh: &Mesh) -> Vec<[[f64; 3]; 2]> {
    let extreme = |t: usize, pick: fn(f64, f64) -> f64| {
        let [a, b, c] = mesh.corners(t);
        [0, 1, 2].map(|k| pick(a[k], pick(b[k], c[k])))
    };
    (0..mesh.triangles.len()).map(|t| [extreme(t, f64::min), extreme(t, f64::max)]).collect()
}

fn overlap([lo, hi]: [[f64; 3]; 2], [low, high]: [[f64; 3]; 2]) -> bool {
    (0..3).all(|k| lo[k] <= high[k] && low[k] <= hi[k])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn no_pair_is_missed_and_none_is_named_twice(a in soup(), b in soup()) {
        let (tree_a, tree_b) = (Hierarchy::build(&a), Hierarchy::build(&b));
        prop_assert_eq!(tree_a.check(&a), Ok(()));
        let (boxes_a, boxes_b) = (boxes(&a), boxes(&b));

        let mut found = Vec::new();
        tree_a.self_pairs(&Progress::default(), |s, t| {
            found.push((s.min(t), s.max(t)));
            ControlFlow::Continue(())
        })?;
        let named: BTreeSet<_> = found.iter().copied().collect();
        prop_assert_eq!(named.len(), found.len());
        for s in 0..boxes_a.len() {
            for t in s + 1..boxes_a.len() {
                let expected = overlap(boxes_a[s], boxes_a[t]);
                prop_assert!(!expected || named.contains(&(s as u32, t as u32)));
            }
        }

        let mut found = Vec::new();
        tree_a.pairs(&tree_b, &Progress::default(), |s, t| {
            found.push((s, t));
            ControlFlow::Continue(())
        })?;
        let named: BTreeSet<_> = found.iter().copied().collect();
        prop_assert_eq!(named.len(), found.len());
        for (s, &p) in (0..).zip(&boxes_a) {
            for (t, &q) in (0..).zip(&boxes_b) {
                prop_assert!(!overlap(p, q) || named.contains(&(s, t)));
            }
        }
    }

    #[test]
    fn boxes_and_rays_find_what_brute_force_finds(
        mesh in soup(),
        lo in prop::array::uniform3(-4.0..4.0_f64),
        size in prop::array::uniform3(0.0..3.0_f64),
    ) {
        let tree = Hierarchy::build(&mesh);
        let boxes = boxes(&mesh);
        let hi = [0, 1, 2].map(|k| lo[k] + size[k]);
        let mut found = BTreeSet::new();
        tree.in_box(lo, hi, |t| { found.insert(t); });
        let mut on_ray = BTreeSet::new();
        tree.along_x(lo, |t| { on_ray.insert(t); });
        for (t, &bounds) in (0..).zip(&boxes) {
            prop_assert!(!overlap(bounds, [lo, hi]) || found.contains(&t));
            let ray = [lo, [f64::INFINITY, lo[1], lo[2]]];
            prop_assert!(!overlap(bounds, ray) || on_ray.contains(&t));
        }
    }

    /// Points on a grid meet corners, edges and face planes of the cubes on purpose.
    #[test]
    fn winding_counts_solids_around_a_point(p in prop::array::uniform3(-1..13_i32)) {
        let p = p.map(|c| f64::from(c) / 2.0);
        let mesh = joined(&cube(4.0, [0.0; 3]), &joined(&cube(4.0, [2.0; 3]), &turned(&cube(1.0, [1.0; 3]))));
        let tree = Hierarchy::build(&mesh);
        let mut expected = Some(0);
        for (at, a, sign) in [(0.0, 4.0, 1), (2.0, 4.0, 1), (1.0, 1.0, -1)] {
            let inside = p.iter().all(|c| (at..=at + a).contains(c));
            let on = inside && !p.iter().all(|c| at < *c && *c < at + a);
            if on {
                expected = None;
            } else if inside {
                expected = expected.map(|w| w + sign);
            }
        }
        prop_assert_eq!(tree.winding(&mesh, p), expected);
    }
}

#[test]
fn trees_of_ordinary_meshes_are_well_formed() {
    for mesh in [torus(20.0, 5.0, 60, 40), sphere(1e-3, 80), cube(1e6, [0.1; 3]), Mesh::default()] {
        let tree = Hierarchy::build(&mesh);
        assert_eq!(tree.check(&mesh), Ok(()));
        assert_eq!(tree.len(), mesh.triangles.len());
    }
}

#[test]
fn a_tree_of_another_mesh_does_not_pass_the_check() {
    let (small, large) = (sphere(1.0, 16), sphere(2.0, 16));
    assert!(Hierarchy::build(&small).check(&large).is_err());
    assert!(Hierarchy::build(&small).check(&Mesh::default()).is_err());
}

#[test]
fn unusable_triangles_are_left_out_and_equal_ones_do_not_deepen_the_tree() {
    let mut mesh = cube(1.0, [0.0; 3]);
    mesh.vertices.extend([[f64::NAN; 3], [f64::MAX; 3], [-f64::MAX; 3]]);
    mesh.triangles.extend([[0, 1, 8], [0, 1, 77]]);
    mesh.triangles.extend([[0, 9, 10]; 3]);
    mesh.triangles.extend(std::iter::repeat_n([0, 1, 2], 5000));
    let tree = Hierarchy::build(&mesh);
    assert_eq!(tree.check(&mesh), Ok(()));
    assert_eq!(tree.len(), mesh.triangles.len() - 2);
}

#[test]
fn sizes_in_geometric_progression_do_not_make_a_list_of_the_tree() {
    let mut mesh = Mesh::default();
    for i in 0..250_u16 {
        let s = 2.0_f64.powi(i32::from(i) - 125);
        mesh.vertices.extend([[s, s, s], [s, 2.0 * s, s], [2.0 * s, s, s]]);
        let first = 3 * u32::from(i);
        mesh.triangles.push([first, first + 1, first + 2]);
    }
    assert_eq!(Hierarchy::build(&mesh).check(&mesh), Ok(()));
}

#[test]
fn traversals_end_early_and_can_be_cancelled() {
    let mesh = torus(20.0, 5.0, 60, 40);
    let tree = Hierarchy::build(&mesh);
    let mut visits = 0;
    let mut visit = |_, _| {
        visits += 1;
        ControlFlow::Break(())
    };
    tree.self_pairs(&Progress::default(), &mut visit).unwrap();
    tree.pairs(&tree, &Progress::default(), &mut visit).unwrap();
    assert_eq!(visits, 2);

    let cancelled = Progress::default();
    cancelled.cancel();
    let go_on = |_, _| ControlFlow::Continue(());
    assert_eq!(tree.self_pairs(&cancelled, go_on), Err(Cancelled));
    assert_eq!(tree.pairs(&tree, &cancelled, go_on), Err(Cancelled));
}
