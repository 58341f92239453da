//! The occupancy grid of a build: which voxels are taken, and where a shape still fits.
//!
//! For a row of positions of a shape, equal but for x, one word operation tests 64 positions: the row of
//! the grid, shifted back by a set voxel of the shape, has a bit where that voxel would collide. The
//! same rows are also kept with every bit spread over the 1, 2, 4, … voxels before it, so that a whole
//! stretch of the shape costs two such operations, whatever its length.

use super::candidate_rows::CandidateRows;
use crate::search::voxels::mask::{VoxelPos, meets_shifted, or_shifted, signed};
use crate::search::voxels::shape::Shape;

/// Widest grid, words per row: 512 voxels. Every width is compiled for itself, and wider grids have more
/// voxels than a search can go through anyway.
pub(crate) const MAX_WORDS: usize = 8;

/// Rows of positions that are tested together. To see that all of them are blocked takes little more time
/// than to see it of one, and no branch that the processor guesses wrong. A divisor of 64. Measured,
/// together with [`LowestFree`]: half again as many steps a second as one by one.
const ROWS: usize = 16;

/// Rows that the processor works on in one instruction.
const LANES: usize = 4;

/// Ends of free stretches of a row that are offered before the row is given up. More hardly ever succeed
/// where these failed.
const OFFERS_PER_ROW: u32 = 4;

/// One word of each of so many rows.
type Lanes = [u64; LANES];
type Rows = [Lanes; ROWS / LANES];

/// The voxels that no further part may take: the keep-out voxels of all parts.
#[derive(Clone, Debug)]
pub(crate) struct OccupancyGrid {
    /// Voxels per axis; one spare voxel in y and z for masks that end beyond the part itself.
    pub(super) dims: [usize; 3],
    words: usize,
    /// `spread_rows[k]`: bit x of row (y, z) is set if one of the 2^k voxels from x on is taken. Word
    /// `w` of the row is at [`Self::at`]`(w, y, z)`: equal words of neighbouring rows lie side by side.
    spread_rows: Vec<Vec<u64>>,
    /// From a word of a row to its next word.
    stride: usize,
}

/// Where to look for a free position, and in which order.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ScanOrder {
    /// First and last height of the mask's lowest layer, voxels.
    pub(super) from_z: i32,
    pub(super) to_z: i32,
    /// Whether to begin at the right rather than the left, at the back rather than the front.
    pub(super) from_right: bool,
    pub(super) from_back: bool,
}

impl OccupancyGrid {
    pub(super) fn new(dims: [usize; 3]) -> Self {
        let dims = [dims[0], dims[1] + 1, dims[2] + 1];
        let words = dims[0].div_ceil(64).clamp(1, MAX_WORDS);
        let lengths = dims[0].max(1).ilog2() as usize + 1;
        // A few rows more, so that there are always enough to be tested together.
        let stride = dims[1] + ROWS;
        let spread_rows = vec![vec![0; stride * words * dims[2]]; lengths];
        Self { dims, words, spread_rows, stride }
    }

    fn at(&self, word: usize, y: usize, z: usize) -> usize {
        (z * self.words + word) * self.stride + y
    }

    /// A row of what is taken.
    fn row(&self, y: usize, z: usize) -> [u64; MAX_WORDS] {
        let word =
            |w: usize| if w < self.words { self.spread_rows[0][self.at(w, y, z)] } else { 0 };
        std::array::from_fn(word)
    }

    fn set_row(&mut self, y: usize, z: usize, row: &[u64; MAX_WORDS]) {
        for (w, bits) in row.iter().take(self.words).enumerate() {
            let at = self.at(w, y, z);
            self.spread_rows[0][at] = *bits;
        }
    }

