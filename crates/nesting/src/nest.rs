//! The whole search: builds, voxel sizes from coarse to fine, exact distances whenever something is to
//! be shown.

use crate::bed::{Bed, Spot, World};
use crate::boxes::boxes_in_builds;
use crate::levels::{Level, lattice, levels};
use crate::model::{Arrangement, Item, Locked, NestError, Options, Placed, Space};
use crate::perfect::perfect;
use crate::search::{Copy, Search, Stop, refined};
use crate::shape::{Rounding, inner};
use crate::show::Show;
use crate::tighten::Goal;
use base::{Cancelled, Progress};
use mesh::measures;

/// Orders tried before the search refines the best: some tenths of a second each.
const FIRST_ORDERS: u32 = 24;

/// Called with every arrangement better than the last; false stops the search.
pub type OnBetter<'a> = &'a mut dyn FnMut(&Arrangement) -> bool;

/// Arranges all copies of all items in as few and as low builds as it finds.
///
/// The first arrangement comes early and every later one, handed to `on_better`, is better:
/// fewer parts unplaced, fewer builds, or less height. The search ends by itself once rounds of it
/// bring nothing (see [`Options::patience`]), or when `on_better` returns false or `progress` is
/// cancelled; then what there is is returned. For equal arguments the sequence of arrangements is
/// the same, whatever the number of threads.
///
/// Every arrangement that is handed out keeps all clearances by exact distances, and can be taken
/// apart part by part, each straight along an axis, so nothing gets hooked or enclosed.
///
/// # Errors
/// [`NestError`] for a space, part or locked placement that cannot be, or if cancelled before the
/// first arrangement.
pub fn nest(
    items: &[Item],
    locked: &[Locked],
    space: &Space,
    options: &Options,
    progress: &Progress,
    on_better: OnBetter,
) -> Result<Arrangement, NestError> {
    check(items, locked, space, options)?;
    let mut locked_of = vec![0u32; items.len()];
    let mut fixed = Vec::new();
    for l in locked {
        fixed.push(Placed { item: l.item, copy: locked_of[l.item], pose: l.pose, locked: true });
        locked_of[l.item] += 1;
    }
    let mut copies = Vec::new();
    for (i, item) in items.iter().enumerate() {
        let size = item.mesh.bounds().map_or(0.0, |(lo, hi)| {
            let box_mm3: f64 = (0..3).map(|k| hi[k] - lo[k]).product();
            // Between the part and its box: what the others lose by it.
            (measures(&item.mesh).volume_mm3.abs() * box_mm3).sqrt()
        });
        let due = item.due.unwrap_or(u32::MAX);
        let all = locked_of[i]..item.quantity;
        copies.extend(all.map(|number| Copy { item: i, number, due, size }));
    }
    let levels = levels(items, space, options);
    progress.add_total(levels.len() as u64 * items.len() as u64);
    let mut run = Run {
        items,
        space,
        options,
        search: Search::new(copies.clone(), options.seed, options.patience, progress),
        show: Show::new(
            items,
            space,
            fixed,
            copies,
            (levels[0].0, options.even_area),
            progress,
            on_better,
        ),
    };
    match run.search(locked, &levels) {
        Ok(()) => Ok(run.show.finish(true)),
        Err(NestError::Cancelled(_)) if run.show.has_begun() => Ok(run.show.finish(false)),
        Err(error) => Err(error),
    }
}

struct Run<'a> {
    items: &'a [Item],
    space: &'a Space,
    options: &'a Options,
    search: Search<'a>,
    show: Show<'a>,
}

