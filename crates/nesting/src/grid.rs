//! Which voxels of a build are taken, and where a shape still fits.
//!
//! For a row of positions of a shape, equal but for x, one word operation tests 64 positions: the
//! taken row, moved back by a set voxel of the shape, has a bit where that voxel would collide.
//! The same rows are kept with every bit smeared over the 1, 2, 4, … voxels before it, so that a
//! stretch of the shape costs two such operations, whatever its length.

use crate::mask::{Mask, meets_shifted, or_shifted};
use crate::shape::Shape;

/// Widest grid, words per row: 512 voxels.
pub(crate) const MAX_WORDS: usize = 8;

/// A position of a mask: voxels from the corner of the room.
pub(crate) type At = [i32; 3];

/// The voxels that no further part may meet: the halos of all parts.
#[derive(Clone, Debug)]
pub(crate) struct Grid {
    /// Voxels per axis; one spare voxel in y and z for masks that end beyond the part itself.
    pub(crate) dims: [usize; 3],
    words: usize,
    /// `levels[k]` row: bit x is set if one of the 2^k voxels from x on is taken.
    levels: Vec<Vec<u64>>,
}

/// Rows of positions that may still hold a free one, as bits over y, then z. Facts only: a row is
/// taken out when it was found blocked, and put back when something near it leaves.
#[derive(Clone, Debug)]
pub(crate) struct Hope {
    words: usize,
    rows: Vec<u64>,
    /// Positions that keep the part itself within the room.
    last: At,
}

impl Hope {
    pub(crate) fn new(shape: &Shape, room_mm: [f64; 3], h: f64, grid: &Grid) -> Self {
        #[expect(clippy::cast_possible_truncation, reason = "bounded by the grid")]
        let last =
            [0, 1, 2].map(|k| ((room_mm[k] - shape.top_mm[k]) / h + 1e-7).floor().min(1e6) as i32);
        let words = grid.dims[1].div_ceil(64);
        let mut hope = Self { words, rows: vec![0; words * grid.dims[2]], last };
        hope.restore([0; 3], last);
        hope
    }

    /// Puts back the rows from `lo` to `hi`, both included, as far as they exist.
    fn restore(&mut self, lo: At, hi: At) {
        let (first, last) = (lo[1].max(0), hi[1].min(self.last[1]));
        if first > last {
            return;
        }
        let (first, last) = (first.unsigned_abs() as usize, last.unsigned_abs() as usize);
        for z in lo[2].max(0)..=hi[2].min(self.last[2]) {
            let start = z.unsigned_abs() as usize * self.words;
            for word in first / 64..=last / 64 {
                let from = if word == first / 64 { !0 << (first % 64) } else { !0 };
                let to = if word == last / 64 { !0 >> (63 - last % 64) } else { !0 };
                self.rows[start + word] |= from & to;
            }
        }
    }

    /// Tells that the halo of a part left the box from `lo` to below `hi`.
    pub(crate) fn freed(&mut self, shape: &Shape, lo: At, hi: At) {
        let size = shape.mask.dims.map(signed);
        self.restore([0, 1, 2].map(|k| lo[k] - size[k] + 1), [0, 1, 2].map(|k| hi[k] - 1));
    }
}

fn signed(n: usize) -> i32 {
    i32::try_from(n).unwrap_or(i32::MAX)
}

/// Where to look.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Look {
    /// First and last height of the mask's bottom, voxels.
    pub(crate) from: i32,
    pub(crate) to: i32,
    /// Whether to prefer the right and the back to the left and the front.
    pub(crate) right: bool,
    pub(crate) back: bool,
}

impl Grid {
    pub(crate) fn new(dims: [usize; 3]) -> Self {
        let dims = [dims[0], dims[1] + 1, dims[2] + 1];
        let words = dims[0].div_ceil(64).clamp(1, MAX_WORDS);
        let levels = dims[0].max(1).ilog2() as usize + 1;
        Self { dims, words, levels: vec![vec![0; words * dims[1] * dims[2]]; levels] }
    }

    /// The box that a halo takes, from, to (beyond), cut to the grid.
    fn halo_box(&self, shape: &Shape, at: At) -> (At, At) {
        let pad = signed(shape.pad);
        let lo = at.map(|c| c - pad);
        let hi = [0, 1, 2].map(|k| (lo[k] + signed(shape.halo.dims[k])).min(signed(self.dims[k])));
        (lo.map(|c| c.max(0)), hi)
    }

