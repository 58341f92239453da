//! Which voxels a search goes through.

use crate::model::{Item, Options, Space, Turns};
use crate::shape::{Rounding, inner};

/// Edge of the voxels, mm, and what they hold.
pub(crate) type Level = (f64, Rounding);

/// From the first to the last. With a clearance that voxels can tell, something quick to show, then
/// evenly rounded ones; else voxels rounded up; coarse to fine, each half of the one before.
pub(crate) fn levels(items: &[Item], space: &Space, options: &Options) -> Vec<Level> {
    let sizes = voxel_sizes(items, space, options);
    let c = space.clearance_mm;
    // Up to so large they mistake distances by less than the clearance.
    match sizes.iter().find(|h| **h <= c) {
        Some(&h) if c > 0.0 => {
            vec![(h, Rounding::Up), (2.0 * h, Rounding::Even), (h, Rounding::Even)]
        }
        _ => sizes.into_iter().map(|h| (h, Rounding::Up)).collect(),
    }
}

fn voxel_sizes(items: &[Item], space: &Space, options: &Options) -> Vec<f64> {
    /// Voxels of the room, about: what a search can go through again and again.
    const VOXELS: f64 = 8e6;
    let room = inner(space).1;
    let widest = 64.0 * crate::grid::MAX_WORDS as f64 - 1.0;
    // Rows are limited, and so are heights by what a number of 16 bits holds.
    let floor = (room[0] / widest).max(room[1] / 4096.0).max(room[2] / 16_384.0);
    let used: f64 = items
        .iter()
        .filter_map(|i| Some((i.mesh.bounds()?, f64::from(i.quantity))))
        .map(|((lo, hi), n)| {
            n * (0..3).map(|k| hi[k] - lo[k] + space.clearance_mm).product::<f64>()
        })
        .sum();
    let room_mm3: f64 = room.iter().product();
    let target = (room_mm3.min(4.0 * used.max(1e-9)) / VOXELS).cbrt();
    if let Some(h) = options.voxel_mm {
        let h = h.max(floor);
        return if 2.0 * h <= space.clearance_mm { vec![2.0 * h, h] } else { vec![h] };
    }
    let c = space.clearance_mm;
    if c > 0.0 {
        // Whole voxels make up the clearance, at both sizes, or each gap would be rounded up.
        let pairs = (0.5 * c / target.max(floor)).ceil().max(1.0);
        let h = (0.5 * c / pairs).max(0.5 * target).max(floor);
        return vec![2.0 * h, h];
    }
    match lattice(items) {
        Some((step, true)) if step >= floor => vec![step],
        Some((step, false)) => {
            let h = (step / (step / target).ceil()).max(floor);
            vec![2.0 * h, h]
        }
        _ => {
            let h = target.max(floor);
            vec![2.0 * h, h]
        }
    }
}

/// The largest round step, mm, of which all coordinates of all parts are multiples, counted from
/// their corner, and whether all their faces are upright or level; `None` if there is none or if a
/// part may be turned off the axes.
pub(crate) fn lattice(items: &[Item]) -> Option<(f64, bool)> {
    const STEPS: [f64; 10] = [10., 5., 2., 1., 0.5, 0.25, 0.2, 0.1, 0.05, 0.01];
    let straight = |t: Turns| match t {
        Turns::Fixed | Turns::Axis24 => true,
        Turns::FaceUp { steps } => steps > 0 && 4 % steps == 0,
        Turns::Free { samples } => samples == 0,
    };
    let plain = |i: &Item| i.scale.iter().all(|s| (s - 1.0).abs() < f64::EPSILON);
    if !items.iter().all(|i| straight(i.turns) && plain(i)) {
        return None;
    }
    let step = STEPS.into_iter().find(|step| {
        items.iter().all(|item| {
            let Some((lo, _)) = item.mesh.bounds() else { return true };
            item.mesh.vertices.iter().all(|v| {
                (0..3).all(|k| {
                    let n = (v[k] - lo[k]) / step;
                    (n - n.round()).abs() < 1e-6
                })
            })
        })
    })?;
    let square = items.iter().all(|item| {
        (0..item.mesh.triangles.len()).all(|t| {
            let [a, b, c] = item.mesh.corners(t);
            (0..3).any(|k| (a[k] - b[k]).abs() < 1e-9 && (a[k] - c[k]).abs() < 1e-9)
        })
    });
    Some((step, square))
}
