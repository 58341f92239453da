//! Self-intersections: the pairs of triangles that touch or cross.

use super::places::{ContactPlace, Faults};
use super::triangles::sorted;
use crate::Mesh;
use crate::hierarchy::Hierarchy;
use crate::intersect::touch_or_cross;
use base::vec3::{Vec3, midpoint};
use base::{Cancelled, Progress};
use serde::Serialize;
use std::ops::ControlFlow;

/// The pairs of triangles that touch or cross besides sharing corners or edges; see
/// [`touch_or_cross`]. Degenerate triangles and duplicates are reported as such and left out here.
///
/// A touch in a single point counts like a crossing: solids that touch are sintered together.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SelfIntersections {
    /// All pairs, as far as was looked: see `ended_early`.
    pub count: usize,
    /// Those of triangles that belong to different shells.
    pub between_shells: usize,
    /// The first [`super::PLACES_KEPT`] pairs found, by rising triangles.
    pub first: Vec<ContactPlace>,
    /// Whether there were so many neighbours that not all of them were looked at: where thousands of
    /// triangles share an edge, there are millions.
    pub ended_early: bool,
}

/// Pairs of triangles whose boxes meet that are looked at, per triangle of the mesh and beside that. A
/// sound mesh has some ten per triangle; a second goes through millions.
const PAIRS_PER_TRIANGLE: u64 = 100;
const PAIRS_IN_ANY_CASE: u64 = 10_000_000;

/// The outcome of the search.
#[derive(Default)]
pub(super) struct Found {
    pairs: Faults<ContactPlace>,
    between_shells: usize,
    ended_early: bool,
    /// Shells in contact with another, repeatedly.
    touched: Vec<bool>,
}

/// Tests all pairs whose boxes meet, except degenerate triangles and duplicates; ends early where there are
/// very many.
pub(super) fn find(
    mesh: &Mesh,
    hierarchy: &Hierarchy,
    is_degenerate: &[bool],
    shell_of: &[u32],
    progress: &Progress,
) -> Result<Found, Cancelled> {
    let mut found = Found::default();
    let mut left = PAIRS_IN_ANY_CASE + PAIRS_PER_TRIANGLE * mesh.triangles.len() as u64;
    hierarchy.self_pairs(progress, |s, t| {
        let (i, j) = (s as usize, t as usize);
        left -= 1;
        if left == 0 {
            found.ended_early = true;
            return ControlFlow::Break(());
        }
        if is_degenerate[i] || is_degenerate[j] {
            return ControlFlow::Continue(());
        }
        let (a, b) = (mesh.corners(i), mesh.corners(j));
        if !touch_or_cross(&a, &b) || sorted(mesh.triangles[i]) == sorted(mesh.triangles[j]) {
            return ControlFlow::Continue(());
        }
        found.pairs.push(|| ContactPlace {
            triangles: [s.min(t), s.max(t)],
            point_mm: middle_of_common_box(&a, &b),
        });
        if let (Some(&p), Some(&q)) = (shell_of.get(i), shell_of.get(j))
            && p != q
        {
            found.between_shells += 1;
            found.touch(p);
            found.touch(q);
        }
        ControlFlow::Continue(())
    })?;
    found.pairs.first.sort_unstable_by_key(|contact| contact.triangles);
    Ok(found)
}

impl Found {
    fn touch(&mut self, shell: u32) {
        let shell = shell as usize;
        if self.touched.len() <= shell {
            self.touched.resize(shell + 1, false);
        }
        self.touched[shell] = true;
    }

    /// For each shell whether it is in contact with another.
    pub(super) fn touched_shells(&self, shell_count: usize) -> Vec<bool> {
        let mut touched = self.touched.clone();
        touched.resize(shell_count, false);
        touched
    }

    pub(super) fn into_report(self) -> SelfIntersections {
        let Self { pairs: Faults { count, first }, between_shells, ended_early, .. } = self;
        SelfIntersections { count, between_shells, first, ended_early }
    }
}

fn middle_of_common_box(a: &[Vec3; 3], b: &[Vec3; 3]) -> Vec3 {
    let least = |t: &[Vec3; 3], k: usize| t[0][k].min(t[1][k]).min(t[2][k]);
    let most = |t: &[Vec3; 3], k: usize| t[0][k].max(t[1][k]).max(t[2][k]);
    midpoint(
        [0, 1, 2].map(|k| least(a, k).max(least(b, k))),
        [0, 1, 2].map(|k| most(a, k).min(most(b, k))),
    )
}
