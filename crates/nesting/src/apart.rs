//! Whether an arrangement can be taken apart, part by part, each straight along an axis.
//!
//! Which parts are in the way of which is found pair by pair from their outlines seen along an
//! axis: a part that moves up meets another if, over some column, that one's highest voxel is above
//! its lowest. Taking parts out never puts anything in the way, so taking out whatever is free,
//! until nothing is, finds an order if there is one.

use crate::grid::At;
use crate::mask::{Mask, signed};
use crate::shape::Shape;

/// First and last voxel of a mask over every column along each axis.
#[derive(Clone, Debug)]
pub(crate) struct Outline {
    dims: [usize; 3],
    /// Per axis, over the two other axes in rising order, the lower one running fastest;
    /// `(u16::MAX, 0)` where the column is empty.
    columns: [Vec<(u16, u16)>; 3],
}

/// The axes across an axis.
const ACROSS: [[usize; 2]; 3] = [[1, 2], [0, 2], [0, 1]];

impl Outline {
    pub(crate) fn new(mask: &Mask) -> Self {
        let dims = mask.dims;
        let mut columns = ACROSS.map(|[i, j]| vec![(u16::MAX, 0); dims[i] * dims[j]]);
        mask.for_each(|p| {
            for k in 0..3 {
                let [i, j] = ACROSS[k];
                let (lo, hi) = &mut columns[k][p[j] * dims[i] + p[i]];
                let at = u16::try_from(p[k]).unwrap_or(u16::MAX - 1);
                *lo = (*lo).min(at);
                *hi = (*hi).max(at);
            }
        });
        Self { dims, columns }
    }
}

/// Whether a part meets another's halo when it moves up the axis, and when it moves down.
fn in_the_way(axis: usize, part: (&Shape, At), other: (&Shape, At)) -> (bool, bool) {
    let (a, b) = (&part.0.outline, &other.0.halo_outline);
    let pad = signed(other.0.pad);
    let (from, to) = (part.1, other.1.map(|c| c - pad));
    let [i, j] = ACROSS[axis];
    let range = |k: usize| {
        let lo = from[k].max(to[k]);
        let hi = (from[k] + signed(a.dims[k])).min(to[k] + signed(b.dims[k]));
        lo..hi
    };
    let (is, js) = (range(i), range(j));
    if is.is_empty() || js.is_empty() {
        return (false, false);
    }
    let way = to[axis] - from[axis];
    // Wholly on one side, only one answer is open.
    let above = way >= signed(a.dims[axis]);
    let below = way + signed(b.dims[axis]) <= 0;
    let (mut up, mut down) = (false, false);
    let length = is.len();
    for v in js {
        let start = |o: &Outline, at: At| {
            ((v - at[j]) * signed(o.dims[i]) + is.start - at[i]).unsigned_abs() as usize
        };
        let (s, t) = (start(a, from), start(b, to));
        let (Some(mine), Some(its)) =
            (a.columns[axis].get(s..s + length), b.columns[axis].get(t..t + length))
        else {
            continue;
        };
        for (m, h) in mine.iter().zip(its) {
            let full = m.0 <= m.1 && h.0 <= h.1;
            up |= full && (i32::from(h.1) + way > i32::from(m.0));
            down |= full && (i32::from(h.0) + way < i32::from(m.1));
        }
        if (up || below) && (down || above) {
            break;
        }
    }
    (up, down)
}

/// What is in the way of one part, in each of the six directions: bits over the parts' numbers.
pub(crate) type Ways = [Vec<u64>; 6];

/// Whether two parts are drawn apart only forth and back along one axis, or not at all: one of
/// them goes through the other.
fn entangled(ways: [(bool, bool); 3]) -> bool {
    let closed = ways.iter().filter(|w| **w == (true, true)).count();
    closed == 3 || (closed == 2 && ways.contains(&(false, false)))
}

/// Asked while parts are taken out; see [`Apart::take_out`].
type Ask<'a> = &'a mut dyn FnMut(&[u64], Option<(usize, usize)>) -> bool;

/// What is in the way of what.
#[derive(Clone, Debug)]
pub(crate) struct Apart {
    words: usize,
    present: Vec<u64>,
    ways: Vec<Ways>,
}

