//! Which parts block which, and whether all of them can be taken out, one after the other, each straight
//! along an axis.
//!
//! Pair by pair the masks are looked at along each axis: a part that moves up meets another one if, in
//! some column, that one's last voxel is above its first. For each direction this is a graph over the
//! parts (a directional blocking graph: Wilson & Latombe 1994, "Geometric reasoning about mechanical
//! assembly", Artificial Intelligence 71, 371–396). Taking a part out never blocks another one, so
//! taking out whatever is free, until nothing is, finds an order if there is one.

use crate::search::voxels::column_extents::{ACROSS, ColumnExtents};
use crate::search::voxels::mask::{VoxelPos, signed};
use crate::search::voxels::shape::Shape;

/// What blocks one part in each of the six directions, ±X, ±Y, ±Z: bits over the indices of the parts.
pub(crate) type Blockers = [Vec<u64>; 6];

/// Whether a part meets another one when it moves up the axis, and when it moves down.
fn meets_moving(axis: usize, part: (&Shape, VoxelPos), other: (&Shape, VoxelPos)) -> (bool, bool) {
    let (a, b) = (&part.0.extents, &other.0.keep_out_extents);
    let pad = signed(other.0.pad);
    let (from, to) = (part.1, other.1.map(|c| c - pad));
    let [i, j] = ACROSS[axis];
    let common = |k: usize| {
        let lo = from[k].max(to[k]);
        let hi = (from[k] + signed(a.dims[k])).min(to[k] + signed(b.dims[k]));
        lo..hi
    };
    let (is, js) = (common(i), common(j));
    if is.is_empty() || js.is_empty() {
        return (false, false);
    }
    let offset = to[axis] - from[axis];
    // Wholly on one side, the other one can be met only in one direction.
    let above = offset >= signed(a.dims[axis]);
    let below = offset + signed(b.dims[axis]) <= 0;
    let (mut up, mut down) = (false, false);
    let length = is.len();
    for v in js {
        let start = |extents: &ColumnExtents, at: VoxelPos| {
            ((v - at[j]) * signed(extents.dims[i]) + is.start - at[i]).unsigned_abs() as usize
        };
        let (s, t) = (start(a, from), start(b, to));
        let (Some(own_column), Some(other_column)) =
            (a.columns[axis].get(s..s + length), b.columns[axis].get(t..t + length))
        else {
            continue;
        };
        for (own, other) in own_column.iter().zip(other_column) {
            let both = own.0 <= own.1 && other.0 <= other.1;
            up |= both && (i32::from(other.1) + offset > i32::from(own.0));
            down |= both && (i32::from(other.0) + offset < i32::from(own.1));
        }
        if (up || below) && (down || above) {
            break;
        }
    }
    (up, down)
}

/// Whether two parts can be separated along at most one axis, and if along one, then both ways: one is
/// threaded through the other. `meets` says per axis whether they meet moving up, and moving down.
fn is_threaded(meets: [(bool, bool); 3]) -> bool {
    let axes_blocked_both_ways = meets.iter().filter(|m| **m == (true, true)).count();
    axes_blocked_both_ways == 3 || (axes_blocked_both_ways == 2 && meets.contains(&(false, false)))
}

/// A step of [`BlockingGraph::take_out`], passed to its [`OnStep`].
enum RemovalStep {
    /// A new round over all parts begins. True: something outside the graph has changed that may free a
    /// part, so that there has to be one more round.
    RoundBegins,
    /// No part in the graph blocks this one in this direction. True: it is taken out that way.
    PartFree {
        /// Index of the part.
        part: usize,
        /// See [`opposite`].
        direction: usize,
    },
}

/// Called at every step with the parts that are still in; what is returned is said at [`RemovalStep`].
type OnStep<'a> = &'a mut dyn FnMut(&[u64], RemovalStep) -> bool;

/// What blocks what.
#[derive(Clone, Debug)]
pub(crate) struct BlockingGraph {
    words: usize,
    present: Vec<u64>,
    /// Per part; empty for one that is not present.
    blockers: Vec<Blockers>,
}

impl BlockingGraph {
    /// For parts with indices below `count`.
    pub(super) fn new(count: usize) -> Self {
        let words = count.div_ceil(64).max(1);
        let none = || [const { Vec::new() }; 6];
        Self { words, present: vec![0; words], blockers: (0..count).map(|_| none()).collect() }
    }

