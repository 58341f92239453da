//! Which voxels of a build are taken, and where a shape still fits.
//!
//! For a row of positions of a shape, equal but for x, one word operation tests 64 positions: the
//! taken row, moved back by a set voxel of the shape, has a bit where that voxel would collide.
//! The same rows are kept with every bit smeared over the 1, 2, 4, … voxels before it, so that a
//! stretch of the shape costs two such operations, whatever its length.

use crate::mask::{meets_shifted, or_shifted, signed};
use crate::shape::Shape;

/// Widest grid, words per row: 512 voxels.
pub(crate) const MAX_WORDS: usize = 8;

/// Rows that are looked at together: it takes little more to see that all of them are blocked than to see
/// it of one. A divisor of 64.
const ROWS: usize = 16;

/// Rows that the processor works on in one go.
const LANES: usize = 4;

/// A word of each of so many rows.
type Lanes = [u64; LANES];
type Rows = [Lanes; ROWS / LANES];

/// A position of a mask: voxels from the corner of the room.
pub(crate) type At = [i32; 3];

/// The voxels that no further part may meet: the halos of all parts.
#[derive(Clone, Debug)]
pub(crate) struct Grid {
    /// Voxels per axis; one spare voxel in y and z for masks that end beyond the part itself.
    pub(crate) dims: [usize; 3],
    words: usize,
    /// `levels[k]`: bit x of row (y, z) is set if one of the 2^k voxels from x on is taken. Word `w` of
    /// the row is at [`Self::at`]`(w, y, z)`: equal words of neighbouring rows lie side by side.
    levels: Vec<Vec<u64>>,
    /// From a word of a row to the next.
    stride: usize,
}

/// Rows of positions that may still hold a free one, as bits over y, then z. Facts only: a row is
/// taken out when it was found blocked, and put back when something near it leaves.
#[derive(Clone, Debug)]
pub(crate) struct Hope {
    words: usize,
    rows: Vec<u64>,
    /// Positions that keep the part itself within the room.
    last: At,
    /// How much of what left is taken into account: a prefix of [`Left`].
    seen: usize,
    /// The rows as they were at [`Left`]'s mark, if they have been looked at since.
    marked: Option<Vec<u64>>,
}

/// What left a grid: the boxes of the halos, from, to (beyond), in order.
#[derive(Clone, Debug, Default)]
pub(crate) struct Left {
    boxes: Vec<(At, At)>,
    /// So many had left when a state was last marked to be gone back to.
    mark: usize,
    /// States marked so far.
    marks: usize,
}

impl Left {
    pub(crate) fn push(&mut self, halo: (At, At)) {
        self.boxes.push(halo);
    }

    /// Marks the present state, for all `hopes`; returns its number.
    pub(crate) fn mark<'a>(&mut self, hopes: impl Iterator<Item = &'a mut Hope>) -> usize {
        self.mark = self.boxes.len();
        hopes.for_each(|hope| hope.marked = None);
        self.marks += 1;
        self.marks
    }

    /// The grid is again as it was when the state of this number was marked: what was known then holds
    /// again, and so does what was found out since, but where something left.
    pub(crate) fn go_back<'a>(
        &mut self,
        number: usize,
        hopes: impl Iterator<Item = (&'a mut Hope, &'a Shape)>,
    ) {
        if number != self.marks {
            return; // another was marked since; what left is remembered
        }
        for (hope, shape) in hopes {
            if let Some(marked) = hope.marked.take() {
                hope.follow_to(shape, self, self.boxes.len());
                hope.rows.iter_mut().zip(marked).for_each(|(row, then)| *row &= then);
                hope.seen = self.mark;
            }
        }
        self.boxes.truncate(self.mark);
    }
}