    /// The box of a shape's keep-out voxels, from, to (exclusive), cut to the grid.
    fn keep_out_box(&self, shape: &Shape, at: VoxelPos) -> (VoxelPos, VoxelPos) {
        let pad = signed(shape.pad);
        let lo = at.map(|c| c - pad);
        let hi =
            [0, 1, 2].map(|k| (lo[k] + signed(shape.keep_out.dims[k])).min(signed(self.dims[k])));
        (lo.map(|c| c.max(0)), hi)
    }

    /// Takes the keep-out voxels of a shape.
    pub(super) fn add(&mut self, shape: &Shape, at: VoxelPos) {
        self.take_within(shape, at, ([0; 3], self.dims.map(signed)));
        let (lo, hi) = self.keep_out_box(shape, at);
        self.renew_spread_rows(lo, hi);
    }

    /// Frees the keep-out voxels of a shape, given the shapes that stay. Returns the box that changed.
    pub(super) fn remove<'a>(
        &mut self,
        shape: &Shape,
        at: VoxelPos,
        stay: impl Iterator<Item = (&'a Shape, VoxelPos)>,
    ) -> (VoxelPos, VoxelPos) {
        let (lo, hi) = self.keep_out_box(shape, at);
        self.change(shape, at, (lo, hi), |taken, keep_out| taken & !keep_out);
        for (other, position) in stay {
            let (a, b) = self.keep_out_box(other, position);
            if (0..3).all(|k| a[k] < hi[k] && b[k] > lo[k]) {
                self.take_within(other, position, (lo, hi));
            }
        }
        self.renew_spread_rows(lo, hi);
        (lo, hi)
    }

    fn take_within(&mut self, shape: &Shape, at: VoxelPos, within: (VoxelPos, VoxelPos)) {
        self.change(shape, at, within, |taken, keep_out| taken | keep_out);
    }

    /// Makes new words from those of the grid and those of the keep-out mask, within a box.
    fn change(
        &mut self,
        shape: &Shape,
        at: VoxelPos,
        (from, to): (VoxelPos, VoxelPos),
        with: impl Fn(u64, u64) -> u64,
    ) {
        let (lo, hi) = self.keep_out_box(shape, at);
        let index = |c: i32| c.unsigned_abs() as usize;
        let pad = signed(shape.pad);
        for z in lo[2].max(from[2])..hi[2].min(to[2]) {
            for y in lo[1].max(from[1])..hi[1].min(to[1]) {
                let row = shape.keep_out.row(index(y - at[1] + pad), index(z - at[2] + pad));
                let mut keep_out = [0; MAX_WORDS];
                or_shifted(&mut keep_out, row, (at[0] - pad) as isize);
                let mut taken = self.row(index(y), index(z));
                taken.iter_mut().zip(keep_out).for_each(|(word, k)| *word = with(*word, k));
                self.set_row(index(y), index(z), &taken);
            }
        }
    }

    /// Renews the spread rows of a box from the plain ones.
    fn renew_spread_rows(&mut self, lo: VoxelPos, hi: VoxelPos) {
        if (0..3).any(|k| lo[k] >= hi[k]) {
            return;
        }
        let [_, ys, zs] =
            [0, 1, 2].map(|k| lo[k].unsigned_abs() as usize..hi[k].unsigned_abs() as usize);
        for k in 1..self.spread_rows.len() {
            let step = 1usize << (k - 1);
            let (words, bits) = (step / 64, step % 64);
            for z in zs.clone() {
                for word in 0..self.words {
                    let rows = |word: usize| self.at(word, ys.start, z)..self.at(word, ys.end, z);
                    let beyond = |word: usize| (word < self.words).then(|| rows(word));
                    let here = rows(word);
                    let (next, after) = (beyond(word + words), beyond(word + words + 1));
                    let (below, above) = self.spread_rows.split_at_mut(k);
                    let (source, target) = (&below[k - 1], &mut above[0][here.clone()]);
                    target.copy_from_slice(&source[here]);
                    for (t, s) in target.iter_mut().zip(next.into_iter().flat_map(|r| &source[r])) {
                        *t |= s >> bits;
                    }
                    for (t, s) in target.iter_mut().zip(after.into_iter().flat_map(|r| &source[r]))
                    {
                        *t |= (s << 1) << (63 - bits);
                    }
                }
            }
        }
    }