impl Run<'_> {
    /// Ends by itself, or early with [`NestError::Cancelled`], when what was found until then counts.
    fn search(&mut self, locked: &[Locked], levels: &[Level]) -> Result<(), NestError> {
        let progress = self.search.progress;
        let mut world = World::new(self.items, locked, self.space, levels[0], progress)?;
        let mut beds = Vec::new();
        self.fill_all(&world, &mut beds)?;
        self.show.offer(&beds)?;
        // Exact, boxes suit parts that are like them, or fill a space to the brim.
        let (copies, most) = (&self.search.copies, self.options.max_builds);
        let (builds, unplaced) =
            boxes_in_builds(self.items, locked, copies, self.space, most, progress)?;
        self.show.offer_other(builds, unplaced)?;
        for (n, level) in levels.iter().enumerate() {
            self.show.fine = n == 0 || n + 1 == levels.len();
            if n > 0 {
                let next = World::new(self.items, locked, self.space, *level, progress)?;
                if world.rounding == Rounding::Even {
                    self.show.offer(&beds)?;
                }
                // What was rounded up gives no start for what is not: only something to show early.
                let alike = next.rounding == world.rounding;
                let spots =
                    if alike { Some(self.carried(&beds, &next, Goal::Clear)?) } else { None };
                drop(beds);
                world = next;
                beds = Vec::new();
                match spots {
                    Some(spots) => {
                        if !self.put_back(&world, &mut beds, spots)? {
                            return Ok(()); // rounding undid a tight place: what was shown stays
                        }
                    }
                    None => self.fill_all(&world, &mut beds)?,
                }
                self.show.offer(&beds)?;
            }
            if n == 0 && levels.iter().any(|l| l.1 != world.rounding) {
                continue;
            }
            let ended = self.level(&world, &mut beds, n + 1 == levels.len());
            if ended.is_err() {
                // What was reached on the way may not have been shown yet.
                self.show.take(&beds);
            }
            ended?;
        }
        Ok(())
    }

    /// Fills builds with everything.
    fn fill_all<'w>(&mut self, world: &'w World, beds: &mut Vec<Bed<'w>>) -> Result<(), Cancelled> {
        let all: Vec<usize> = (0..self.search.copies.len()).collect();
        self.show.unplaced = self.build_up(world, beds, &all, 0)?;
        Ok(())
    }

    /// Improves what there is on voxels of one size.
    fn level<'w>(
        &mut self,
        world: &'w World,
        beds: &mut Vec<Bed<'w>>,
        fine: bool,
    ) -> Result<(), Stop> {
        if fine {
            self.perfect(world, beds)?;
        }
        if fine && world.rounding == Rounding::Even {
            self.go_on_lower(world, beds)?;
        } else {
            self.improve(world, beds, fine)?;
        }
        if fine && self.options.even_area {
            for bed in beds.iter_mut() {
                self.search.even_out(bed)?;
            }
            self.show.offer_even(beds)?;
        }
        Ok(())
    }

    /// Searches from where exact distances put the parts, again and again, until that brings nothing.
    fn go_on_lower<'w>(&mut self, world: &'w World, beds: &mut Vec<Bed<'w>>) -> Result<(), Stop> {
        /// Smallest improvement that counts, of the height.
        const GAIN: f64 = 5e-4;
        /// Rounds without one after which it counts as converged.
        const GAINLESS: u32 = 2;
        self.pull_all_forward(world, beds)?;
        let mut gainless = 0;
        let mut start: Vec<Vec<Spot>> = beds.iter().map(|bed| bed.spots.clone()).collect();
        while gainless < GAINLESS {
            let before = self.show.height();
            let others = self.side_by_side(beds)?;
            let mut next = None;
            for found in [&*beds, &others] {
                let best = self.show.height();
                let spots = self.carried(found, world, self.show.low)?;
                self.show.offer(found)?;
                if self.show.height() < best {
                    next = Some(spots);
                }
            }
            gainless = if self.show.height() > (1.0 - GAIN) * before { gainless + 1 } else { 0 };
            let mut lower = Vec::new();
            if let Some(spots) = next
                && self.put_back(world, &mut lower, spots)?
            {
                start = lower.iter().map(|bed| bed.spots.clone()).collect();
                *beds = lower;
            } else {
                beds.iter_mut().zip(&start).for_each(|(bed, spots)| bed.restore(spots));
            }
        }
        Ok(())
    }

    /// Two searches from the same start, each on a thread of its own: the beds of the second.
    fn side_by_side<'w>(&mut self, beds: &mut Vec<Bed<'w>>) -> Result<Vec<Bed<'w>>, Stop> {
        let Self { search, show, .. } = self;
        let mut others = beds.clone();
        let progress = search.progress.stage();
        let mut other = search.fork(&progress);
        let mut its_end = Ok(());
        beds.iter_mut().chain(&mut others).for_each(|bed| bed.alone = true);
        let my_end = rayon::in_place_scope(|scope| {
            let (others, its_end) = (&mut others, &mut its_end);
            scope.spawn(move |_| {
                *its_end = others.iter_mut().try_for_each(|bed| other.lower(bed, &mut |_| true));
            });
            let mut mine = beds.iter_mut().enumerate();
            let ended = mine.try_for_each(|(b, bed)| {
                search.lower(bed, &mut |bed: &Bed| show.improved(b, bed).is_ok())
            });
            if ended.is_err() {
                progress.cancel();
            }
            ended
        });
        beds.iter_mut().chain(&mut others).for_each(|bed| bed.alone = false);
        let ended = my_end.and(its_end);
        if ended.is_err() {
            let height = |beds: &[Bed]| beds.iter().map(Bed::height).sum::<i32>();
            if height(&others) < height(beds) {
                std::mem::swap(beds, &mut others);
            }
        }
        ended.map(|()| others)
    }

    /// The places of all beds on the voxels of this or another world, by exact distances if voxels alone
    /// do not keep the clearance; a copy that has none there is given by its number.
    fn carried(
        &mut self,
        beds: &[Bed],
        world: &World,
        goal: Goal,
    ) -> Result<Vec<Vec<Result<Spot, usize>>>, Stop> {
        self.show.take(beds);
        let even = beds.first().is_some_and(|bed| bed.world.rounding == Rounding::Even);
        let moves = if even { Some(self.show.moves(goal)?) } else { None };
        let each = |(b, bed): (usize, &Bed)| {
            let by = |copy: usize| match &moves {
                Some(moves) => moves[b].get(&copy).copied(),
                None => Some([0.0; 3]),
            };
            let spot = |s: &Spot| refined(bed, world, s, by(s.copy)?);
            bed.spots.iter().map(|s| spot(s).ok_or(s.copy)).collect()
        };
        Ok(beds.iter().enumerate().map(each).collect())
    }

    /// Fills beds with these places, as far as they are free or by exact distances, and with the rest
    /// where there is room. Whether all have a place.
    fn put_back<'w>(
        &mut self,
        world: &'w World,
        beds: &mut Vec<Bed<'w>>,
        spots: Vec<Vec<Result<Spot, usize>>>,
    ) -> Result<bool, Cancelled> {
        let mut lost = Vec::new();
        for (b, spots) in spots.into_iter().enumerate() {
            let mut bed = Bed::new(world, self.search.copies.len(), b == 0);
            for spot in spots {
                match spot {
                    // Even voxels may overlap where exact distances have put parts.
                    Ok(spot) if world.rounding == Rounding::Even || bed.is_free(&spot) => {
                        bed.put(spot);
                    }
                    Ok(spot) => lost.push(spot.copy),
                    Err(copy) => lost.push(copy),
                }
            }
            lost = self.search.fill(&mut bed, &lost, world.height())?;
            beds.push(bed);
        }
        // Number `MAX` is beyond all: none is emptied.
        Ok(lost.is_empty() || self.build_up(world, beds, &lost, usize::MAX)?.is_empty())
    }

    /// Fills builds from number `first` on, anew; returns what fits none.
    fn build_up<'w>(
        &mut self,
        world: &'w World,
        beds: &mut Vec<Bed<'w>>,
        pool: &[usize],
        first: usize,
    ) -> Result<Vec<usize>, Cancelled> {
        beds.truncate(first);
        let (mut pool, never): (Vec<usize>, Vec<usize>) =
            pool.iter().partition(|c| !world.shapes[self.search.copies[**c].item].is_empty());
        while (!pool.is_empty() || beds.is_empty()) && beds.len() < self.options.max_builds.max(1) {
            let mut bed = Bed::new(world, self.search.copies.len(), beds.is_empty());
            let before = pool.len();
            pool = self.search.fill(&mut bed, &pool, world.height())?;
            // An empty build beyond the locked one can hold no more than this one did.
            let stuck = pool.len() == before && !beds.is_empty();
            if stuck {
                break;
            }
            beds.push(bed);
        }
        pool.extend(never);
        pool.sort_unstable();
        Ok(pool)
    }

    /// For a few parts made of cubes: a gapless arrangement, if there is one.
    fn perfect<'w>(&mut self, world: &'w World, beds: &mut Vec<Bed<'w>>) -> Result<(), Stop> {
        let copies = &self.search.copies;
        let cubes = lattice(self.items).is_some_and(|(step, square)| square && step >= world.h);
        let locked = !self.show.fixed.is_empty();
        if !cubes || self.space.clearance_mm > 0.0 || locked || copies.is_empty() {
            return Ok(());
        }
        let of: Vec<usize> = copies.iter().map(|c| c.item).collect();
        let one = beds.len() == 1 && self.show.unplaced.is_empty();
        let below = if one { beds[0].height() } else { world.height() + 1 };
        let Some(spots) = perfect(world, &of, below, self.search.progress)? else { return Ok(()) };
        let mut bed = Bed::new(world, self.search.copies.len(), true);
        for s in &spots {
            bed.put(*s);
        }
        beds.clear();
        beds.push(bed);
        self.show.unplaced.clear();
        self.show.offer(beds)
    }

    fn improve<'w>(
        &mut self,
        world: &'w World,
        beds: &mut Vec<Bed<'w>>,
        fine: bool,
    ) -> Result<(), Stop> {
        self.pull_all_forward(world, beds)?;
        for (b, bed) in beds.iter_mut().enumerate() {
            let Self { search, show, .. } = self;
            let mut report = |bed: &Bed| show.improved(b, bed).is_ok();
            if !fine {
                search.large_first(bed, FIRST_ORDERS)?;
            }
            search.lower(bed, &mut report)?;
        }
        Ok(())
    }

    /// Tries to bring parts of later builds into earlier ones.
    fn pull_all_forward<'w>(
        &mut self,
        world: &'w World,
        beds: &mut Vec<Bed<'w>>,
    ) -> Result<(), Stop> {
        for b in 0..beds.len() {
            // There may be fewer by now.
            if b + 1 < beds.len() {
                self.pull_forward(world, beds, b)?;
            }
        }
        Ok(())
    }

    /// Tries to bring parts of later builds into build `b`.
    fn pull_forward<'w>(
        &mut self,
        world: &'w World,
        beds: &mut Vec<Bed<'w>>,
        b: usize,
    ) -> Result<(), Stop> {
        let due = |search: &Search, c: usize| search.copies[c].due;
        let later: Vec<usize> =
            beds[b + 1..].iter().flat_map(|bed| bed.spots.iter().map(|s| s.copy)).collect();
        let Some(next_due) = later.iter().map(|&c| due(&self.search, c)).min() else {
            return Ok(());
        };
        let (pool, wait): (Vec<usize>, Vec<usize>) =
            later.iter().partition(|&&c| due(&self.search, c) == next_due);
        let before = beds[b].spots.clone();
        let size = |search: &Search, list: &[usize]| -> f64 {
            list.iter().map(|&c| search.copies[c].size).sum()
        };
        let old = size(&self.search, &pool);
        let mut rest =
            self.search.squeeze(&mut beds[b], pool, world.height(), self.options.patience / 4)?;
        let new = size(&self.search, &rest);
        let latest = beds[b].spots.iter().map(|s| due(&self.search, s.copy)).max().unwrap_or(0);
        let in_order = rest.iter().all(|&c| due(&self.search, c) >= latest);
        if new >= old || !in_order {
            beds[b].restore(&before);
            return Ok(());
        }
        rest.extend(wait);
        let saved: Vec<Vec<Spot>> = beds[b + 1..].iter().map(|bed| bed.spots.clone()).collect();
        let left = self.build_up(world, beds, &rest, b + 1)?;
        if !left.is_empty() || beds.len() > b + 1 + saved.len() {
            // Filled anew, the later builds came out worse.
            beds.truncate(b + 1);
            beds[b].restore(&before);
            for spots in saved {
                let mut bed = Bed::new(world, self.search.copies.len(), false);
                for s in &spots {
                    bed.put(*s);
                }
                beds.push(bed);
            }
            return Ok(());
        }
        self.show.offer(beds)
    }
}