impl Hope {
    pub(crate) fn new(shape: &Shape, room_mm: [f64; 3], h: f64, grid: &Grid) -> Self {
        let last = shape.last(room_mm, h);
        let words = grid.dims[1].div_ceil(64);
        let rows = vec![0; words * grid.dims[2]];
        let mut hope = Self { words, rows, last, seen: 0, marked: None };
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

    /// Takes into account what has left.
    pub(crate) fn follow(&mut self, shape: &Shape, left: &Left) {
        self.follow_to(shape, left, left.mark);
        if self.marked.is_none() {
            self.marked = Some(self.rows.clone());
        }
        self.follow_to(shape, left, left.boxes.len());
    }

    fn follow_to(&mut self, shape: &Shape, left: &Left, end: usize) {
        let size = shape.mask.dims.map(signed);
        for (lo, hi) in left.boxes.get(self.seen..end).unwrap_or_default() {
            self.restore([0, 1, 2].map(|k| lo[k] - size[k] + 1), hi.map(|c| c - 1));
        }
        self.seen = self.seen.max(end);
    }
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
        // A few rows more, so that some can always be looked at together.
        let stride = dims[1] + ROWS;
        Self { dims, words, levels: vec![vec![0; stride * words * dims[2]]; levels], stride }
    }

    fn at(&self, word: usize, y: usize, z: usize) -> usize {
        (z * self.words + word) * self.stride + y
    }

    /// A row of what is taken.
    fn row(&self, y: usize, z: usize) -> [u64; MAX_WORDS] {
        let word = |w: usize| if w < self.words { self.levels[0][self.at(w, y, z)] } else { 0 };
        std::array::from_fn(word)
    }

    fn set_row(&mut self, y: usize, z: usize, row: &[u64; MAX_WORDS]) {
        for (w, bits) in row.iter().take(self.words).enumerate() {
            let at = self.at(w, y, z);
            self.levels[0][at] = *bits;
        }
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
        self.change(shape, at, (lo, hi), |taken, halo| taken & !halo);
        for (other, place) in stay {
            let (a, b) = self.halo_box(other, place);
            if (0..3).all(|k| a[k] < hi[k] && b[k] > lo[k]) {
                self.or_halo(other, place, (lo, hi));
            }
        }
        self.smear(lo, hi);
        (lo, hi)
    }

    fn or_halo(&mut self, shape: &Shape, at: At, within: (At, At)) {
        self.change(shape, at, within, |taken, halo| taken | halo);
    }

    /// Makes new words from those of what is taken and those of the halo, as far as the halo is within a box.
    fn change(
        &mut self,
        shape: &Shape,
        at: At,
        (from, to): (At, At),
        with: impl Fn(u64, u64) -> u64,
    ) {
        let (lo, hi) = self.halo_box(shape, at);
        let index = |c: i32| c.unsigned_abs() as usize;
        for z in lo[2].max(from[2])..hi[2].min(to[2]) {
            for y in lo[1].max(from[1])..hi[1].min(to[1]) {
                let (hy, hz) = (y - at[1] + signed(shape.pad), z - at[2] + signed(shape.pad));
                let mut halo = [0; MAX_WORDS];
                let row = shape.halo.row(index(hy), index(hz));
                or_shifted(&mut halo, row, (at[0] - signed(shape.pad)) as isize);
                let mut taken = self.row(index(y), index(z));
                taken.iter_mut().zip(halo).for_each(|(word, halo)| *word = with(*word, halo));
                self.set_row(index(y), index(z), &taken);
            }
        }
    }