    /// Takes the halo of a shape.
    pub(crate) fn put(&mut self, shape: &Shape, at: At) {
        self.or_halo(shape, at, ([0; 3], self.dims.map(signed)));
        let (lo, hi) = self.halo_box(shape, at);
        self.smear(lo, hi);
    }

    /// Frees the halo of a shape, given those that stay. Returns the box that changed.
    pub(crate) fn remove<'a>(
        &mut self,
        shape: &Shape,
        at: At,
        stay: impl Iterator<Item = (&'a Shape, At)>,
    ) -> (At, At) {
        let (lo, hi) = self.halo_box(shape, at);
        let mut gone = Mask::new([self.dims[0], 1, 1]);
        for z in lo[2]..hi[2] {
            for y in lo[1]..hi[1] {
                let (hy, hz) = (y - at[1] + signed(shape.pad), z - at[2] + signed(shape.pad));
                gone.bits.fill(0);
                let row = shape.halo.row(hy.unsigned_abs() as usize, hz.unsigned_abs() as usize);
                or_shifted(&mut gone.bits, row, (at[0] - signed(shape.pad)) as isize);
                let base = self.base(y, z);
                for (w, g) in self.levels[0][base..base + self.words].iter_mut().zip(&gone.bits) {
                    *w &= !g;
                }
            }
        }
        for (other, place) in stay {
            let (a, b) = self.halo_box(other, place);
            if (0..3).all(|k| a[k] < hi[k] && b[k] > lo[k]) {
                self.or_halo(other, place, (lo, hi));
            }
        }
        self.smear(lo, hi);
        (lo, hi)
    }

    fn base(&self, y: i32, z: i32) -> usize {
        (z.unsigned_abs() as usize * self.dims[1] + y.unsigned_abs() as usize) * self.words
    }

    fn or_halo(&mut self, shape: &Shape, at: At, (from, to): (At, At)) {
        let (lo, hi) = self.halo_box(shape, at);
        for z in lo[2].max(from[2])..hi[2].min(to[2]) {
            for y in lo[1].max(from[1])..hi[1].min(to[1]) {
                let (hy, hz) = (y - at[1] + signed(shape.pad), z - at[2] + signed(shape.pad));
                let row = shape.halo.row(hy.unsigned_abs() as usize, hz.unsigned_abs() as usize);
                let base = self.base(y, z);
                or_shifted(
                    &mut self.levels[0][base..base + self.words],
                    row,
                    (at[0] - signed(shape.pad)) as isize,
                );
            }
        }
    }

    /// Renews the smeared rows of a box from the plain ones.
    fn smear(&mut self, lo: At, hi: At) {
        for k in 1..self.levels.len() {
            let (below, above) = self.levels.split_at_mut(k);
            let (source, target) = (&below[k - 1], &mut above[0]);
            let step = 1usize << (k - 1);
            for z in lo[2]..hi[2] {
                for y in lo[1]..hi[1] {
                    let base = (z.unsigned_abs() as usize * self.dims[1]
                        + y.unsigned_abs() as usize)
                        * self.words;
                    let row = &source[base..base + self.words];
                    let out = &mut target[base..base + self.words];
                    out.copy_from_slice(row);
                    or_shifted(out, row, -step.cast_signed());
                }
            }
        }
    }

    /// The lowest free position that `accept` takes, then the nearest to the preferred corner.
    pub(crate) fn lowest(
        &self,
        shape: &Shape,
        hope: &mut Hope,
        look: &Look,
        accept: &mut dyn FnMut(At) -> bool,
    ) -> Option<At> {
        if hope.last.iter().any(|c| *c < 0) {
            return None;
        }
        match self.words {
            1 => self.lowest_in::<1>(shape, hope, look, accept),
            2 => self.lowest_in::<2>(shape, hope, look, accept),
            3 => self.lowest_in::<3>(shape, hope, look, accept),
            4 => self.lowest_in::<4>(shape, hope, look, accept),
            5 => self.lowest_in::<5>(shape, hope, look, accept),
            6 => self.lowest_in::<6>(shape, hope, look, accept),
            7 => self.lowest_in::<7>(shape, hope, look, accept),
            _ => self.lowest_in::<8>(shape, hope, look, accept),
        }
    }