    /// The lowest free position that `accept` takes; of equally low ones the nearest to the front or
    /// the back, then to the left or the right, as `order` says. Rows found blocked are taken out of
    /// `candidates`.
    pub(super) fn lowest_free(
        &self,
        shape: &Shape,
        candidates: &mut CandidateRows,
        order: &ScanOrder,
        accept: &mut dyn FnMut(VoxelPos) -> bool,
    ) -> Option<VoxelPos> {
        if candidates.last.iter().any(|c| *c < 0) {
            return None;
        }
        pulp::Arch::new().dispatch(LowestFree { grid: self, shape, candidates, order, accept })
    }

    #[expect(clippy::inline_always, reason = "only what is inlined there is compiled for vectors")]
    #[inline(always)]
    fn lowest_free_in<const W: usize>(
        &self,
        shape: &Shape,
        candidates: &mut CandidateRows,
        order: &ScanOrder,
        accept: &mut dyn FnMut(VoxelPos) -> bool,
    ) -> Option<VoxelPos> {
        let mut outside = [!0u64; W];
        for x in 0..=candidates.last[0].unsigned_abs() as usize {
            outside[(x / 64).min(W - 1)] &= !(1 << (x % 64));
        }
        // The first or the last bit of a word.
        let next = |word: u64| if order.from_back { word.ilog2() } else { word.trailing_zeros() };
        for z in order.from_z.max(0)..=order.to_z.min(candidates.last[2]) {
            let plane = z.unsigned_abs() as usize * candidates.words;
            for i in 0..candidates.words {
                let word = if order.from_back { candidates.words - 1 - i } else { i };
                let mut untested = candidates.rows[plane + word];
                while untested != 0 {
                    let first = next(untested) as usize / ROWS * ROWS;
                    let tested = untested >> first & ((1 << ROWS) - 1);
                    untested &= !(tested << first);
                    let y = word * 64 + first;
                    let at = (y, z.unsigned_abs() as usize);
                    let blocked = self.blocked::<W>(shape, outside, at, tested);
                    let mut free = free_rows(&blocked);
                    candidates.rows[plane + word] &= !((tested & !free) << first);
                    while free != 0 {
                        let r = next(free);
                        free &= !(1 << r);
                        let row = blocked.map(|words| words.as_flattened()[r as usize]);
                        let y = signed(y + r as usize);
                        if let Some(x) = choose(&row, order.from_right, |x| accept([x, y, z])) {
                            return Some([x, y, z]);
                        }
                    }
                }
            }
        }
        None
    }

    /// The rows from (y, z) on, word by word, as far as `tested` has a bit for them: bit x is set if the
    /// shape at x collides or is outside.
    #[expect(clippy::inline_always, reason = "only what is inlined there is compiled for vectors")]
    #[inline(always)]
    fn blocked<const W: usize>(
        &self,
        shape: &Shape,
        outside: [u64; W],
        (y, z): (usize, usize),
        tested: u64,
    ) -> [Rows; W] {
        let mut blocked = outside.map(|word| {
            let row = |r: usize| if tested >> r & 1 == 1 { word } else { !0 };
            std::array::from_fn(|g| std::array::from_fn(|lane| row(LANES * g + lane)))
        });
        for p in &shape.probes {
            let (first, bits) = (usize::from(p.x) / 64, u64::from(p.x % 64));
            let rows = self.spread_rows[usize::from(p.log2_length)].as_slice();
            let start = self.at(0, y + usize::from(p.y), z + usize::from(p.z));
            let mut all = [!0; LANES];
            for group in 0..ROWS / LANES {
                let lanes = |word: usize| -> Lanes {
                    let at = start + word * self.stride + group * LANES;
                    let lanes = if word < W { rows.get(at..at + LANES) } else { None };
                    lanes.and_then(|l| l.try_into().ok()).unwrap_or_default()
                };
                let mut low = lanes(first);
                for (i, words) in blocked.iter_mut().enumerate() {
                    let (high, words) = (lanes(first + i + 1), &mut words[group]);
                    *words = std::array::from_fn(|lane| {
                        words[lane] | low[lane] >> bits | (high[lane] << 1) << (63 - bits)
                    });
                    all = std::array::from_fn(|lane| all[lane] & words[lane]);
                    low = high;
                }
            }
            if all == [!0; LANES] {
                break;
            }
        }
        blocked
    }

