//! One build while it is being arranged.

use crate::apart::Apart;
use crate::grid::{At, Grid, Hope, Left, Look, MAX_WORDS};
use crate::shape::{Grain, Rounding, Shape, inner, locked_shape, meet, shapes_of};
use crate::{Item, Locked, Space};
use base::{Affine, Cancelled, Progress};
use rayon::prelude::*;
use std::sync::atomic::{AtomicI64, Ordering::Relaxed};

/// The items as voxels of one size, and the room for them.
pub(crate) struct World {
    pub(crate) h: f64,
    pub(crate) rounding: Rounding,
    /// Corner of the room, build space, and its size, mm.
    pub(crate) origin: [f64; 3],
    pub(crate) room: [f64; 3],
    dims: [usize; 3],
    /// Per item.
    pub(crate) shapes: Vec<Vec<Shape>>,
    locked: Vec<(Shape, At)>,
}

impl World {
    pub(crate) fn new(
        items: &[Item],
        locked: &[Locked],
        space: &Space,
        (h, rounding): (f64, Rounding),
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let grain = Grain { h, rounding, clearance: space.clearance_mm };
        // As far as a shape reaches beyond its part, it may reach beyond the room.
        let (origin, room) = inner(space);
        let origin = origin.map(|c| c - grain.rim());
        let room = room.map(|c| c + 2.0 * grain.rim());
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let dims = room.map(|r| (r / h - 1e-7).ceil().clamp(1.0, 65_535.0) as usize);
        let mut shapes = Vec::with_capacity(items.len());
        for item in items {
            shapes.push(shapes_of(item, &grain, room, progress)?);
            progress.advance(1)?;
        }
        let locked =
            locked.iter().map(|l| locked_shape(&items[l.item], &l.pose, &grain, origin)).collect();
        Ok(Self {
            h,
            rounding,
            origin,
            room,
            dims: [dims[0].min(64 * MAX_WORDS), dims[1], dims[2]],
            shapes,
            locked,
        })
    }

    /// Whole voxels that the room holds per axis.
    pub(crate) fn cells(&self) -> [usize; 3] {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "below dims")]
        self.room.map(|r| (r / self.h + 1e-7).floor() as usize)
    }

    /// Height of the room, voxels.
    pub(crate) fn height(&self) -> i32 {
        i32::try_from(self.dims[2]).unwrap_or(i32::MAX)
    }

    pub(crate) fn shape(&self, spot: &Spot) -> &Shape {
        &self.shapes[spot.item][spot.shape]
    }

    /// Build space from part frame.
    pub(crate) fn pose(&self, spot: &Spot) -> Affine {
        let nudge_mm = spot.nudge_mm.unwrap_or_default();
        let move_mm =
            [0, 1, 2].map(|k| self.origin[k] + f64::from(spot.at[k]) * self.h + nudge_mm[k]);
        Affine::translation(move_mm) * self.shape(spot).from_part
    }
}

/// Where a copy lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Spot {
    /// Index into the list of copies.
    pub(crate) copy: usize,
    pub(crate) item: usize,
    pub(crate) shape: usize,
    pub(crate) at: At,
    /// From there to where exact distances put it, if they did.
    pub(crate) nudge_mm: Option<[f64; 3]>,
}

/// What a good position is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wish {
    /// No part may reach above, voxels.
    pub(crate) limit: i32,
    /// Lowest bottom, voxels.
    pub(crate) from: i32,
    /// What counts is the height of the bottom plus this many 16ths of the part's height.
    pub(crate) weight: i64,
    pub(crate) right: bool,
    pub(crate) back: bool,
    /// The result must not count more than this.
    pub(crate) most: i64,
}

impl Wish {
    /// What a place counts, the less the better.
    fn count(&self, shape: &Shape, at: At) -> i64 {
        16 * i64::from(at[2]) + self.weight * i64::try_from(shape.mask.dims[2]).unwrap_or(0)
    }

    pub(crate) fn lowest_top(limit: i32) -> Self {
        Self { limit, from: 0, weight: 16, right: false, back: false, most: i64::MAX }
    }
}

/// A state of a bed to go back to.
pub(crate) struct Mark {
    number: usize,
    spots: Vec<Spot>,
}