    /// Renews the smeared rows of a box from the plain ones.
    fn smear(&mut self, lo: At, hi: At) {
        if (0..3).any(|k| lo[k] >= hi[k]) {
            return;
        }
        let [_, ys, zs] =
            [0, 1, 2].map(|k| lo[k].unsigned_abs() as usize..hi[k].unsigned_abs() as usize);
        for k in 1..self.levels.len() {
            let step = 1usize << (k - 1);
            let (words, bits) = (step / 64, step % 64);
            for z in zs.clone() {
                for word in 0..self.words {
                    let rows = |word: usize| self.at(word, ys.start, z)..self.at(word, ys.end, z);
                    let beyond = |word: usize| (word < self.words).then(|| rows(word));
                    let here = rows(word);
                    let (next, after) = (beyond(word + words), beyond(word + words + 1));
                    let (below, above) = self.levels.split_at_mut(k);
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
        pulp::Arch::new().dispatch(Lowest { grid: self, shape, hope, look, accept })
    }

    #[expect(clippy::inline_always, reason = "only what is inlined there is compiled for vectors")]
    #[inline(always)]
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
                    let next = if look.back { rest.ilog2() } else { rest.trailing_zeros() };
                    let first = next as usize / ROWS * ROWS;
                    let few = rest >> first & ((1 << ROWS) - 1);
                    rest &= !(few << first);
                    let y = word * 64 + first;
                    let place = (y, z.unsigned_abs() as usize);
                    let blocked = self.blocked::<W>(shape, outside, place, few);
                    let mut free = 0;
                    for r in 0..ROWS {
                        let whole =
                            blocked.iter().fold(!0, |all, words| all & words.as_flattened()[r])
                                == !0;
                        free |= u64::from(!whole) << r;
                    }
                    hope.rows[plane + word] &= !((few & !free) << first);
                    while free != 0 {
                        let r = if look.back { free.ilog2() } else { free.trailing_zeros() };
                        free &= !(1 << r);
                        let row = blocked.map(|words| words.as_flattened()[r as usize]);
                        let y = signed(y + r as usize);
                        if let Some(x) = choose(&row, look.right, |x| accept([x, y, z])) {
                            return Some([x, y, z]);
                        }
                    }
                }
            }
        }
        None
    }

    /// The rows from (y, z) on, word by word, as far as `few` has a bit for them: bit x tells that the shape
    /// at x collides or is outside.
    #[expect(clippy::inline_always, reason = "only what is inlined there is compiled for vectors")]
    #[inline(always)]
    fn blocked<const W: usize>(
        &self,
        shape: &Shape,
        outside: [u64; W],
        (y, z): (usize, usize),
        few: u64,
    ) -> [Rows; W] {
        let mut blocked = outside.map(|word| {
            let row = |r: usize| if few >> r & 1 == 1 { word } else { !0 };
            std::array::from_fn(|g| std::array::from_fn(|lane| row(LANES * g + lane)))
        });
        for p in &shape.probes {
            let (first, bits) = (usize::from(p.x) / 64, u64::from(p.x % 64));
            let level = self.levels[usize::from(p.level)].as_slice();
            let start = self.at(0, y + usize::from(p.y), z + usize::from(p.z));
            let mut all = [!0; LANES];
            for group in 0..ROWS / LANES {
                let lanes = |word: usize| -> Lanes {
                    let at = start + word * self.stride + group * LANES;
                    let lanes = if word < W { level.get(at..at + LANES) } else { None };
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
    pub(crate) fn is_free(&self, shape: &Shape, at: At) -> bool {
        let index = |c: i32, by: usize| c.unsigned_abs() as usize + by;
        (0..shape.mask.dims[2]).all(|z| {
            (0..shape.mask.dims[1]).all(|y| {
                let taken = self.row(index(at[1], y), index(at[2], z));
                !meets_shifted(shape.mask.row(y, z), &taken, at[0] as isize)
            })
        })
    }
}

/// The arguments of [`Grid::lowest`], which is compiled once for any processor and once for those of the last
/// ten years: their shifts alone make it half again as fast.
struct Lowest<'a> {
    grid: &'a Grid,
    shape: &'a Shape,
    hope: &'a mut Hope,
    look: &'a Look,
    accept: &'a mut dyn FnMut(At) -> bool,
}

impl pulp::WithSimd for Lowest<'_> {
    type Output = Option<At>;

    #[expect(clippy::inline_always, reason = "only what is inlined there is compiled for vectors")]
    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) -> Self::Output {
        let Self { grid, shape, hope, look, accept } = self;
        match grid.words {
            1 => grid.lowest_in::<1>(shape, hope, look, accept),
            2 => grid.lowest_in::<2>(shape, hope, look, accept),
            3 => grid.lowest_in::<3>(shape, hope, look, accept),
            4 => grid.lowest_in::<4>(shape, hope, look, accept),
            5 => grid.lowest_in::<5>(shape, hope, look, accept),
            6 => grid.lowest_in::<6>(shape, hope, look, accept),
            7 => grid.lowest_in::<7>(shape, hope, look, accept),
            _ => grid.lowest_in::<8>(shape, hope, look, accept),
        }
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