    /// What would block a part among `others`, and whether it would be threaded through one of them, or
    /// one of them through it.
    pub(super) fn blockers_of<'a>(
        &self,
        part: (&Shape, VoxelPos),
        others: impl Iterator<Item = (usize, &'a Shape, VoxelPos)>,
    ) -> (Blockers, bool) {
        let mut blockers: Blockers = std::array::from_fn(|_| vec![0; self.words]);
        let mut threaded = false;
        for (index, shape, at) in others {
            let meets = [0, 1, 2].map(|axis| meets_moving(axis, part, (shape, at)));
            threaded |= is_threaded(meets);
            for (axis, (up, down)) in meets.into_iter().enumerate() {
                let bit = |yes: bool| u64::from(yes) << (index % 64);
                blockers[2 * axis][index / 64] |= bit(up);
                blockers[2 * axis + 1][index / 64] |= bit(down);
            }
        }
        (blockers, threaded)
    }

    /// Whether all parts could still be taken out with one more that has these blockers.
    pub(super) fn stays_removable_with(&self, blockers: &Blockers) -> bool {
        if blockers.iter().any(|b| b.iter().all(|bits| *bits == 0)) {
            return true; // it is taken out first, and the others are as they were
        }
        let mut present = self.present.clone();
        let mut is_in = true;
        self.take_out(&mut present, &mut |present, step| match step {
            // The new part blocks whatever it is blocked by, in the opposite direction.
            RemovalStep::PartFree { part, direction } => {
                !is_in || !bit(&blockers[opposite(direction)], part)
            }
            RemovalStep::RoundBegins => {
                let freed = is_in && blockers.iter().any(|b| none_present(b, present));
                is_in &= !freed;
                freed
            }
        });
        !is_in && present.iter().all(|w| *w == 0)
    }

    /// Takes out whatever is free, if `on_step` lets it, until nothing is: returns the order, and takes
    /// the parts out of `present`.
    fn take_out(&self, present: &mut [u64], on_step: OnStep) -> Vec<usize> {
        let mut order = Vec::new();
        loop {
            let mut changed = on_step(present, RemovalStep::RoundBegins);
            for word in 0..present.len() {
                let mut untested = present[word];
                while untested != 0 {
                    let part = word * 64 + untested.trailing_zeros() as usize;
                    untested &= untested - 1;
                    let blockers = &self.blockers[part];
                    let goes = |direction: usize| {
                        none_present(&blockers[direction], present)
                            && on_step(present, RemovalStep::PartFree { part, direction })
                    };
                    if (0..6).any(goes) {
                        present[word] &= !(1 << (part % 64));
                        order.push(part);
                        changed = true;
                    }
                }
            }
            if !changed {
                return order;
            }
        }
    }

    /// Adds a part with its blockers.
    pub(super) fn add(&mut self, index: usize, blockers: Blockers) {
        for (d, blocking) in blockers.iter().enumerate() {
            for other in 0..self.blockers.len() {
                if bit(blocking, other) && !self.blockers[other][opposite(d)].is_empty() {
                    self.blockers[other][opposite(d)][index / 64] |= 1 << (index % 64);
                }
            }
        }
        self.present[index / 64] |= 1 << (index % 64);
        self.blockers[index] = blockers;
    }

    /// Removes a part.
    pub(super) fn remove(&mut self, index: usize) {
        self.present[index / 64] &= !(1 << (index % 64));
        for blocking in self.blockers.iter_mut().flatten() {
            if let Some(word) = blocking.get_mut(index / 64) {
                *word &= !(1 << (index % 64));
            }
        }
        self.blockers[index] = [const { Vec::new() }; 6];
    }

    /// The indices in an order in which the parts can be taken out; not all of them if some cannot.
    pub(super) fn removal_order(&self) -> Vec<usize> {
        let mut present = self.present.clone();
        self.take_out(&mut present, &mut |_, step| matches!(step, RemovalStep::PartFree { .. }))
    }
}

/// The opposite direction: they are numbered +X, −X, +Y, −Y, +Z, −Z.
fn opposite(direction: usize) -> usize {
    direction ^ 1
}

fn bit(bits: &[u64], index: usize) -> bool {
    bits.get(index / 64).is_some_and(|w| w >> (index % 64) & 1 == 1)
}

fn none_present(blockers: &[u64], present: &[u64]) -> bool {
    blockers.iter().zip(present).all(|(b, p)| b & p == 0)
}
