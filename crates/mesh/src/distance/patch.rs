//! Boxes that lie along the surface: thin where a patch of it is nearly flat.
//!
//! Two patches that face each other, boxed along the axes, seem nearer than they are by about their
//! width; boxed along their mean normals only by about the square of it (oriented boxes: Gottschalk,
//! Lin & Manocha 1996, SIGGRAPH, 171–180).

use crate::measures::usable_corners;
use crate::{Hierarchy, Mesh};
use base::Affine;
use base::vec3::{Vec3, add, cross, dot, scale, sub};

/// Nodes with more triangles than this are hardly ever flat; they keep the box along the axes.
const MOST_TRIANGLES: usize = 128;

/// A patch counts as flat if its normals add up to at least this part of its area.
const FLAT: f64 = 0.7;

/// A box around what a node holds, part frame: `centre ± half[k] · axes[k]`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Patch {
    centre: [f32; 3],
    half: [f32; 3],
    /// Orthonormal to single precision, the mean normal first.
    axes: [[f32; 3]; 3],
}

/// One for each node of the tree.
pub(super) fn patches(mesh: &Mesh, tree: &Hierarchy) -> Vec<Patch> {
    let count = tree.node_count();
    let mut all = vec![Patch::along_axes([0.0; 3], [0.0; 3]); count as usize];
    // Per node: where its triangles are listed, the sum of their normals, of their areas.
    let mut sums = vec![(0..0, [0.0; 3], 0.0); count as usize];
    for node in (0..count).rev() {
        let i = node as usize;
        sums[i] = if let Some(child) = tree.children(node) {
            // Children come after their parents, so they are done.
            let (p, q) = (&sums[child as usize], &sums[child as usize + 1]);
            (p.0.start.min(q.0.start)..p.0.end.max(q.0.end), add(p.1, q.1), p.2 + q.2)
        } else {
            let listed = tree.listed(node);
            let normals = tree.triangles_of(node).filter_map(|t| corners(mesh, t)).map(normal);
            let (sum, area) = normals
                .fold(([0.0; 3], 0.0), |(sum, area), n| (add(sum, n), area + dot(n, n).sqrt()));
            (listed, sum, area)
        };
        let (listed, sum, area) = &sums[i];
        let length = dot(*sum, *sum).sqrt();
        let (lo, hi) = tree.bounds_of(node);
        all[i] = if listed.len() <= MOST_TRIANGLES && length > FLAT * area {
            let points = tree.triangles_listed(listed.clone()).filter_map(|t| corners(mesh, t));
            Patch::along(scale(*sum, 1.0 / length), (lo, hi), points.flatten())
        } else {
            Patch::along_axes(lo, hi)
        };
    }
    all
}

fn corners(mesh: &Mesh, triangle: u32) -> Option<[Vec3; 3]> {
    usable_corners(mesh, *mesh.triangles.get(triangle as usize)?)
}

fn normal([a, b, c]: [Vec3; 3]) -> Vec3 {
    cross(sub(b, a), sub(c, a))
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "what rounding loses is added to the half lengths"
)]
fn narrow(p: Vec3) -> [f32; 3] {
    p.map(|c| c as f32)
}

fn wide(p: [f32; 3]) -> Vec3 {
    p.map(f64::from)
}

impl Patch {
    fn along_axes(lo: [f32; 3], hi: [f32; 3]) -> Self {
        let (lo, hi) = (wide(lo), wide(hi));
        let centre = narrow([0, 1, 2].map(|k| 0.5 * (lo[k] + hi[k])));
        let half = [0, 1, 2].map(|k| {
            let c = f64::from(centre[k]);
            narrow([(hi[k] - c).max(c - lo[k]); 3])[0].next_up()
        });
        Self { centre, half, axes: [[1., 0., 0.], [0., 1., 0.], [0., 0., 1.]] }
    }

