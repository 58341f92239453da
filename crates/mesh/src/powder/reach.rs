//! How far voxels are from material.

use super::grid::Grid;
use rayon::prelude::*;

/// Squares of the distances of voxels' centres from the nearest one that `blocks`, in voxels; those of
/// `most` and more voxels are all told as its square. Axis by axis: the least of a row's distances is carried
/// across the rows (Felzenszwalb & Huttenlocher 2012, "Distance Transforms of Sampled Functions", Theory of
/// Computing 8), here within a window, since far ones do not matter.
pub(super) fn squares(
    grid: &Grid,
    voxels: &[u8],
    most: u16,
    blocks: impl Fn(u8) -> bool + Sync,
) -> Vec<u16> {
    let [nx, ny, nz] = grid.size;
    let far = most * most;
    let mut one = vec![far; grid.len()];
    one.par_chunks_mut(nx).zip(voxels.par_chunks(nx)).for_each(|(row, voxels)| {
        let mut since = most;
        for (square, voxel) in row.iter_mut().zip(voxels) {
            since = if blocks(*voxel) { 0 } else { (since + 1).min(most) };
            *square = since * since;
        }
        let mut since = most;
        for (square, voxel) in row.iter_mut().zip(voxels).rev() {
            since = if blocks(*voxel) { 0 } else { (since + 1).min(most) };
            *square = (*square).min(since * since);
        }
    });
    let mut two = vec![far; grid.len()];
    let layer = nx * ny;
    two.par_chunks_mut(layer).zip(one.par_chunks(layer)).for_each(|(into, from)| {
        for (y, row) in into.chunks_mut(nx).enumerate() {
            for (other, offset) in window(y, ny, most) {
                carry(row, &from[other * nx..(other + 1) * nx], offset);
            }
        }
    });
    one.par_chunks_mut(layer).enumerate().for_each(|(z, into)| {
        into.fill(far);
        for (other, offset) in window(z, nz, most) {
            carry(into, &two[other * layer..(other + 1) * layer], offset);
        }
    });
    one
}

/// The rows less than `most` away, each with the square of how far.
fn window(at: usize, count: usize, most: u16) -> impl Iterator<Item = (usize, u16)> {
    (1 - i32::from(most)..i32::from(most)).filter_map(move |by| {
        let other = at.checked_add_signed(by as isize).filter(|other| *other < count)?;
        Some((other, u16::try_from(by * by).ok()?))
    })
}

fn carry(into: &mut [u16], from: &[u16], offset: u16) {
    for (square, other) in into.iter_mut().zip(from) {
        *square = (*square).min(other + offset);
    }
}
