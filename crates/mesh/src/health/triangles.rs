//! Faults of single triangles: unusable, degenerate, duplicate.

use super::places::{Faults, TrianglePlace, triangle_point};
use crate::intersect;
use crate::measures::usable_corners;
use crate::{Mesh, Opposite, Topology};

/// How many triangles have a corner that does not exist or is not finite.
pub(super) fn count_unusable(mesh: &Mesh) -> usize {
    mesh.triangles.iter().filter(|t| usable_corners(mesh, **t).is_none()).count()
}

/// For each triangle whether its corners lie on one line; unusable ones do not count.
pub(super) fn degenerate(mesh: &Mesh) -> Vec<bool> {
    let is_degenerate =
        |t: &[u32; 3]| usable_corners(mesh, *t).is_some_and(|c| intersect::is_degenerate(&c));
    mesh.triangles.iter().map(is_degenerate).collect()
}

/// The places of the marked triangles.
pub(super) fn places(mesh: &Mesh, marked: &[bool]) -> Faults<TrianglePlace> {
    let mut faults = Faults::default();
    for (t, _) in marked.iter().enumerate().filter(|(_, marked)| **marked) {
        faults.push(|| place(mesh, t));
    }
    faults
}

/// The triangles with the same three vertices as one before them.
pub(super) fn duplicates(mesh: &Mesh, topology: &Topology) -> Faults<TrianglePlace> {
    let mut on_over_shared = vec![false; mesh.vertices.len()];
    for v in topology.over_shared().iter().flat_map(|edge| edge.vertices) {
        on_over_shared[v as usize] = true;
    }
    // Twins share all their edges, so those edges are over-shared or inconsistent, or the twins
    // are each other's only neighbours. That leaves few to sort, in a sound mesh none.
    let may_have_twin = |t: u32| {
        if topology.opposite(3 * t) == Opposite::Degenerate {
            return false;
        }
        let across = [0, 1, 2].map(|k| topology.partner(3 * t + k).map(|h| h / 3));
        let on = |v: &&u32| on_over_shared[**v as usize];
        across.contains(&None)
            || across[0] == across[1]
            || mesh.triangles[t as usize].iter().filter(on).count() > 1
    };
    let mut suspects: Vec<([u32; 3], u32)> = (0..)
        .zip(mesh.triangles.iter().take(topology.triangle_count()))
        .filter(|(t, _)| may_have_twin(*t))
        .map(|(t, corners)| (sorted(*corners), t))
        .collect();
    suspects.sort_unstable();
    let mut twins: Vec<u32> =
        suspects.windows(2).filter(|w| w[0].0 == w[1].0).map(|w| w[1].1).collect();
    twins.sort_unstable();
    let mut faults = Faults::default();
    for t in twins {
        faults.push(|| place(mesh, t as usize));
    }
    faults
}

/// The vertices of a triangle in rising order: equal for duplicates.
pub(super) fn sorted(mut corners: [u32; 3]) -> [u32; 3] {
    corners.sort_unstable();
    corners
}

#[expect(clippy::cast_possible_truncation, reason = "triangles are named by 32 bits throughout")]
fn place(mesh: &Mesh, t: usize) -> TrianglePlace {
    TrianglePlace { triangle: t as u32, point_mm: triangle_point(mesh, t) }
}