    fn lowest_in<const W: usize>(
        &self,
        shape: &Shape,
        hope: &mut Hope,
        look: &Look,
        accept: &mut dyn FnMut(At) -> bool,
    ) -> Option<At> {
        let mut outside = [!0u64; W];
        for x in 0..=hope.last[0].unsigned_abs() as usize {
            outside[(x / 64).min(W - 1)] &= !(1 << (x % 64));
        }
        for z in look.from.max(0)..=look.to.min(hope.last[2]) {
            let plane = z.unsigned_abs() as usize * hope.words;
            for i in 0..hope.words {
                let word = if look.back { hope.words - 1 - i } else { i };
                let mut rest = hope.rows[plane + word];
                while rest != 0 {
                    let bit = if look.back { rest.ilog2() } else { rest.trailing_zeros() };
                    rest &= !(1 << bit);
                    let y = word * 64 + bit as usize;
                    let blocked = self.blocked::<W>(shape, outside, y, z.unsigned_abs() as usize);
                    if blocked == [!0; W] {
                        hope.rows[plane + word] &= !(1 << bit);
                        continue;
                    }
                    let y = signed(y);
                    if let Some(x) = choose(&blocked, look.right, |x| accept([x, y, z])) {
                        return Some([x, y, z]);
                    }
                }
            }
        }
        None
    }

    /// Bit x: the shape at (x, y, z) collides or is outside.
    fn blocked<const W: usize>(
        &self,
        shape: &Shape,
        mut blocked: [u64; W],
        y: usize,
        z: usize,
    ) -> [u64; W] {
        let start = (z * self.dims[1] + y) * W;
        for p in &shape.probes {
            let base = start + (usize::from(p.z) * self.dims[1] + usize::from(p.y)) * W;
            let Some(row) = self.levels[usize::from(p.level)].get(base..base + W) else { continue };
            let Ok(row) = <&[u64; W]>::try_from(row) else { continue };
            let (words, bits) = (usize::from(p.x) / 64, p.x % 64);
            let mut all = !0;
            if words == 0 {
                // The common case without any look at bounds.
                for i in 0..W {
                    let high = if i + 1 < W { row[i + 1] } else { 0 };
                    blocked[i] |= row[i] >> bits | (high << 1) << (63 - bits);
                    all &= blocked[i];
                }
            } else {
                for (i, b) in blocked.iter_mut().enumerate() {
                    let low = row.get(i + words).copied().unwrap_or(0);
                    let high = row.get(i + words + 1).copied().unwrap_or(0);
                    *b |= low >> bits | (high << 1) << (63 - bits);
                    all &= *b;
                }
            }
            if all == !0 {
                break;
            }
        }
        blocked
    }

    /// Whether the shape at `at`, within the grid, is free.
    pub(crate) fn is_free(&self, shape: &Shape, at: At) -> bool {
        (0..shape.mask.dims[2]).all(|z| {
            (0..shape.mask.dims[1]).all(|y| {
                let base = self.base(at[1] + signed(y), at[2] + signed(z));
                let taken = &self.levels[0][base..base + self.words];
                !meets_shifted(shape.mask.row(y, z), taken, at[0] as isize)
            })
        })
    }
}

/// The free x that `accept` takes: the ends of the first few free stretches, from the preferred
/// side.
fn choose(blocked: &[u64], right: bool, mut accept: impl FnMut(i32) -> bool) -> Option<i32> {
    /// More ends hardly ever succeed where these failed.
    const TRIES: u32 = 4;
    let n = signed(blocked.len() * 64);
    let free = |x: i32| {
        (0..n).contains(&x) && blocked[x.unsigned_abs() as usize / 64] >> (x % 64) & 1 == 0
    };
    let mut tries = 0;
    for i in 0..n {
        let x = if right { n - 1 - i } else { i };
        if free(x) && (!free(x - 1) || !free(x + 1)) {
            if accept(x) {
                return Some(x);
            }
            tries += 1;
            if tries == TRIES {
                break;
            }
        }
    }
    None
}