/// The parts of one build, which can always be taken apart straight along the axes.
#[derive(Clone)]
pub(crate) struct Bed<'a> {
    pub(crate) world: &'a World,
    grid: Grid,
    apart: Apart,
    /// Number of copies there are; locked placements are numbered from here on.
    copies: usize,
    /// Per item and shape.
    hopes: Vec<Vec<Hope>>,
    left: Left,
    pub(crate) spots: Vec<Spot>,
    /// Where each copy was last taken out.
    last: Vec<Option<Spot>>,
    obstacles: bool,
    /// Whether all other threads have work of their own.
    pub(crate) alone: bool,
}

impl<'a> Bed<'a> {
    /// An empty build, or one with the locked placements.
    pub(crate) fn new(world: &'a World, copies: usize, with_locked: bool) -> Self {
        let mut grid = Grid::new(world.dims);
        if with_locked {
            world.locked.iter().for_each(|(shape, at)| grid.put(shape, *at));
        }
        let hope = |s: &Shape| Hope::new(s, world.room, world.h, &grid);
        let hopes = world.shapes.iter().map(|v| v.iter().map(hope).collect()).collect();
        let apart = Apart::new(copies + world.locked.len());
        let (left, spots, last) = (Left::default(), Vec::new(), vec![None; copies]);
        let mut bed = Self {
            world,
            grid,
            apart,
            copies,
            hopes,
            left,
            spots,
            last,
            obstacles: false,
            alone: false,
        };
        if with_locked {
            for (i, (shape, at)) in world.locked.iter().enumerate() {
                // Locked ones are as they are: they do not hold each other.
                let (ways, _) = bed.apart.ways((shape, *at), std::iter::empty());
                bed.apart.put(copies + i, ways);
            }
            bed.obstacles = true;
        }
        bed
    }