    /// Whether the shape at `at`, within the grid, is free.
    pub(super) fn is_free(&self, shape: &Shape, at: VoxelPos) -> bool {
        let index = |c: i32, by: usize| c.unsigned_abs() as usize + by;
        (0..shape.mask.dims[2]).all(|z| {
            (0..shape.mask.dims[1]).all(|y| {
                let taken = self.row(index(at[1], y), index(at[2], z));
                !meets_shifted(shape.mask.row(y, z), &taken, at[0] as isize)
            })
        })
    }
}

/// The arguments of [`OccupancyGrid::lowest_free`], which is compiled once for any processor and once for
/// those of the last ten years: their shifts alone make it half again as fast.
struct LowestFree<'a> {
    grid: &'a OccupancyGrid,
    shape: &'a Shape,
    candidates: &'a mut CandidateRows,
    order: &'a ScanOrder,
    accept: &'a mut dyn FnMut(VoxelPos) -> bool,
}

impl pulp::WithSimd for LowestFree<'_> {
    type Output = Option<VoxelPos>;

    #[expect(clippy::inline_always, reason = "only what is inlined there is compiled for vectors")]
    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) -> Self::Output {
        let Self { grid, shape, candidates, order, accept } = self;
        match grid.words {
            1 => grid.lowest_free_in::<1>(shape, candidates, order, accept),
            2 => grid.lowest_free_in::<2>(shape, candidates, order, accept),
            3 => grid.lowest_free_in::<3>(shape, candidates, order, accept),
            4 => grid.lowest_free_in::<4>(shape, candidates, order, accept),
            5 => grid.lowest_free_in::<5>(shape, candidates, order, accept),
            6 => grid.lowest_free_in::<6>(shape, candidates, order, accept),
            7 => grid.lowest_free_in::<7>(shape, candidates, order, accept),
            _ => grid.lowest_free_in::<8>(shape, candidates, order, accept),
        }
    }
}

/// Of the rows tested together, those that are not blocked everywhere, as bits.
#[expect(clippy::inline_always, reason = "only what is inlined there is compiled for vectors")]
#[inline(always)]
fn free_rows<const W: usize>(blocked: &[Rows; W]) -> u64 {
    let mut free = 0;
    for r in 0..ROWS {
        let whole = blocked.iter().fold(!0, |all, words| all & words.as_flattened()[r]) == !0;
        free |= u64::from(!whole) << r;
    }
    free
}

/// The free x that `accept` takes: the ends of the first few free stretches, from the preferred side.
fn choose(blocked: &[u64], from_right: bool, mut accept: impl FnMut(i32) -> bool) -> Option<i32> {
    let n = signed(blocked.len() * 64);
    let free = |x: i32| {
        (0..n).contains(&x) && blocked[x.unsigned_abs() as usize / 64] >> (x % 64) & 1 == 0
    };
    let mut offers = 0;
    for i in 0..n {
        let x = if from_right { n - 1 - i } else { i };
        if free(x) && (!free(x - 1) || !free(x + 1)) {
            if accept(x) {
                return Some(x);
            }
            offers += 1;
            if offers == OFFERS_PER_ROW {
                break;
            }
        }
    }
    None
}
