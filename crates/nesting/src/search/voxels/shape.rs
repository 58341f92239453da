//! An item in one orientation, as voxels, ready for collision tests.

use super::column_extents::ColumnExtents;
use super::mask::{Mask, VoxelPos, meets_shifted, padding, signed};
use super::resolution::Resolution;
use super::voxelise::ROUNDING;
use crate::model::{Item, Orientations};
use crate::orientation::{Rotation, linear_map, quarter_turn_between, rotations, scaled};
use base::vec3::Vec3;
use base::{Affine, Cancelled, Progress};
use rayon::prelude::*;
use std::cmp::Reverse;

/// Differences of heights up to this, mm, are rounding: two orientations with equal masks count as one.
const SAME_MM: f64 = 1e-9;

/// A voxel that is nearer than the clearance by less than this, voxel edges, is at the clearance but for
/// rounding, and other parts may take it.
const AT_CLEARANCE: f64 = 1e-9;

/// Positions are clamped to this many voxels from the corner of the room: far outside of it nothing
/// meets anything.
const FAR_VOXELS: f64 = 1e6;

/// A multiplier that scatters numbers: the golden ratio as 64 bits.
const SCATTER: u64 = 0x9e37_79b9_7f4a_7c15;

/// Two shapes of the same item differ in their orientation.
#[derive(Clone, Debug)]
pub(crate) struct Shape {
    /// Indices of the orientations, of those that the item allows, that give this mask. Poses are made
    /// with the first.
    pub(crate) orientations: Vec<usize>,
    /// Takes points from the part frame to the frame of the mask, mm. The mask starts at the origin of its frame.
    pub(crate) from_part: Affine,
    /// The voxels of the part and of the margin around it.
    pub(crate) mask: Mask,
    /// Every voxel that no other mask may have; starts `pad` voxels before the mask.
    pub(crate) keep_out: Mask,
    pub(crate) pad: usize,
    /// What blocks others and what is blocked when parts are taken out.
    pub(crate) extents: ColumnExtents,
    pub(crate) keep_out_extents: ColumnExtents,
    /// Size of the part and the margin around it, mm: the mask may be larger by a fraction of a voxel.
    pub(crate) size_mm: Vec3,
    /// Voxels of the mask in each layer, and in all.
    pub(crate) layers: Vec<u32>,
    pub(crate) count: usize,
    /// The mask as stretches along X, those most likely to collide first.
    pub(crate) probes: Vec<Probe>,
}

impl Shape {
    /// The last position on each axis that keeps the part itself within the room; below 0 where none
    /// does.
    pub(crate) fn last_position(&self, room_mm: Vec3, voxel_mm: f64) -> VoxelPos {
        #[expect(clippy::cast_possible_truncation, reason = "bounded by the room")]
        let last = |k: usize| {
            ((room_mm[k] - self.size_mm[k]) / voxel_mm + ROUNDING).floor().min(FAR_VOXELS) as i32
        };
        [0, 1, 2].map(last)
    }

    /// Height of the mask, voxels.
    pub(crate) fn height(&self) -> i32 {
        signed(self.mask.dims[2])
    }
}

/// A stretch of `1 << log2_length` voxels of the mask that starts at (x, y, z).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Probe {
    pub(crate) x: u16,
    pub(crate) y: u16,
    pub(crate) z: u16,
    pub(crate) log2_length: u16,
}

/// Whether the mask of one shape meets the keep-out voxels of another, each at its position.
pub(crate) fn collide(part: (&Shape, VoxelPos), other: (&Shape, VoxelPos)) -> bool {
    let (mask, keep_out) = (&part.0.mask, &other.0.keep_out);
    let (from, to) = (part.1, other.1.map(|c| c - signed(other.0.pad)));
    let [xs, ys, zs] = [0, 1, 2].map(|k| {
        from[k].max(to[k])..(from[k] + signed(mask.dims[k])).min(to[k] + signed(keep_out.dims[k]))
    });
    let index = |c: i32, k: usize, start: VoxelPos| (c - start[k]).unsigned_abs() as usize;
    !xs.is_empty()
        && zs.into_iter().any(|z| {
            ys.clone().any(|y| {
                let own_row = mask.row(index(y, 1, from), index(z, 2, from));
                let other_row = keep_out.row(index(y, 1, to), index(z, 2, to));
                meets_shifted(own_row, other_row, (from[0] - to[0]) as isize)
            })
        })
}

