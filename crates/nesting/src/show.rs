//! What of a search is handed out: arrangements that are valid by exact distances, each better than
//! the last.

use crate::bed::{Bed, Spot, Wish, World};
use crate::compact::compact;
use crate::figures::{summary, top_mm};
use crate::model::{Arrangement, Item, Locked, Placed, Space};
use crate::nest::OnBetter;
use crate::search::{Copy, Stop};
use crate::settle::{Tightened, comes_apart, judged, pressed, tightened};
use crate::shape::Rounding;
use crate::solid::Solid;
use crate::tighten::Goal;
use base::{Cancelled, Progress};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// A build is made exact once it is lower than the last that was by so much of its height: that takes
/// a second or so.
const WORTH_SHOWING: f64 = 0.99;

/// So few parts that touch are pressed together whenever they are shown: some tenths of a second.
const FEW: usize = 12;

/// Rounds without anything lower that touching parts slide in the end.
const SLIDING: u32 = 12;

/// How far copies, by number, move, mm; those that must go elsewhere are missing.
pub(crate) type Moves = BTreeMap<usize, [f64; 3]>;

/// What the search has come to, and what has been shown of it.
pub(crate) struct Show<'a> {
    items: &'a [Item],
    space: &'a Space,
    pub(crate) fixed: Vec<Placed>,
    /// Whether what the search has is worth showing: not while its voxels are coarse.
    pub(crate) fine: bool,
    /// Edge of voxels for what must be put in anew, mm.
    voxel_mm: f64,
    /// What is wanted in the end.
    pub(crate) low: Goal,
    /// Whether somebody said that it is enough.
    stopped: bool,
    copies: Vec<Copy>,
    progress: &'a Progress,
    on_better: OnBetter<'a>,
    /// Of each item, once something is to be made exact.
    solids: Vec<Arc<Solid>>,
    /// Per build what the search has, without the locked ones, and by which rounding.
    found: Vec<(Vec<Placed>, Rounding)>,
    /// Which copies are in none of them.
    pub(crate) unplaced: Vec<usize>,
    /// The builds last made exact: as they were found, and what became of that.
    exact: Vec<Option<(Vec<Placed>, Tightened)>>,
    /// The best that was shown, without the locked ones, and what was unplaced then.
    best: Option<(Vec<Vec<Placed>>, Vec<usize>)>,
}

impl<'a> Show<'a> {
    pub(crate) fn new(
        items: &'a [Item],
        space: &'a Space,
        fixed: Vec<Placed>,
        copies: Vec<Copy>,
        (voxel_mm, even_area): (f64, bool),
        progress: &'a Progress,
        on_better: OnBetter<'a>,
    ) -> Self {
        let (solids, found, unplaced, exact) = Default::default();
        let best = None;
        // What was evened out along Z must not sink again.
        let low = if even_area { Goal::LowTop } else { Goal::Low };
        Self {
            items,
            space,
            fixed,
            fine: true,
            voxel_mm,
            low,
            stopped: false,
            copies,
            progress,
            on_better,
            solids,
            found,
            unplaced,
            exact,
            best,
        }
    }

    /// Whether there is something to show.
    pub(crate) fn has_begun(&self) -> bool {
        !self.found.is_empty()
    }

    /// Takes over what all beds hold.
    pub(crate) fn take(&mut self, beds: &[Bed]) {
        self.found =
            beds.iter().map(|bed| (placed(&self.copies, bed), bed.world.rounding)).collect();
    }

    /// Takes over one build that got better, or is about as good, and shows it if that is worth it.
    pub(crate) fn improved(&mut self, b: usize, bed: &Bed) -> Result<(), Stop> {
        let found = placed(&self.copies, bed);
        let is_higher = top_mm(self.items, &found) >= top_mm(self.items, &self.found[b].0);
        if is_higher && self.space.clearance_mm <= 0.0 && found.len() > FEW {
            return self.goes_on(); // sliding them all would take longer than it is worth
        }
        let last = self.exact.get(b).and_then(|e| Some(top_mm(self.items, &e.as_ref()?.0)));
        let worth = last.is_none_or(|last| top_mm(self.items, &found) < WORTH_SHOWING * last);
        self.found[b] = (found, bed.world.rounding);
        if bed.world.rounding == Rounding::Even && (!worth || !self.fine) {
            self.goes_on()
        } else {
            self.show()
        }
    }