    fn along(n: Vec3, (lo, hi): ([f32; 3], [f32; 3]), points: impl Iterator<Item = Vec3>) -> Self {
        // Of the two longer edges of the box along the axes, the one farther from the normal.
        let extent = [0, 1, 2].map(|k| hi[k] - lo[k]);
        let k = (0..3)
            .max_by(|&i, &j| {
                let wide = |k: usize| f64::from(extent[k]) * (1.0 - n[k] * n[k]);
                wide(i).total_cmp(&wide(j))
            })
            .unwrap_or(0);
        let mut u = scale(n, -n[k]);
        u[k] += 1.0;
        let u = scale(u, 1.0 / dot(u, u).sqrt());
        let axes = [n, u, cross(n, u)].map(narrow);
        let middle = [0, 1, 2].map(|k| 0.5 * (f64::from(lo[k]) + f64::from(hi[k])));
        let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
        for p in points {
            for k in 0..3 {
                let along = dot(wide(axes[k]), sub(p, middle));
                low[k] = low[k].min(along);
                high[k] = high[k].max(along);
            }
        }
        let mut centre = middle;
        for k in 0..3 {
            centre = add(centre, scale(wide(axes[k]), 0.5 * (low[k] + high[k])));
        }
        let half = [0, 1, 2].map(|k| 0.5 * (high[k] - low[k]));
        // Axes in single precision are off by less than 1e-7 of unity and of a right angle, the
        // centre by 1e-7 of itself.
        let size: f64 = half.iter().sum::<f64>() + centre.iter().map(|c| c.abs()).sum::<f64>();
        Self { centre: narrow(centre), half: narrow(half.map(|h| h + 4e-7 * size)), axes }
    }
}

/// How patches are looked at in the build space.
pub(super) struct View {
    pose: Affine,
    /// Rows of the transposed inverse of the linear part: turns normals.
    normals: [[f64; 3]; 3],
}

impl View {
    pub(super) fn new(pose: &Affine) -> Option<Self> {
        let inverse = super::frame::inverse(pose)?;
        let normals = [0, 1, 2].map(|k| [0, 1, 2].map(|j| inverse.rows[j][k]));
        Some(Self { pose: *pose, normals })
    }

    fn centre(&self, patch: &Patch) -> Vec3 {
        self.pose.apply(wide(patch.centre))
    }

    /// Half the length of the box's shadow along `d`, times the length of `d`.
    #[inline]
    fn reach(&self, patch: &Patch, d: Vec3) -> f64 {
        let m = &self.pose.rows;
        let own = [0, 1, 2].map(|k| m[0][k] * d[0] + m[1][k] * d[1] + m[2][k] * d[2]);
        let shadow = |k: usize| f64::from(patch.half[k]) * dot(wide(patch.axes[k]), own).abs();
        shadow(0) + shadow(1) + shadow(2)
    }

    #[inline]
    fn normal(&self, patch: &Patch) -> Vec3 {
        let n = wide(patch.axes[0]);
        self.normals.map(|row| dot(row, n))
    }
}

/// Whether two patches are farther apart than `least`, by the gap between their shadows along the
/// line through their centres or along one of their normals. May give up.
#[inline]
pub(super) fn are_farther((v, p): (&View, &Patch), (w, q): (&View, &Patch), least: f64) -> bool {
    let between = sub(w.centre(q), v.centre(p));
    let apart = |d: Vec3| {
        let gap = dot(between, d).abs() - v.reach(p, d) - w.reach(q, d);
        gap > 0.0 && gap * gap >= least * least * dot(d, d)
    };
    apart(between) || apart(v.normal(p)) || apart(w.normal(q))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::distance::tests::torus;

    #[test]
    fn every_patch_holds_its_triangles_and_most_small_ones_are_thin() {
        let mesh = torus(20.0, 5.0, 48);
        let tree = Hierarchy::build(&mesh);
        let all = patches(&mesh, &tree);
        let (mut thin, mut leaves) = (0, 0);
        for node in (0..tree.node_count()).filter(|n| tree.children(*n).is_none()) {
            let patch = &all[node as usize];
            for p in tree.triangles_of(node).flat_map(|t| mesh.corners(t as usize)) {
                let d = sub(p, wide(patch.centre));
                for k in 0..3 {
                    assert!(dot(wide(patch.axes[k]), d).abs() <= f64::from(patch.half[k]));
                }
            }
            leaves += 1;
            thin += i32::from(patch.half[0] < 0.2 * patch.half[1].max(patch.half[2]));
        }
        assert!(thin > leaves * 9 / 10, "{thin} of {leaves}");
    }
}