impl Apart {
    /// For parts numbered below `count`.
    pub(crate) fn new(count: usize) -> Self {
        let words = count.div_ceil(64).max(1);
        let none = || [const { Vec::new() }; 6];
        Self { words, present: vec![0; words], ways: (0..count).map(|_| none()).collect() }
    }

    /// What would be in the way of a part among `others`, and whether it would go through one of
    /// them or the other way round.
    pub(crate) fn ways<'a>(
        &self,
        part: (&Shape, At),
        others: impl Iterator<Item = (usize, &'a Shape, At)>,
    ) -> (Ways, bool) {
        let mut ways: Ways = std::array::from_fn(|_| vec![0; self.words]);
        let mut through = false;
        for (number, shape, at) in others {
            let pair = [0, 1, 2].map(|axis| in_the_way(axis, part, (shape, at)));
            through |= entangled(pair);
            for (axis, (up, down)) in pair.into_iter().enumerate() {
                let bit = |yes: bool| u64::from(yes) << (number % 64);
                ways[2 * axis][number / 64] |= bit(up);
                ways[2 * axis + 1][number / 64] |= bit(down);
            }
        }
        (ways, through)
    }

    /// Whether everything could still be taken apart with one more part that has these in its way.
    pub(crate) fn allows(&self, ways: &Ways) -> bool {
        if ways.iter().any(|w| w.iter().all(|bits| *bits == 0)) {
            return true; // it leaves first, and leaves what there was
        }
        let mut left = self.present.clone();
        let mut waits = true;
        self.take_out(&mut left, &mut |left, number| {
            if let Some((n, out)) = number {
                // The new part holds back whoever has it in the way: seen from it, the other way.
                return !waits || !bit(&ways[n_other(out)], n);
            }
            if waits && ways.iter().any(|w| clear(w, left)) {
                waits = false;
                return true;
            }
            false
        });
        !waits && left.iter().all(|w| *w == 0)
    }

    /// Takes out whatever is free and may go, until nothing is. `ask(left, Some((number,
    /// direction)))` says whether it may go that way; `ask(left, None)`, once per round, whether
    /// something changed outside.
    fn take_out(&self, left: &mut [u64], ask: Ask) -> Vec<usize> {
        let mut order = Vec::new();
        loop {
            let mut moved = ask(left, None);
            for word in 0..left.len() {
                let mut rest = left[word];
                while rest != 0 {
                    let number = word * 64 + rest.trailing_zeros() as usize;
                    rest &= rest - 1;
                    let ways = &self.ways[number];
                    if (0..6).any(|d| clear(&ways[d], left) && ask(left, Some((number, d)))) {
                        left[word] &= !(1 << (number % 64));
                        order.push(number);
                        moved = true;
                    }
                }
            }
            if !moved {
                return order;
            }
        }
    }

    /// Adds a part with what is in its way.
    pub(crate) fn put(&mut self, number: usize, ways: Ways) {
        for (d, way) in ways.iter().enumerate() {
            for other in 0..self.ways.len() {
                if bit(way, other) && !self.ways[other][n_other(d)].is_empty() {
                    self.ways[other][n_other(d)][number / 64] |= 1 << (number % 64);
                }
            }
        }
        self.present[number / 64] |= 1 << (number % 64);
        self.ways[number] = ways;
    }

    /// Takes a part out.
    pub(crate) fn remove(&mut self, number: usize) {
        self.present[number / 64] &= !(1 << (number % 64));
        for way in self.ways.iter_mut().flatten() {
            if let Some(word) = way.get_mut(number / 64) {
                *word &= !(1 << (number % 64));
            }
        }
        self.ways[number] = [const { Vec::new() }; 6];
    }

    /// The numbers in an order in which they can leave; not all of them if some cannot.
    pub(crate) fn order(&self) -> Vec<usize> {
        let mut left = self.present.clone();
        self.take_out(&mut left, &mut |_, number| number.is_some())
    }
}

/// The opposite direction.
fn n_other(direction: usize) -> usize {
    direction ^ 1
}

fn bit(bits: &[u64], number: usize) -> bool {
    bits.get(number / 64).is_some_and(|w| w >> (number % 64) & 1 == 1)
}

fn clear(way: &[u64], left: &[u64]) -> bool {
    way.iter().zip(left).all(|(w, l)| w & l == 0)
}