    /// Takes over what all beds hold, and shows it if, made exact, it is valid and better than the last.
    pub(crate) fn offer(&mut self, beds: &[Bed]) -> Result<(), Stop> {
        self.take(beds);
        self.show()
    }

    fn show(&mut self) -> Result<(), Stop> {
        if !self.fine {
            return self.goes_on();
        }
        match self.exact_lists(Goal::Clear, self.progress) {
            Ok(Some(lists)) if self.is_better(&lists) => self.hand_out(lists),
            _ => self.goes_on(),
        }
    }

    /// Shows another arrangement that is valid if it is better than the last.
    pub(crate) fn offer_other(
        &mut self,
        builds: Vec<Vec<Placed>>,
        unplaced: Vec<usize>,
    ) -> Result<(), Stop> {
        let builds = builds.into_iter().map(|build| (build, Rounding::Up)).collect();
        let found = std::mem::replace(&mut self.found, builds);
        let mine = std::mem::replace(&mut self.unplaced, unplaced);
        let shown = self.show();
        (self.found, self.unplaced) = (found, mine);
        shown
    }

    /// Whether every copy is somewhere: between builds, some are in none for a while.
    fn is_whole(&self) -> bool {
        let placed: usize = self.found.iter().map(|(list, _)| list.len()).sum();
        placed + self.unplaced.len() == self.copies.len()
    }

    /// Heights of the builds of the best that was shown, together, mm.
    pub(crate) fn height(&self) -> f64 {
        self.best.as_ref().map_or(f64::INFINITY, |(best, _)| self.total(best))
    }

    fn goes_on(&self) -> Result<(), Stop> {
        Ok(self.progress.check()?)
    }

    fn hand_out(&mut self, lists: Vec<Vec<Placed>>) -> Result<(), Stop> {
        let arrangement = self.arrangement(&lists, &self.unplaced);
        self.best = Some((lists, self.unplaced.clone()));
        self.stopped |= !(self.on_better)(&arrangement);
        if self.stopped { Err(Stop) } else { Ok(()) }
    }

    /// Fewer unplaced, then fewer builds, then less height.
    fn is_better(&self, lists: &[Vec<Placed>]) -> bool {
        self.best.as_ref().is_none_or(|(best, unplaced)| {
            let count = |lists: &[Vec<Placed>], unplaced: &[usize]| (unplaced.len(), lists.len());
            let (new, old) = (count(lists, &self.unplaced), count(best, unplaced));
            new < old || new == old && self.total(lists) < self.total(best) - 1e-9
        })
    }

    /// The number of the copy that is placed.
    fn number(&self, p: &Placed) -> Option<usize> {
        self.copies.iter().position(|c| (c.item, c.number) == (p.item, p.copy))
    }

    /// How far every copy of each build moves when it is made exact, mm.
    pub(crate) fn moves(&mut self, goal: Goal) -> Result<Vec<Moves>, Stop> {
        let mut all = Vec::new();
        for b in 0..self.found.len() {
            let Tightened { build, wrong } = self.exact(b, goal, self.progress)?;
            let locked = if b == 0 { self.fixed.len() } else { 0 };
            let moves = build.iter().enumerate().filter_map(|(n, p)| {
                let name = |q: &&Placed| (q.item, q.copy) == (p.item, p.copy);
                let from = self.found[b].0.iter().find(name)?.pose;
                let turned = |k: usize| p.pose.rows[k][..3] != from.rows[k][..3];
                if wrong.contains(&(locked + n)) || (0..3).any(turned) {
                    return None;
                }
                let by = [0, 1, 2].map(|k| p.pose.rows[k][3] - from.rows[k][3]);
                Some((self.number(p)?, by))
            });
            all.push(moves.collect());
        }
        Ok(all)
    }