fn check(
    items: &[Item],
    locked: &[Locked],
    space: &Space,
    options: &Options,
) -> Result<(), NestError> {
    let bad = |what, value, need| Err(NestError::BadMeasure { what, value, need });
    for size in space.size_mm {
        if !(size.is_finite() && size > 0.0 && size < 1e5) {
            return bad("a side of the build space", size, "above 0 and below 100000");
        }
    }
    for (what, value) in
        [("the clearance", space.clearance_mm), ("the clearance to walls", space.wall_clearance_mm)]
    {
        if !(value.is_finite() && (0.0..1e5).contains(&value)) {
            return bad(what, value, "of at least 0");
        }
    }
    if let Some(h) = options.voxel_mm
        && !(h.is_finite() && h > 0.0)
    {
        return bad("the voxel", h, "above 0");
    }
    if inner(space).1.iter().any(|r| *r <= 0.0) {
        return Err(NestError::NoRoom);
    }
    for (item, i) in items.iter().zip(0..) {
        let n = item.mesh.vertices.len();
        let usable = item.mesh.triangles.iter().flatten().all(|v| {
            item.mesh.vertices.get(*v as usize).is_some_and(|p| p.iter().all(|c| c.abs() < 1e6))
        });
        if n == 0 || item.mesh.triangles.is_empty() || !usable {
            return Err(NestError::UnusableMesh { item: i, name: item.name.clone() });
        }
        for value in item.scale {
            if !(0.01..=100.0).contains(&value) {
                return Err(NestError::BadScale { item: i, name: item.name.clone(), value });
            }
        }
    }
    let mut counts = vec![0; items.len()];
    for (index, l) in locked.iter().enumerate() {
        let scale = items.get(l.item).map_or([1.0; 3], |i| i.scale);
        let turn = l.pose.is_finite() && l.pose.determinant() > 0.0 && {
            let r = [0, 1, 2].map(|i| [0, 1, 2].map(|k| l.pose.rows[i][k] / scale[i]));
            (0..3).all(|i| {
                (0..3).all(|j| {
                    let dot: f64 = (0..3).map(|k| r[i][k] * r[j][k]).sum();
                    (dot - f64::from(u8::from(i == j))).abs() < 1e-6
                })
            })
        };
        let listed = counts.get_mut(l.item).is_some_and(|n| {
            *n += 1;
            *n <= items[l.item].quantity
        });
        if !turn || !listed {
            return Err(NestError::BadLock { index, item: l.item });
        }
    }
    Ok(())
}
