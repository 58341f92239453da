//! A part in one of its turns, as voxels, ready for collision tests.

use crate::apart::Outline;
use crate::mask::{Mask, meets_shifted, padding, signed};
use crate::turns::{Rotation, axis_turn_between, rotations, scaled};
use crate::voxel::{fill_hollows, voxelise};
use crate::{Item, Space};
use base::{Affine, Cancelled, Progress};
use rayon::prelude::*;
use std::cmp::Reverse;

type Vec3 = [f64; 3];

/// Two shapes of the same item differ in their turn.
#[derive(Clone, Debug)]
pub(crate) struct Shape {
    /// Numbers of the turns, of those that the item allows, that give this mask; the first is meant.
    pub(crate) turns: Vec<usize>,
    /// Mask frame from part frame: turn, then move, mm. The mask starts at its origin.
    pub(crate) from_part: Affine,
    /// The part's own voxels.
    pub(crate) mask: Mask,
    /// Every voxel that no other mask may have; starts `pad` voxels earlier.
    pub(crate) halo: Mask,
    pub(crate) pad: usize,
    pub(crate) outline: Outline,
    pub(crate) halo_outline: Outline,
    /// Largest coordinate of the part itself in the mask frame, and the rim around it, mm.
    pub(crate) top_mm: Vec3,
    /// Set voxels per layer, and the same in all.
    pub(crate) layers: Vec<u32>,
    pub(crate) count: usize,
    /// The mask as stretches of 2^level voxels along X, those most likely to collide first.
    pub(crate) probes: Vec<Probe>,
}

impl Shape {
    /// The last position on each axis, voxels, that keeps the part itself within the room; below 0 where
    /// none does.
    pub(crate) fn last(&self, room_mm: Vec3, h: f64) -> [i32; 3] {
        #[expect(clippy::cast_possible_truncation, reason = "bounded by the grid")]
        let last = |k: usize| ((room_mm[k] - self.top_mm[k]) / h + 1e-7).floor().min(1e6) as i32;
        [0, 1, 2].map(last)
    }
}

/// A stretch of `1 << level` set voxels that starts at (x, y, z) of the mask.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Probe {
    pub(crate) x: u16,
    pub(crate) y: u16,
    pub(crate) z: u16,
    pub(crate) level: u16,
}

/// Whether a part's voxels meet what another may not have, each at its place.
pub(crate) fn meet(part: (&Shape, [i32; 3]), other: (&Shape, [i32; 3])) -> bool {
    let (mask, halo) = (&part.0.mask, &other.0.halo);
    let (from, to) = (part.1, other.1.map(|c| c - signed(other.0.pad)));
    let [xs, ys, zs] = [0, 1, 2].map(|k| {
        from[k].max(to[k])..(from[k] + signed(mask.dims[k])).min(to[k] + signed(halo.dims[k]))
    });
    let index = |c: i32, k: usize, start: [i32; 3]| (c - start[k]).unsigned_abs() as usize;
    !xs.is_empty()
        && zs.into_iter().any(|z| {
            ys.clone().any(|y| {
                let mine = mask.row(index(y, 1, from), index(z, 2, from));
                let its = halo.row(index(y, 1, to), index(z, 2, to));
                meets_shifted(mine, its, (from[0] - to[0]) as isize)
            })
        })
}

/// The room within the walls' clearance.
pub(crate) fn inner(space: &Space) -> (Vec3, Vec3) {
    let [w, d, h] = space.size_mm;
    let c = space.wall_clearance_mm;
    ([c - w / 2.0, c - d / 2.0, c], [w - 2.0 * c, d - 2.0 * c, h - 2.0 * c])
}

/// What voxels hold of a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rounding {
    /// All that the part meets, and all that comes nearer to it than the clearance is kept free: what
    /// fits, fits.
    Up,
    /// Those whose middle is within half the clearance of the part. Distances come out right on
    /// average, some too small: for [`crate::tighten`] to put right.
    Even,
}

/// How parts turn into voxels.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Grain {
    /// Edge of a voxel, mm.
    pub(crate) h: f64,
    pub(crate) rounding: Rounding,
    /// mm.
    pub(crate) clearance: f64,
}

impl Grain {
    /// How far a mask begins before its part, mm.
    pub(crate) fn rim(&self) -> f64 {
        match self.rounding {
            Rounding::Up => 0.0,
            Rounding::Even => 0.5 * self.clearance,
        }
    }

    /// How far from the mask no other may come, voxels.
    fn reach(&self) -> f64 {
        match self.rounding {
            Rounding::Up => self.clearance / self.h,
            Rounding::Even => 0.0,
        }
    }