    /// Shows what there is now if it is about as low as the best: it is more even along Z.
    pub(crate) fn offer_even(&mut self, beds: &[Bed]) -> Result<(), Stop> {
        /// Of the height, given up for that.
        const HIGHER: f64 = 1.005;
        self.take(beds);
        let lists = self.exact_lists(self.low, self.progress)?;
        let about_as_low = |show: &Self, lists: &[Vec<Placed>]| {
            show.best.as_ref().is_some_and(|(best, unplaced)| {
                (unplaced, best.len()) == (&show.unplaced, lists.len())
                    && show.total(lists) <= HIGHER * show.total(best)
            })
        };
        match lists {
            Some(lists) if about_as_low(self, &lists) => {
                self.found = lists.iter().map(|list| (list.clone(), Rounding::Even)).collect();
                self.hand_out(lists)
            }
            _ => self.goes_on(),
        }
    }

    /// The best arrangement, as low as exact distances get it; it is shown a last time if that made it
    /// better, unless nobody wants to see more.
    pub(crate) fn finish(mut self, converged: bool) -> Arrangement {
        let quiet = Progress::default(); // a second or so, and wanted of a search that was stopped, too
        let lower = |show: &mut Self| {
            let lists = show.exact_lists(show.low, &quiet).ok().flatten();
            lists.filter(|lists| show.is_better(lists))
        };
        let mut last = lower(&mut self);
        if last.is_none()
            && let Some((best, unplaced)) = self.best.clone()
        {
            self.unplaced = unplaced;
            self.found = best.into_iter().map(|list| (list, Rounding::Even)).collect();
            last = lower(&mut self);
        }
        if let Some(lists) = last {
            if self.stopped {
                self.best = Some((lists, self.unplaced.clone()));
            } else {
                self.hand_out(lists).ok(); // it is the last anyway
            }
        }
        let (lists, unplaced) = self.best.take().unwrap_or_default();
        Arrangement { converged, ..self.arrangement(&lists, &unplaced) }
    }

    /// All builds made exact; `None` if one cannot be, or while a copy is in none.
    fn exact_lists(
        &mut self,
        goal: Goal,
        progress: &Progress,
    ) -> Result<Option<Vec<Vec<Placed>>>, Cancelled> {
        if !self.is_whole() {
            return Ok(None);
        }
        let mut lists = Vec::new();
        for b in 0..self.found.len() {
            let exact = self.exact(b, goal, progress)?;
            if !exact.wrong.is_empty() {
                return Ok(None);
            }
            lists.push(exact.build);
        }
        Ok(Some(lists))
    }

    fn total(&self, lists: &[Vec<Placed>]) -> f64 {
        lists.iter().map(|list| top_mm(self.items, list)).sum()
    }

    /// A build made exact.
    fn exact(&mut self, b: usize, goal: Goal, progress: &Progress) -> Result<Tightened, Cancelled> {
        let (found, rounding) = self.found[b].clone();
        let fixed = if b == 0 { self.fixed.clone() } else { Vec::new() };
        if self.space.clearance_mm <= 0.0 {
            let build = self.touching(found, &fixed, goal, progress)?;
            return Ok(Tightened { build, wrong: Vec::new() });
        }
        if rounding == Rounding::Up && goal == Goal::Clear {
            return Ok(Tightened { build: found, wrong: Vec::new() });
        }
        self.exact.resize(self.found.len().max(self.exact.len()), None);
        if goal == Goal::Clear
            && let Some((before, known)) = &self.exact[b]
            && *before == found
        {
            return Ok(known.clone());
        }
        self.make_solids();
        let whole: Vec<Placed> = fixed.iter().chain(&found).copied().collect();
        let exact = tightened(&self.solids, &whole, self.space, goal, progress)?;
        let mut exact = self.mended(exact, progress)?;
        exact.build.drain(..fixed.len());
        self.exact[b] = Some((found, exact.clone()));
        Ok(exact)
    }