/// All shapes of an item that fit the room, mm, those of equal masks once.
///
/// # Errors
/// [`Cancelled`] on request.
pub(crate) fn shapes_of(
    item: &Item,
    resolution: &Resolution,
    room: Vec3,
    progress: &Progress,
) -> Result<Vec<Shape>, Cancelled> {
    let corners: Vec<[Vec3; 3]> =
        (0..item.mesh().triangles.len()).map(|t| item.mesh().corners(t)).collect();
    let orientations = rotations(item.orientations);
    let (bases, from_base) = bases_of(&orientations, item.scale);
    let voxel_mm = resolution.voxel_mm;
    let new = |i: usize| Oriented::new(&corners, &scaled(&orientations[i], item.scale), resolution);
    let base = |&i: &usize| progress.check().map(|()| new(i));
    let bases: Vec<Oriented> = bases.par_iter().map(base).collect::<Result<_, Cancelled>>()?;
    let all: Vec<Option<Shape>> = from_base
        .par_iter()
        .enumerate()
        .map(|(orientation, (base, rotation))| {
            progress.check().ok()?;
            let quick = bases[*base].rotated(rotation, voxel_mm);
            let fits = |o: &Oriented| (0..3).all(|k| o.size_mm[k] <= room[k] + ROUNDING * voxel_mm);
            // A rotated mask may have its fraction of a voxel on the wrong side to fit a tight room.
            let oriented = if fits(&quick) { quick } else { new(orientation) };
            fits(&oriented).then(|| oriented.shape(orientation, resolution.keep_out_reach()))
        })
        .collect();
    progress.check()?;
    let mut shapes: Vec<Shape> = Vec::new();
    for shape in all.into_iter().flatten() {
        let is_same =
            |s: &Shape| s.mask == shape.mask && (s.size_mm[2] - shape.size_mm[2]).abs() < SAME_MM;
        match shapes.iter().position(is_same) {
            Some(i) => shapes[i].orientations.extend(shape.orientations),
            None => shapes.push(shape),
        }
    }
    // Flat ones first: they tend to give the lowest top, which cuts the search for the others short.
    shapes.sort_by_key(|s| s.mask.dims[2]);
    Ok(shapes)
}

/// Orientations that lead to each other by taking axes to axes share their voxels. Returns the index of
/// one orientation of each such group, and for every orientation its group and the rotation from there.
fn bases_of(orientations: &[Rotation], scale: Vec3) -> (Vec<usize>, Vec<(usize, Rotation)>) {
    let mut bases: Vec<usize> = Vec::new();
    let from_base = (0..orientations.len())
        .map(|i| {
            let known = bases.iter().enumerate().find_map(|(n, &base)| {
                let from = &orientations[base];
                Some((n, quarter_turn_between(from, &orientations[i], scale)?))
            });
            known.unwrap_or_else(|| {
                bases.push(i);
                (bases.len() - 1, rotations(Orientations::Fixed)[0])
            })
        })
        .collect();
    (bases, from_base)
}

/// The shape of a locked placement, and the position of its mask in the room that starts at `origin`.
pub(crate) fn locked_shape(
    item: &Item,
    pose: &Affine,
    resolution: &Resolution,
    origin: Vec3,
) -> (Shape, VoxelPos) {
    let voxel_mm = resolution.voxel_mm;
    let corners: Vec<[Vec3; 3]> = (0..item.mesh().triangles.len())
        .map(|t| item.mesh().corners(t).map(|p| pose.apply(p)))
        .collect();
    let (lo, hi) = extent(&corners, resolution.margin_mm());
    let at = [0, 1, 2].map(|k| ((lo[k] - origin[k]) / voxel_mm + ROUNDING).floor());
    let start = [0, 1, 2].map(|k| origin[k] + at[k] * voxel_mm);
    let (mask, own) = resolution.masks(&corners, start, hi);
    let from_part = Affine::translation(start.map(|c| -c)) * *pose;
    let size_mm = [0, 1, 2].map(|k| hi[k] - start[k]);
    let shape = Oriented { from_part, mask, own, size_mm }.shape(0, resolution.keep_out_reach());
    #[expect(clippy::cast_possible_truncation, reason = "clamped")]
    let at = at.map(|c| c.clamp(-FAR_VOXELS, FAR_VOXELS) as i32);
    (shape, at)
}