    /// The voxels of a part, from `start` to `end` or a little beyond, and, where they hold a rim, those
    /// that the part itself meets.
    fn masks(&self, corners: &[[Vec3; 3]], start: Vec3, end: Vec3) -> (Mask, Option<Mask>) {
        match self.rounding {
            Rounding::Up => (voxelise(corners, start, end, self.h), None),
            Rounding::Even => {
                let mask = self.even_mask(corners, start, end);
                (mask, Some(voxelise(corners, start, end, self.h)))
            }
        }
    }

    fn even_mask(&self, corners: &[[Vec3; 3]], start: Vec3, end: Vec3) -> Mask {
        /// Voxels hold a part that is larger than it by about so much of their edge on every side.
        const SURPLUS: f64 = 0.9;
        /// Fine voxels per voxel; odd, so that one has the same middle.
        const FINE: usize = 3;
        let h = self.h / FINE as f64;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let dims = [0, 1, 2]
            .map(|k| ((end[k] - start[k]) / self.h - 1e-7).ceil().clamp(1.0, 1e6) as usize);
        let end = [0, 1, 2].map(|k| start[k] + dims[k] as f64 * self.h);
        let reach = (self.rim() / h - SURPLUS).max(0.0);
        let near = voxelise(corners, start, end, h).dilated(reach);
        let pad = padding(reach) + FINE / 2;
        let mut mask = Mask::new(dims);
        for z in 0..dims[2] {
            for y in 0..dims[1] {
                for x in 0..dims[0] {
                    if near.get([x, y, z].map(|c| pad + FINE * c)) {
                        mask.set([x, y, z]);
                    }
                }
            }
        }
        fill_hollows(&mut mask);
        mask
    }
}

/// All shapes of an item that fit `room` mm, equal ones once.
pub(crate) fn shapes_of(
    item: &Item,
    grain: &Grain,
    room: Vec3,
    progress: &Progress,
) -> Result<Vec<Shape>, Cancelled> {
    let corners: Vec<[Vec3; 3]> =
        (0..item.mesh.triangles.len()).map(|t| item.mesh.corners(t)).collect();
    let turns = rotations(item.turns);
    // Turns that lead to each other by turning axes to axes share their voxels.
    let mut leaders: Vec<usize> = Vec::new();
    let from: Vec<(usize, Rotation)> = (0..turns.len())
        .map(|i| {
            let known = leaders.iter().enumerate().find_map(|(n, &l)| {
                Some((n, axis_turn_between(&turns[l], &turns[i], item.scale)?))
            });
            known.unwrap_or_else(|| {
                leaders.push(i);
                (leaders.len() - 1, rotations(crate::Turns::Fixed)[0])
            })
        })
        .collect();
    let h = grain.h;
    let new = |i: usize| Turned::new(&corners, &scaled(&turns[i], item.scale), grain);
    let bases: Vec<Turned> = leaders.par_iter().map(|&i| new(i)).collect();
    let turned: Vec<Option<Shape>> = from
        .par_iter()
        .enumerate()
        .map(|(number, (leader, turn))| {
            progress.check().ok()?;
            let quick = bases[*leader].turn(turn, h);
            let fits = |t: &Turned| (0..3).all(|k| t.top_mm[k] <= room[k] + 1e-7 * h);
            // A turned mask may have its slack on the wrong side to fit a tight space.
            let turned = if fits(&quick) { quick } else { new(number) };
            fits(&turned).then(|| turned.shape(number, grain.reach()))
        })
        .collect();
    progress.check()?;
    let mut shapes: Vec<Shape> = Vec::new();
    for shape in turned.into_iter().flatten() {
        let twin = |s: &Shape| s.mask == shape.mask && (s.top_mm[2] - shape.top_mm[2]).abs() < 1e-9;
        match shapes.iter().position(twin) {
            Some(i) => shapes[i].turns.extend(shape.turns),
            None => shapes.push(shape),
        }
    }
    // Flat ones first: they tend to give the lowest top, which cuts the search for the others short.
    shapes.sort_by_key(|s| s.mask.dims[2]);
    Ok(shapes)
}

