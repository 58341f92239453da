//! Which voxels lie in the material, and through which the surface goes.

use super::grid::{Grid, count};
use crate::Mesh;
use crate::measures::usable_corners;
use base::vec3::Vec3;
use base::{Cancelled, Progress};
use rayon::prelude::*;
use std::sync::atomic::{AtomicI16, AtomicU8, Ordering::Relaxed};

/// The centre lies in the material.
pub(super) const SOLID: u8 = 1;
/// The surface crosses a line of centres within the voxel. Whoever goes from centre to centre and keeps off
/// such voxels crosses no surface.
pub(super) const SURFACE: u8 = 2;

/// Marks every voxel. Additions and unions in any order give the same, so that threads do not matter.
pub(super) fn voxels(mesh: &Mesh, grid: &Grid, progress: &Progress) -> Result<Vec<u8>, Cancelled> {
    let marks: Vec<AtomicU8> = (0..grid.len()).map(|_| AtomicU8::new(0)).collect();
    let turns: Vec<AtomicI16> = (0..grid.len()).map(|_| AtomicI16::new(0)).collect();
    mesh.triangles.par_iter().try_for_each(|triangle| {
        let Some(corners) = usable_corners(mesh, *triangle) else { return Ok(()) };
        progress.check()?;
        let corners = corners.map(|p| grid.seen(p));
        for axis in 0..3 {
            crossings(&corners, axis, |place, depth, leaves| {
                let mut voxel = place;
                voxel[axis] = count(depth - 0.5);
                marks[grid.index(voxel)].fetch_or(SURFACE, Relaxed);
                if axis == 0 {
                    voxel[0] = count(depth);
                    turns[grid.index(voxel)].fetch_add(if leaves { -1 } else { 1 }, Relaxed);
                }
            });
        }
        Ok::<_, Cancelled>(())
    })?;
    let mut voxels: Vec<u8> = marks.into_iter().map(AtomicU8::into_inner).collect();
    let row = grid.size[0];
    voxels.par_chunks_mut(row).zip(turns.par_chunks(row)).for_each(|(voxels, turns)| {
        let mut winding = 0_i16;
        for (voxel, turn) in voxels.iter_mut().zip(turns) {
            winding = winding.wrapping_add(turn.load(Relaxed));
            if winding != 0 {
                *voxel |= SOLID;
            }
        }
    });
    Ok(voxels)
}

/// The lines of centres along an axis that a triangle, in voxels, crosses: which line, where along it, and
/// whether it leaves the material. A line through an edge crosses one of the triangles at it: every edge is
/// judged alike whichever triangle asks, and a line on an edge counts as beside it on the same side.
fn crossings(corners: &[Vec3; 3], axis: usize, mut found: impl FnMut([usize; 3], f64, bool)) {
    let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
    let flat = corners.map(|p| [p[u], p[v]]);
    let area = cross(flat[0], flat[1], flat[2]);
    if area == 0.0 {
        return;
    }
    let range = |k: usize| {
        let [a, b, c] = flat.map(|p| p[k]);
        count(a.min(b).min(c))..count(a.max(b).max(c).floor() + 1.0)
    };
    for j in range(1) {
        for i in range(0) {
            let p = [i as f64, j as f64];
            let left = [0, 1, 2].map(|k| is_left(flat[k], flat[(k + 1) % 3], p));
            if left != [left[0]; 3] {
                continue;
            }
            let share = [0, 1, 2].map(|k| cross(flat[(k + 1) % 3], flat[(k + 2) % 3], p) / area);
            let depth: f64 = (0..3).map(|k| share[k] * corners[k][axis]).sum();
            let [lo, hi] = [f64::min, f64::max]
                .map(|f| f(f(corners[0][axis], corners[1][axis]), corners[2][axis]));
            let mut place = [0; 3];
            (place[u], place[v]) = (i, j);
            found(place, depth.clamp(lo, hi), left[0]);
        }
    }
}

fn cross(a: [f64; 2], b: [f64; 2], p: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
}

/// Whether a point lies to the left of a way; of a point on it, the way in rising order decides.
fn is_left(a: [f64; 2], b: [f64; 2], p: [f64; 2]) -> bool {
    if (a[0], a[1]) <= (b[0], b[1]) { cross(a, b, p) >= 0.0 } else { cross(b, a, p) < 0.0 }
}