    fn locked_parts(&self) -> impl Iterator<Item = (usize, &'a Shape, At)> + use<'a> {
        let locked = if self.obstacles { self.world.locked.as_slice() } else { &[] };
        let first = self.copies;
        locked.iter().enumerate().map(move |(i, (s, at))| (first + i, s, *at))
    }

    /// The copies in an order in which each can leave straight past those after it; not all of
    /// them if some cannot.
    pub(crate) fn leaving_order(&self) -> Vec<usize> {
        self.apart.order().into_iter().filter(|n| *n < self.copies).collect()
    }

    /// Puts a copy where the wish is best met, in the turn that meets it best.
    pub(crate) fn insert(&mut self, copy: usize, item: usize, wish: &Wish) -> bool {
        // Where it was last will do if nothing is better, so that much need not be looked at.
        let old = self.last[copy].filter(|old| old.item == item && self.is_open(old, wish));
        let most = old.map_or(wish.most, |old| wish.count(self.world.shape(&old), old.at));
        let best = AtomicI64::new(most);
        let (grid, apart, left) = (&self.grid, &self.apart, &self.left);
        let parts: Vec<(usize, &'a Shape, At)> = self.parts().collect();
        let shapes = &self.world.shapes[item];
        let find = |(i, (hope, shape)): (usize, (&mut Hope, &Shape))| {
            let tall = i64::try_from(shape.mask.dims[2]).unwrap_or(0);
            let most = best.load(Relaxed).saturating_sub(wish.weight * tall) >> 4;
            let most = i32::try_from(most).unwrap_or(i32::MAX);
            let fit = wish.limit.saturating_sub(i32::try_from(tall).unwrap_or(i32::MAX));
            let look =
                Look { from: wish.from, to: fit.min(most), right: wish.right, back: wish.back };
            hope.follow(shape, left);
            let at = grid.lowest(shape, hope, &look, &mut |at| {
                let (ways, through) = apart.ways((shape, at), parts.iter().copied());
                !through && apart.allows(&ways)
            })?;
            let count = wish.count(shape, at);
            best.fetch_min(count, Relaxed);
            Some((count, i, at))
        };
        // Pruning by what another thread has found loses nothing: a turn that is at least as good
        // as the best is always searched through.
        let found = if shapes.len() == 1 || self.alone && rayon::current_num_threads() <= 2 {
            self.hopes[item].iter_mut().zip(shapes).enumerate().filter_map(find).min()
        } else {
            self.hopes[item].par_iter_mut().zip(shapes).enumerate().filter_map(find).min()
        };
        let new = found.map(|(_, shape, at)| Spot { copy, item, shape, at, nudge_mm: None });
        let is_old = |new: &Spot| old.is_some_and(|old| (old.shape, old.at) == (new.shape, new.at));
        let Some(spot) = new.filter(|new| !is_old(new)).or(old) else { return false };
        self.put(spot);
        true
    }

    /// Whether a spot, within the room, is as wished and free.
    fn is_open(&self, spot: &Spot, wish: &Wish) -> bool {
        let shape = self.world.shape(spot);
        let as_wished = spot.at[2] >= wish.from
            && self.top(spot) <= wish.limit
            && wish.count(shape, spot.at) <= wish.most;
        // Those that exact distances put somewhere are clear of each other, whatever voxels say.
        let exact = |spot: &Spot| spot.nudge_mm.is_some();
        let mut movable = self.spots.iter().filter(|other| !(exact(spot) && exact(other)));
        let mut locked = self.locked_parts().filter(|_| !exact(spot));
        as_wished
            && !movable.any(|s| meet((shape, spot.at), (self.world.shape(s), s.at)))
            && !locked.any(|(_, other, at)| meet((shape, spot.at), (other, at)))
            && {
                let (ways, through) = self.apart.ways((shape, spot.at), self.parts());
                !through && self.apart.allows(&ways)
            }
    }

    /// All parts that are in: number, shape, place.
    fn parts(&self) -> impl Iterator<Item = (usize, &'a Shape, At)> + use<'_, 'a> {
        let world = self.world;
        let movable = self.spots.iter().map(move |s| (s.copy, world.shape(s), s.at));
        movable.chain(self.locked_parts())
    }

    /// Puts a copy where it is known to be free.
    pub(crate) fn put(&mut self, spot: Spot) {
        let shape = self.world.shape(&spot);
        self.grid.put(shape, spot.at);
        let (ways, _) = self.apart.ways((shape, spot.at), self.parts());
        self.apart.put(spot.copy, ways);
        self.spots.push(spot);
    }

    /// Whether a spot is within the room and free.
    pub(crate) fn is_free(&self, spot: &Spot) -> bool {
        let shape = self.world.shape(spot);
        let last = shape.last(self.world.room, self.world.h);
        let inside = (0..3).all(|k| (0..=last[k]).contains(&spot.at[k]));
        inside && self.grid.is_free(shape, spot.at)
    }

    /// Takes out the copy at `index`.
    pub(crate) fn remove(&mut self, index: usize) -> Spot {
        let spot = self.spots.remove(index);
        self.last[spot.copy] = Some(spot);
        self.apart.remove(spot.copy);
        let world = self.world;
        let locked = if self.obstacles { world.locked.as_slice() } else { &[] };
        let stay = self
            .spots
            .iter()
            .map(|s| (world.shape(s), s.at))
            .chain(locked.iter().map(|(shape, at)| (shape, *at)));
        self.left.push(self.grid.remove(world.shape(&spot), spot.at, stay));
        spot
    }

    /// Remembers the present state, in place of any earlier one.
    pub(crate) fn mark(&mut self) -> Mark {
        let number = self.left.mark(self.hopes.iter_mut().flatten());
        Mark { number, spots: self.spots.clone() }
    }

    /// Like [`Self::restore`], but nothing that was known at the mark need be found out again.
    pub(crate) fn go_back(&mut self, mark: &Mark) {
        self.restore(&mark.spots);
        let shapes = self.world.shapes.iter().flatten();
        self.left.go_back(mark.number, self.hopes.iter_mut().flatten().zip(shapes));
    }

    /// Makes the build hold exactly these, in this order.
    pub(crate) fn restore(&mut self, spots: &[Spot]) {
        let mut i = 0;
        while i < self.spots.len() {
            if spots.contains(&self.spots[i]) {
                i += 1;
            } else {
                self.remove(i);
            }
        }
        for spot in spots {
            if !self.spots.contains(spot) {
                self.put(*spot);
            }
        }
        self.spots = spots.to_vec();
    }

    /// Top of the mask of a spot, voxels.
    pub(crate) fn top(&self, spot: &Spot) -> i32 {
        spot.at[2] + i32::try_from(self.world.shape(spot).mask.dims[2]).unwrap_or(i32::MAX)
    }

    /// Highest top of the parts that may move, voxels.
    pub(crate) fn height(&self) -> i32 {
        self.spots.iter().map(|s| self.top(s)).max().unwrap_or(0)
    }

    /// Σ area² over the layers, voxels: what an even area makes smallest.
    pub(crate) fn unevenness(&self) -> f64 {
        let mut area = vec![0u64; self.world.dims[2] + 2];
        let locked = if self.obstacles { self.world.locked.as_slice() } else { &[] };
        let movable = self.spots.iter().map(|s| (self.world.shape(s), s.at));
        for (shape, at) in movable.chain(locked.iter().map(|(s, a)| (s, *a))) {
            for (i, n) in shape.layers.iter().enumerate() {
                let z = at[2] + i32::try_from(i).unwrap_or(0);
                if let Some(a) = usize::try_from(z).ok().and_then(|z| area.get_mut(z)) {
                    *a += u64::from(*n);
                }
            }
        }
        area.iter().map(|a| (*a as f64).powi(2)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Random;
    use crate::{Turns, samples};
    use std::sync::Arc;

    /// What a bed remembers of rows that were blocked must never hide a place: a bed that holds the same,
    /// and remembers nothing, is the witness.
    #[test]
    fn a_bed_that_went_back_finds_the_same_places_as_a_new_one() {
        let item = |mesh| Item {
            name: "part".into(),
            mesh: Arc::new(mesh),
            scale: [1.0; 3],
            quantity: 4,
            turns: Turns::Axis24,
            due: None,
        };
        let bracket = samples::polycube(&[[0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 0, 1]], 4.0);
        let bar = samples::cuboid([0.0; 3], [3.0, 5.0, 17.0]);
        let items = [item(bracket), item(bar), item(samples::ball(5.0, 12))];
        let space =
            Space { size_mm: [40.0, 36.0, 60.0], wall_clearance_mm: 1.0, clearance_mm: 2.0 };
        let grain = (1.0, Rounding::Even);
        let world = World::new(&items, &[], &space, grain, &Progress::default()).unwrap();
        let mut random = Random::new(5);
        let mut bed = Bed::new(&world, 12, true);
        let wish = |random: &mut Random| {
            let bits = random.next();
            let (right, back) = (bits & 1 == 1, bits & 2 == 2);
            Wish { right, back, weight: 8, ..Wish::lowest_top(world.height()) }
        };
        for copy in 0..12 {
            assert!(bed.insert(copy, copy / 4, &wish(&mut random)));
        }
        for round in 0..60 {
            let mark = bed.mark();
            let mut out = Vec::new();
            for _ in 0..4 {
                out.push(bed.remove(random.below(bed.spots.len())).copy);
            }
            for copy in out {
                let wish = wish(&mut random);
                let mut fresh = Bed::new(&world, 12, true);
                bed.spots.iter().for_each(|spot| fresh.put(*spot));
                fresh.last.clone_from(&bed.last);
                assert!(bed.insert(copy, copy / 4, &wish) && fresh.insert(copy, copy / 4, &wish));
                assert_eq!(bed.spots.last(), fresh.spots.last(), "round {round}");
            }
            if round % 3 != 0 {
                bed.go_back(&mark);
                assert_eq!(bed.spots, mark.spots);
            }
        }
    }

    /// Two parts that exact distances put nearer than voxels would have it may each go back there.
    #[test]
    fn a_part_may_return_to_where_exact_distances_put_it() {
        let cube = Item {
            name: "cube".into(),
            mesh: Arc::new(samples::cuboid([0.0; 3], [5.0; 3])),
            scale: [1.0; 3],
            quantity: 2,
            turns: Turns::Fixed,
            due: None,
        };
        let space = Space { size_mm: [30.0; 3], wall_clearance_mm: 1.0, clearance_mm: 2.0 };
        let grain = (1.0, Rounding::Even);
        let world = World::new(&[cube], &[], &space, grain, &Progress::default()).unwrap();
        let mut bed = Bed::new(&world, 2, true);
        let wide = i32::try_from(world.shapes[0][0].mask.dims[0]).unwrap();
        let spot = |copy, x, nudge_mm| Spot { copy, item: 0, shape: 0, at: [x, 0, 0], nudge_mm };
        bed.put(spot(0, 0, Some([0.0; 3])));
        let near = spot(1, wide - 1, Some([0.4, 0.0, 0.0]));
        bed.put(near);
        let wish = Wish::lowest_top(wide);
        bed.remove(1);
        assert!(bed.is_open(&near, &wish));
        // Not beside a part that voxels have moved.
        bed.remove(0);
        bed.put(spot(0, 0, None));
        assert!(!bed.is_open(&near, &wish));
    }
}