/// The shape of a locked placement, whose mask starts at voxel `at` of the room that starts at
/// `origin`.
pub(crate) fn locked_shape(
    item: &Item,
    pose: &Affine,
    grain: &Grain,
    origin: Vec3,
) -> (Shape, [i32; 3]) {
    let h = grain.h;
    let corners: Vec<[Vec3; 3]> = (0..item.mesh.triangles.len())
        .map(|t| item.mesh.corners(t).map(|p| pose.apply(p)))
        .collect();
    let (lo, hi) = extent(&corners, grain.rim());
    let at = [0, 1, 2].map(|k| ((lo[k] - origin[k]) / h + 1e-7).floor());
    let start = [0, 1, 2].map(|k| origin[k] + at[k] * h);
    let (mask, own) = grain.masks(&corners, start, hi);
    let from_part = Affine::translation(start.map(|c| -c)) * *pose;
    let top_mm = [0, 1, 2].map(|k| hi[k] - start[k]);
    let shape = Turned { from_part, mask, own, top_mm }.shape(0, grain.reach());
    #[expect(clippy::cast_possible_truncation, reason = "clamped; far outside is nowhere")]
    let at = at.map(|c| c.clamp(-1e6, 1e6) as i32);
    (shape, at)
}

/// Smallest and largest coordinates, with a rim around them.
fn extent(corners: &[[Vec3; 3]], rim: f64) -> (Vec3, Vec3) {
    let start = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    corners.iter().flatten().fold(start, |(mut lo, mut hi), p| {
        for k in 0..3 {
            lo[k] = lo[k].min(p[k] - rim);
            hi[k] = hi[k].max(p[k] + rim);
        }
        (lo, hi)
    })
}

struct Turned {
    from_part: Affine,
    mask: Mask,
    own: Option<Mask>,
    top_mm: Vec3,
}

impl Turned {
    fn new(corners: &[[Vec3; 3]], turn: &Rotation, grain: &Grain) -> Self {
        let mut map = Affine::IDENTITY;
        for (row, turn) in map.rows.iter_mut().zip(turn) {
            row[..3].copy_from_slice(turn);
        }
        let corners: Vec<[Vec3; 3]> = corners.iter().map(|t| t.map(|p| map.apply(p))).collect();
        let (lo, hi) = extent(&corners, grain.rim());
        let (mask, own) = grain.masks(&corners, lo, hi);
        Self {
            from_part: Affine::translation(lo.map(|c| -c)) * map,
            mask,
            own,
            top_mm: [0, 1, 2].map(|k| hi[k] - lo[k]),
        }
    }

    /// The same part after one more turn of axes to axes, without looking at triangles again.
    fn turn(&self, turn: &Rotation, h: f64) -> Self {
        let mut map = Affine::IDENTITY;
        let mut top_mm = [0.0; 3];
        for (k, (row, turn)) in map.rows.iter_mut().zip(turn).enumerate() {
            row[..3].copy_from_slice(turn);
            let from = turn.iter().position(|c| *c != 0.0).unwrap_or(0);
            // Backwards, the mask ends where it started.
            let back = turn[from] < 0.0;
            let length = self.mask.dims[from] as f64 * h;
            row[3] = if back { length } else { 0.0 };
            top_mm[k] = if back { length } else { self.top_mm[from] };
        }
        let own = self.own.as_ref().map(|own| own.turned(turn));
        Self { from_part: map * self.from_part, mask: self.mask.turned(turn), own, top_mm }
    }

    fn shape(self, turn: usize, reach: f64) -> Shape {
        let reach = (reach - 1e-9).max(0.0);
        let mut probes = Vec::new();
        for z in 0..self.mask.dims[2] {
            for y in 0..self.mask.dims[1] {
                Mask::runs(self.mask.row(y, z), |x, length| {
                    let level = length.ilog2();
                    let mut push = |x: usize| {
                        let small = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
                        let level = u16::try_from(level).unwrap_or(0);
                        probes.push(Probe { x: small(x), y: small(y), z: small(z), level });
                    };
                    push(x);
                    if length > 1 << level {
                        push(x + length - (1 << level));
                    }
                });
            }
        }
        // Long stretches collide most; equal ones in scattered order, so that the first few
        // already sample the whole part.
        probes.sort_by_key(|p| {
            let mix = (u64::from(p.x) << 32 | u64::from(p.y) << 16 | u64::from(p.z))
                .wrapping_mul(0x9e37_79b9_7f4a_7c15);
            (Reverse(p.level), mix ^ mix >> 29)
        });
        let halo = self.mask.dilated(reach);
        Shape {
            turns: vec![turn],
            from_part: self.from_part,
            // A rim would hide what parts are threaded through.
            outline: Outline::new(self.own.as_ref().unwrap_or(&self.mask)),
            halo_outline: Outline::new(self.own.as_ref().unwrap_or(&halo)),
            halo,
            pad: padding(reach),
            top_mm: self.top_mm,
            layers: self.mask.layer_counts(),
            count: self.mask.count(),
            mask: self.mask,
            probes,
        }
    }
}