    /// A build whose parts may touch, with the slack slid and pressed out.
    fn touching(
        &mut self,
        found: Vec<Placed>,
        fixed: &[Placed],
        goal: Goal,
        progress: &Progress,
    ) -> Result<Vec<Placed>, Cancelled> {
        if goal == Goal::LowTop {
            return Ok(found);
        }
        // A few rounds, until something is to stay.
        let rounds = if goal == Goal::Low { SLIDING } else { 3 };
        let build = self.slid(found, fixed, rounds, progress)?;
        if goal == Goal::Clear && build.len() > FEW {
            return Ok(build);
        }
        self.make_solids();
        let whole: Vec<Placed> = fixed.iter().chain(&build).copied().collect();
        let Tightened { build: mut lower, wrong } =
            pressed(&self.solids, &whole, self.space, progress)?;
        if !wrong.is_empty() || top_mm(self.items, &lower) >= top_mm(self.items, &whole) {
            return Ok(build);
        }
        lower.drain(..fixed.len());
        self.slid(lower, fixed, rounds, progress)
    }

    /// A build after sliding, unless something could not be taken out then: what slid into place
    /// straight may not come out straight.
    fn slid(
        &self,
        build: Vec<Placed>,
        fixed: &[Placed],
        rounds: u32,
        progress: &Progress,
    ) -> Result<Vec<Placed>, Cancelled> {
        let mut slid = build.clone();
        compact(self.items, fixed, &mut slid, self.space, rounds, progress)?;
        let whole: Vec<Placed> = fixed.iter().chain(&slid).copied().collect();
        Ok(if comes_apart(self.items, &whole, progress)? { slid } else { build })
    }

    fn make_solids(&mut self) {
        if self.solids.is_empty() {
            let solid = |item: &Item| Arc::new(Solid::new(Arc::clone(&item.mesh)));
            self.solids = self.items.par_iter().map(solid).collect();
        }
    }

    /// A build whose wrong placements were taken out and put in again where voxels, rounded up, find
    /// room around the rest; as it was if they do not.
    fn mended(&self, exact: Tightened, progress: &Progress) -> Result<Tightened, Cancelled> {
        if exact.wrong.is_empty() {
            return Ok(exact);
        }
        let (mut out, mut build) = (Vec::new(), Vec::new());
        for (n, p) in exact.build.iter().enumerate() {
            if exact.wrong.contains(&n) { &mut out } else { &mut build }.push(*p);
        }
        let rest: Vec<Locked> =
            build.iter().map(|p| Locked { item: p.item, pose: p.pose }).collect();
        let grain = (self.voxel_mm, Rounding::Up);
        let world = World::new(self.items, &rest, self.space, grain, progress)?;
        let mut bed = Bed::new(&world, self.copies.len(), true);
        for p in out {
            let wish = Wish::lowest_top(world.height());
            if !self.number(&p).is_some_and(|copy| bed.insert(copy, p.item, &wish)) {
                return Ok(exact);
            }
        }
        build.extend(placed(&self.copies, &bed));
        let again = judged(&self.solids, &build, self.space, progress)?;
        Ok(if again.wrong.is_empty() { again } else { exact })
    }

    fn arrangement(&self, lists: &[Vec<Placed>], unplaced: &[usize]) -> Arrangement {
        let mut builds = lists.to_vec();
        if builds.is_empty() {
            builds.push(Vec::new());
        }
        builds[0].splice(0..0, self.fixed.iter().copied());
        let summary = summary(self.items, &builds, self.space);
        let name = |c: &usize| (self.copies[*c].item, self.copies[*c].number);
        let unplaced = unplaced.iter().map(name).collect();
        Arrangement { builds, unplaced, summary, converged: false }
    }
}

fn placed(copies: &[Copy], bed: &Bed) -> Vec<Placed> {
    let one = |s: &Spot| Placed {
        item: s.item,
        copy: copies[s.copy].number,
        pose: bed.world.pose(s),
        locked: false,
    };
    // Those that can leave last come first.
    let order = bed.leaving_order();
    let mut spots: Vec<&Spot> = bed.spots.iter().collect();
    spots.sort_by_key(|s| std::cmp::Reverse(order.iter().position(|c| *c == s.copy)));
    spots.into_iter().map(one).collect()
}