/// Smallest and largest coordinates, with a margin around them.
fn extent(corners: &[[Vec3; 3]], margin: f64) -> (Vec3, Vec3) {
    let start = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    corners.iter().flatten().fold(start, |(mut lo, mut hi), p| {
        for k in 0..3 {
            lo[k] = lo[k].min(p[k] - margin);
            hi[k] = hi[k].max(p[k] + margin);
        }
        (lo, hi)
    })
}

/// The voxels of an item in one orientation.
struct Oriented {
    from_part: Affine,
    mask: Mask,
    /// The voxels of the part alone, where the mask holds a margin.
    own: Option<Mask>,
    size_mm: Vec3,
}

impl Oriented {
    /// `linear` is what a pose does beside moving: it rotates and scales.
    fn new(corners: &[[Vec3; 3]], linear: &Rotation, resolution: &Resolution) -> Self {
        let map = linear_map(linear);
        let corners: Vec<[Vec3; 3]> = corners.iter().map(|t| t.map(|p| map.apply(p))).collect();
        let (lo, hi) = extent(&corners, resolution.margin_mm());
        let (mask, own) = resolution.masks(&corners, lo, hi);
        let from_part = Affine::translation(lo.map(|c| -c)) * map;
        Self { from_part, mask, own, size_mm: [0, 1, 2].map(|k| hi[k] - lo[k]) }
    }

    /// The same after one more rotation of axes to axes, without a look at the triangles.
    fn rotated(&self, rotation: &Rotation, voxel_mm: f64) -> Self {
        let mut map = linear_map(rotation);
        let mut size_mm = [0.0; 3];
        for (k, (row, rotation)) in map.rows.iter_mut().zip(rotation).enumerate() {
            let from = rotation.iter().position(|c| *c != 0.0).unwrap_or(0);
            // Reversed, the mask ends where it started, and so its fraction of a voxel comes first.
            let reversed = rotation[from] < 0.0;
            let length = self.mask.dims[from] as f64 * voxel_mm;
            row[3] = if reversed { length } else { 0.0 };
            size_mm[k] = if reversed { length } else { self.size_mm[from] };
        }
        let own = self.own.as_ref().map(|own| own.rotated(rotation));
        let mask = self.mask.rotated(rotation);
        Self { from_part: map * self.from_part, mask, own, size_mm }
    }

    fn shape(self, orientation: usize, keep_out_reach: f64) -> Shape {
        let reach = (keep_out_reach - AT_CLEARANCE).max(0.0);
        let keep_out = self.mask.dilated(reach);
        Shape {
            orientations: vec![orientation],
            from_part: self.from_part,
            // The margin would close the holes that other parts pass through.
            extents: ColumnExtents::new(self.own.as_ref().unwrap_or(&self.mask)),
            keep_out_extents: ColumnExtents::new(self.own.as_ref().unwrap_or(&keep_out)),
            keep_out,
            pad: padding(reach),
            size_mm: self.size_mm,
            layers: self.mask.layer_counts(),
            count: self.mask.count(),
            probes: probes(&self.mask),
            mask: self.mask,
        }
    }
}

/// Stretches of a power of two that cover the mask, two for each run of voxels that is no power of two.
fn probes(mask: &Mask) -> Vec<Probe> {
    let mut probes = Vec::new();
    for z in 0..mask.dims[2] {
        for y in 0..mask.dims[1] {
            Mask::runs(mask.row(y, z), |x, length| {
                let log2 = length.ilog2();
                let mut push = |x: usize| {
                    let small = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
                    let log2_length = u16::try_from(log2).unwrap_or(0);
                    probes.push(Probe { x: small(x), y: small(y), z: small(z), log2_length });
                };
                push(x);
                if length > 1 << log2 {
                    push(x + length - (1 << log2));
                }
            });
        }
    }
    // Long stretches collide most. Equal ones come in scattered order, so that the first few already
    // sample the whole part.
    probes.sort_by_key(|p| {
        let mixed =
            (u64::from(p.x) << 32 | u64::from(p.y) << 16 | u64::from(p.z)).wrapping_mul(SCATTER);
        (Reverse(p.log2_length), mixed ^ mixed >> 29)
    });
    probes
}
