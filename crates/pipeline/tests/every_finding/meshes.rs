//! Meshes that are broken in one way each.

use crate::solids::{cube, cuboid, joined, moved, reversed};
use crate::{Provoked, found};
use base::{Kind, Progress};
use mesh::{Mesh, health};

fn looked_at(mesh: &Mesh) -> Provoked {
    found(health(mesh, &Progress::default()).unwrap().findings)
}

pub(crate) fn empty_mesh() -> Provoked {
    looked_at(&Mesh::default())
}

pub(crate) fn unusable_triangles() -> Provoked {
    let mut mesh = cube(10.0);
    mesh.triangles.push([0, 1, 99]);
    looked_at(&mesh)
}

pub(crate) fn open_edges() -> Provoked {
    let mut mesh = cube(10.0);
    mesh.triangles.pop();
    looked_at(&mesh)
}

/// Two cubes with one common edge, welded.
pub(crate) fn over_shared_edges() -> Provoked {
    let (a, b) = (cube(10.0), moved(&cube(10.0), [10.0, 10.0, 0.0]));
    let mut mesh = joined(&a, &b);
    for v in mesh.triangles.iter_mut().flatten() {
        *v = match *v {
            8 => 3,
            12 => 7,
            v => v,
        };
    }
    looked_at(&mesh)
}

pub(crate) fn inconsistent_orientation() -> Provoked {
    let mut mesh = cube(10.0);
    mesh.triangles[11].swap(0, 1);
    looked_at(&mesh)
}

/// A triangle without area in the seam of a split edge; its middle corner touches the edge.
pub(crate) fn degenerate_triangles() -> Provoked {
    let mut mesh = cube(10.0);
    let split = mesh.triangles[0]; // 0, 2, 3
    let middle = u32::try_from(mesh.vertices.len()).unwrap();
    let [a, b, _] = split.map(|v| mesh.vertices[v as usize]);
    mesh.vertices.push([0, 1, 2].map(|k| f64::midpoint(a[k], b[k])));
    mesh.triangles[0] = [split[0], middle, split[2]];
    mesh.triangles.extend([[middle, split[1], split[2]], [split[0], split[1], middle]]);
    looked_at(&mesh).along(&[Kind::SelfIntersections])
}

/// One triangle from both sides: twice the same, and no volume.
pub(crate) fn sheet() -> Provoked {
    let mesh = Mesh { triangles: vec![[0, 1, 2], [2, 1, 0]], ..cube(10.0) };
    looked_at(&mesh)
}

pub(crate) fn self_intersections() -> Provoked {
    looked_at(&joined(&cube(10.0), &moved(&cube(10.0), [3.0, 4.0, 5.0])))
}

pub(crate) fn inside_out() -> Provoked {
    looked_at(&reversed(&cube(10.0)))
}

pub(crate) fn cavities() -> Provoked {
    looked_at(&joined(&cube(10.0), &reversed(&cuboid([3.0; 3], [7.0; 3]))))
}

pub(crate) fn nested_shells() -> Provoked {
    looked_at(&joined(&cube(10.0), &cuboid([3.0; 3], [7.0; 3])))
}
