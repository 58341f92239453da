//! The passes of a search: which sizes of voxels it goes through.

use super::state::occupancy::MAX_WORDS;
use super::voxels::resolution::Rounding;
use crate::model::{Item, Options, Orientations, Space};

/// Voxels of the room, about: what a search can go through again and again. With more it is slow, with
/// fewer small gaps between parts are not seen. By taste.
const VOXELS: f64 = 8e6;

/// At most so many times the volume of all boxes counts as room when the voxels are chosen: the rest
/// stays empty, and its voxels are never looked at.
const MAX_ROOM_PER_BOX_VOLUME: f64 = 4.0;

/// Least volume of all boxes, mm³, so that nothing is divided by 0.
const MIN_MM3: f64 = 1e-9;

/// Most voxels along X, Y, Z. Along X a row must fit the words of the grid with a voxel to spare; along Y
/// and Z more would only take memory, and heights must fit 16 bits.
const MAX_X: f64 = 64.0 * MAX_WORDS as f64 - 1.0;
const MAX_Y: f64 = 4096.0;
const MAX_Z: f64 = 16_384.0;

/// Round lengths, mm, of which the coordinates of parts may be multiples.
const ROUND_STEPS_MM: [f64; 10] = [10., 5., 2., 1., 0.5, 0.25, 0.2, 0.1, 0.05, 0.01];

/// A coordinate is a multiple of a step if it is nearer to one than this fraction of the step: the rest
/// is rounding in files.
const MULTIPLE: f64 = 1e-6;

/// Corners lie in one plane across an axis if they differ along it by less, mm: the rest is rounding in
/// files.
const COPLANAR_MM: f64 = 1e-9;

/// One pass of the search: the voxels on which it works.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Pass {
    /// Edge of the voxels, mm.
    pub(crate) voxel_mm: f64,
    pub(crate) rounding: Rounding,
}

/// From the first pass to the last. If some voxel size is no larger than the clearance: conservative
/// voxels, for something quick to report, then voxels rounded to nearest, coarse and fine. Else
/// conservative voxels, coarse and fine. Each edge is half of the one before.
pub(crate) fn passes(items: &[Item], space: &Space, options: &Options) -> Vec<Pass> {
    let sizes = voxel_sizes(items, space, options);
    let pass = |voxel_mm, rounding| Pass { voxel_mm, rounding };
    let clearance = space.clearance_mm;
    // Voxels no larger than the clearance mistake distances by less than the clearance.
    match sizes.iter().find(|h| **h <= clearance) {
        Some(&fine) if clearance > 0.0 => vec![
            pass(fine, Rounding::Conservative),
            pass(2.0 * fine, Rounding::Nearest),
            pass(fine, Rounding::Nearest),
        ],
        _ => sizes.into_iter().map(|h| pass(h, Rounding::Conservative)).collect(),
    }
}

/// Edges of voxels, mm, the coarse one first.
fn voxel_sizes(items: &[Item], space: &Space, options: &Options) -> Vec<f64> {
    let room = space.room().1;
    let smallest = (room[0] / MAX_X).max(room[1] / MAX_Y).max(room[2] / MAX_Z);
    let clearance = space.clearance_mm;
    if let Some(h) = options.voxel_mm {
        let h = h.max(smallest);
        return if 2.0 * h <= clearance { vec![2.0 * h, h] } else { vec![h] };
    }
    let boxes_mm3: f64 = items
        .iter()
        .filter_map(|i| Some((i.mesh().bounds()?, f64::from(i.quantity))))
        .map(|((lo, hi), n)| n * (0..3).map(|k| hi[k] - lo[k] + clearance).product::<f64>())
        .sum();
    let room_mm3: f64 = room.iter().product();
    let used_mm3 = room_mm3.min(MAX_ROOM_PER_BOX_VOLUME * boxes_mm3.max(MIN_MM3));
    let wanted = (used_mm3 / VOXELS).cbrt();
    if clearance > 0.0 {
        // A whole number of voxels makes up the clearance, at both sizes, or each gap would be rounded up:
        // `pairs` coarse voxels, each as wide as two fine ones.
        let pairs = (0.5 * clearance / wanted.max(smallest)).ceil().max(1.0);
        let h = (0.5 * clearance / pairs).max(0.5 * wanted).max(smallest);
        return vec![2.0 * h, h];
    }
    let h = match common_step(items) {
        Some(CommonStep { step_mm, is_axis_aligned: true }) if step_mm >= smallest => {
            return vec![step_mm];
        }
        Some(CommonStep { step_mm, is_axis_aligned: false }) => {
            (step_mm / (step_mm / wanted).ceil()).max(smallest)
        }
        _ => wanted.max(smallest),
    };
    vec![2.0 * h, h]
}

/// A length of which all coordinates of all parts are multiples.
pub(crate) struct CommonStep {
    pub(crate) step_mm: f64,
    /// Whether all faces lie across an axis: the parts are made of cubes of that step.
    pub(crate) is_axis_aligned: bool,
}

/// The largest round step of which all coordinates of all parts are multiples, counted from their
/// lowest corner; `None` if there is none, or if a part may be rotated off the axes.
pub(crate) fn common_step(items: &[Item]) -> Option<CommonStep> {
    let along_axes = |orientations: Orientations| match orientations {
        Orientations::Fixed | Orientations::QuarterTurns => true,
        Orientations::AboutZ { steps } => steps > 0 && 4 % steps == 0,
        Orientations::Many { extra } => extra == 0,
    };
    let unscaled = |i: &Item| i.scale.iter().all(|s| (s - 1.0).abs() < f64::EPSILON);
    if !items.iter().all(|i| along_axes(i.orientations) && unscaled(i)) {
        return None;
    }
    let step_mm = ROUND_STEPS_MM.into_iter().find(|step| {
        items.iter().all(|item| {
            let Some((lo, _)) = item.mesh().bounds() else { return true };
            item.mesh().vertices.iter().all(|v| {
                (0..3).all(|k| {
                    let n = (v[k] - lo[k]) / step;
                    (n - n.round()).abs() < MULTIPLE
                })
            })
        })
    })?;
    let is_axis_aligned = items.iter().all(|item| {
        (0..item.mesh().triangles.len()).all(|t| {
            let [a, b, c] = item.mesh().corners(t);
            (0..3).any(|k| (a[k] - b[k]).abs() < COPLANAR_MM && (a[k] - c[k]).abs() < COPLANAR_MM)
        })
    });
    Some(CommonStep { step_mm, is_axis_aligned })
}
