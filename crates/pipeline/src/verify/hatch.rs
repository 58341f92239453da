//! The hatch, line by line: every line that the recipe asks for over its whole length, as often as
//! it asks, and nothing else.

use super::around::Around;
use super::dose::Place;
use super::expected::{HatchRule, KindRule, Required, TOLERANCE_NM};
use super::grid::Xy;
use super::narrow::is_surely_wide;
use super::outcome::{Check, Marks, Tally};
use super::passes::on_line;
use super::pieces_of_lines::Stretch;
use super::sweep::{Frame, Stretches, Sweep, Wanted};
use super::wall_rules::WallRule;
use super::walls::{Walls, point, xy};
use base::NM_PER_MM;
use base::finding::VectorsProblem;

/// What differs over less than this along a line is rounding, nm: short edges of a boundary turn
/// when their ends are rounded to the grid, and an offset carries that on.
const ROUNDING_NM: f64 = 1000.0;
/// Places are the same within this, nm: ends of marks are rounded, borders of stripes and cells are not. A run of missing
/// marks must not fall apart there, since each piece would be judged by itself.
const SAME_NM: f64 = 3.0;

/// Along a line without marks it is asked at most this far apart whether the wall is narrow, nm.
const NARROW_STEP_NM: f64 = 100_000.0;

/// A mark on a line of the hatch.
#[derive(Clone, Copy, Debug)]
struct OnLine {
    line: i64,
    from: f64,
    to: f64,
    /// Index into the frame's passes.
    pass: usize,
}

/// A pass of the hatch of a kind of region, by number.
#[derive(Clone, Copy)]
struct Pass<'a> {
    kind: &'a KindRule,
    hatch: &'a HatchRule,
    number: usize,
}

/// Passes that share their lines.
struct Group<'a> {
    frame: Frame,
    /// Whether the lines run across the scan angle.
    is_across: bool,
    passes: Vec<Pass<'a>>,
    marks: Vec<OnLine>,
}

#[derive(Default)]
struct Faults {
    astray: Tally,
    off_line: Tally,
    backwards: Tally,
    missing: Tally,
    repeated: Tally,
    outside: Tally,
    shallow: Tally,
    elsewhere: Tally,
}

/// Compares the hatch of a placement in a layer with what is asked for; `passes` says of which each block
/// is. Returns places in walls that may be narrow, which have lines along them instead.
pub(super) fn check(
    check: &mut Check,
    required: &Required,
    around: &Around,
    walls: &Walls,
    (marks, passes): (&Marks, &[Option<usize>]),
    sweep: &mut Sweep,
) -> Vec<Place> {
    let mut faults = Faults::default();
    let mut in_narrow_walls = Vec::new();
    let mut groups = groups(required);
    sort_marks(required, (marks, passes), &mut groups, &mut faults);
    for group in &mut groups {
        let wanted: Vec<Wanted> = group
            .passes
            .iter()
            .map(|pass| Wanted { region: pass.kind.region, depth: pass.hatch.depth })
            .collect();
        sweep.fill(&group.frame, around, walls, &wanted, required.corners);
        group.marks.sort_unstable_by_key(|mark| mark.line);
        let narrow = &mut in_narrow_walls;
        let mut lines = Lines { group, wanted: &wanted, walls, faults: &mut faults, narrow };
        check.outcome.points_tested += lines.compare(sweep);
    }
    faults.report(check);
    in_narrow_walls
}

impl Faults {
    fn report(&self, check: &mut Check) {
        let count = |tally: &Tally| tally.count;
        self.astray.report(check, |t| VectorsProblem::HatchAstray { marks: count(t) });
        self.off_line.report(check, |t| VectorsProblem::HatchSpacing { marks: count(t) });
        self.backwards.report(check, |t| VectorsProblem::HatchBackwards { marks: count(t) });
        self.outside.report(check, |t| VectorsProblem::MarkOutside { marks: count(t) });
        self.shallow.report(check, |t| VectorsProblem::MarkShallow { marks: count(t) });
        self.elsewhere.report(check, |t| VectorsProblem::MarkElsewhere { marks: count(t) });
        let mm = |t: &Tally| t.amount / NM_PER_MM;
        self.missing.report(check, |t| VectorsProblem::HatchMissing { length_mm: mm(t) });
        self.repeated.report(check, |t| VectorsProblem::HatchRepeated { length_mm: mm(t) });
    }
}

fn groups(required: &Required) -> Vec<Group<'_>> {
    let mut groups: Vec<Group> = Vec::new();
    for kind in &required.kinds {
        let Some(hatch) = &kind.hatch else { continue };
        for (number, rule) in hatch.passes.iter().enumerate() {
            let pass = Pass { kind, hatch, number };
            for (way, frame) in rule.frames().enumerate() {
                let is_across = way > 0;
                let known = |g: &&mut Group| g.frame == frame && g.is_across == is_across;
                if let Some(group) = groups.iter_mut().find(known) {
                    group.passes.push(pass);
                } else {
                    groups.push(Group { frame, is_across, passes: vec![pass], marks: Vec::new() });
                }
            }
        }
    }
    groups
}

/// Puts every mark of the hatch on its line. Marks of regions and exposures that are to have no hatch are
/// for [`super::order`] to refuse.
fn sort_marks(
    required: &Required,
    (marks, passes): (&Marks, &[Option<usize>]),
    groups: &mut [Group],
    faults: &mut Faults,
) {
    for (block, pass) in marks.blocks.iter().zip(passes) {
        let Some(pass) = *pass else { continue };
        let Some(hatch) = required.kind(block.region).and_then(|kind| kind.hatch.as_ref()) else {
            continue;
        };
        for mark in block.paths.iter().flat_map(|path| path.windows(2)) {
            let (a, b) = (mark[0], mark[1]);
            if a == b {
                continue; // a controller skips it
            }
            let mut is_along = false;
            let place = groups.iter_mut().find_map(|group| {
                let is_it = |p: &Pass| p.kind.region == block.region && p.number == pass;
                let pass = group.passes.iter().position(is_it)?;
                let (line, from, to) = on_line(&group.frame, a, b, &mut is_along)?;
                Some((group, OnLine { line, from, to, pass }))
            });
            match place {
                Some((group, mut mark)) => {
                    if mark.from > mark.to {
                        (mark.from, mark.to) = (mark.to, mark.from);
                        if hatch.is_one_way {
                            faults.backwards.add(xy(a), 0.0);
                        }
                    }
                    group.marks.push(mark);
                }
                None if is_along => faults.off_line.add(xy(a), 0.0),
                None => faults.astray.add(xy(a), 0.0),
            }
        }
    }
}

/// The lines of one group, to be compared with their marks.
struct Lines<'a, 'b> {
    group: &'a Group<'b>,
    wanted: &'a [Wanted],
    walls: &'a Walls<'a>,
    faults: &'a mut Faults,
    narrow: &'a mut Vec<Place>,
}

/// A change along a line: by how much rise what must be, what may be, and what is.
type Change = (f64, [i32; 3]);

impl Lines<'_, '_> {
    /// Compares all lines; returns how many.
    fn compare(&mut self, sweep: &mut Sweep) -> u64 {
        let mut stretches = vec![Stretches::default(); self.wanted.len()];
        let mut changes: Vec<Change> = Vec::new();
        let mut lines: Vec<i64> = sweep.lines().collect();
        let known = (lines.first().copied(), lines.last().copied());
        let beyond =
            |line: &i64| known.0.is_none_or(|f| *line < f) || known.1.is_none_or(|l| *line > l);
        lines.extend(self.group.marks.iter().map(|mark| mark.line).filter(beyond));
        lines.dedup();
        let mut tested = 0;
        for line in lines {
            sweep.walk(line, self.wanted, &mut stretches);
            let first = self.group.marks.partition_point(|mark| mark.line < line);
            let here = &self.group.marks[first..];
            let here = &here[..here.partition_point(|mark| mark.line <= line)];
            if here.is_empty() && stretches.iter().all(|s| s.required.is_empty()) {
                continue;
            }
            tested += 1;
            for (number, stretches) in stretches.iter().enumerate() {
                let Pass { hatch, number: pass, .. } = self.group.passes[number];
                changes.clear();
                self.expect(line, hatch, stretches, hatch.times(pass), &mut changes);
                if pass == 0 {
                    self.short(line, number, stretches);
                }
                for mark in here.iter().filter(|mark| mark.pass == number) {
                    changes.push((mark.from, [0, 0, 1]));
                    changes.push((mark.to, [0, 0, -1]));
                }
                changes.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
                self.judge(line, number, &changes);
            }
        }
        tested
    }

    /// Adds where marks must and may be, cut by stripes or cells, without what is too short.
    fn expect(
        &self,
        line: i64,
        hatch: &HatchRule,
        stretches: &Stretches,
        times: i32,
        changes: &mut Vec<Change>,
    ) {
        let v = self.group.frame.v(line);
        let mut add = |(from, to): Stretch, by: [i32; 3]| {
            changes.push((from, by));
            changes.push((to, by.map(|n| -n)));
        };
        for stretch in &stretches.allowed {
            hatch.division.cut(*stretch, v, |(from, to), _| {
                if to - from >= hatch.min_length - 2.0 * TOLERANCE_NM {
                    add((from, to), [0, times, 0]);
                }
            });
        }
        for stretch in &stretches.required {
            hatch.division.cut(*stretch, v, |(from, to), is_certain| {
                if is_certain && to - from >= hatch.min_length + 2.0 * TOLERANCE_NM {
                    add((from, to), [times, 0, 0]);
                }
            });
        }
    }

    /// Notes places where lines would be too short: narrow walls have other lines there.
    fn short(&mut self, line: i64, number: usize, stretches: &Stretches) {
        let Pass { kind, hatch, .. } = self.group.passes[number];
        if kind.walls.is_none() {
            return;
        }
        let is_short = |(from, to): &&Stretch| to - from < hatch.min_length + 2.0 * TOLERANCE_NM;
        for (from, to) in stretches.required.iter().filter(is_short) {
            self.narrow.push((self.at(line, *from, *to), kind.region));
        }
    }

    /// Walks along a line and notes where there are too few marks, or too many.
    fn judge(&mut self, line: i64, number: usize, changes: &[Change]) {
        let depth = self.group.passes[number].hatch.depth;
        let [mut must, mut may, mut are] = [0; 3];
        let mut runs = [Run::default(); 3];
        for (i, (u, by)) in changes.iter().enumerate() {
            must += by[0];
            may += by[1];
            are += by[2];
            let is_last = i + 1 == changes.len();
            if changes.get(i + 1).is_some_and(|(next, _)| next - u <= SAME_NM) {
                continue; // more begins or ends at the same place
            }
            // Where no mark may be, one is out of place; where one may, others are too many.
            let faults = [are < must, are > may && may == 0, are > may && may > 0];
            let ended: [Option<Stretch>; 3] =
                std::array::from_fn(|k| runs[k].go_on(faults[k] && !is_last, *u));
            for (which, (from, to)) in
                ended.into_iter().enumerate().filter_map(|(k, e)| Some((k, e?)))
            {
                match which {
                    0 => self.missing(line, number, from, to),
                    1 => self.misplaced(line, depth, from, to),
                    _ => self.faults.repeated.add(self.at(line, from, to), to - from),
                }
            }
        }
    }

    /// A stretch without marks is a fault unless it lies in a narrow wall.
    fn missing(&mut self, line: i64, number: usize, from: f64, to: f64) {
        let Pass { kind, hatch, number: pass } = self.group.passes[number];
        let Some(radius) = kind.walls.as_ref().map(WallRule::half_narrow) else {
            self.faults.missing.add(self.at(line, from, to), to - from);
            return;
        };
        let count = ((to - from) / NARROW_STEP_NM).ceil().max(1.0);
        let step = (to - from) / count;
        // a piece that narrow walls cut short may be too short
        let (mut run, mut longest, mut at) = (0.0, (0.0, [0.0; 2]), from + step / 2.0);
        let ends = [from + ROUNDING_NM, to - ROUNDING_NM];
        let mut is_all =
            ends.iter().all(|u| is_surely_wide(self.walls, self.at(line, *u, *u), radius));
        while at < to {
            let p = self.at(line, at, at);
            if is_surely_wide(self.walls, p, radius) {
                run += step;
                if run > longest.0 {
                    longest = (run, p);
                }
            } else {
                // one pass finds all of them
                if pass == 0 {
                    self.narrow.push((p, kind.region));
                }
                (run, is_all) = (0.0, false);
            }
            at += step;
        }
        if is_all || longest.0 > hatch.min_length + 4.0 * NARROW_STEP_NM {
            self.faults.missing.add(longest.1, longest.0);
        }
    }

    fn at(&self, line: i64, from: f64, to: f64) -> Xy {
        self.group.frame.xy([f64::midpoint(from, to), self.group.frame.v(line)])
    }

    /// Says why a mark may not be where it is.
    fn misplaced(&mut self, line: i64, depth: f64, from: f64, to: f64) {
        let p = self.at(line, from, to);
        let at = point(p);
        let is_outside = self.walls.boundaries().any(|b| b.is_outside(at, TOLERANCE_NM));
        let faults = &mut *self.faults;
        let tally = if is_outside || self.walls.edges.is_empty() {
            &mut faults.outside
        } else if self.walls.is_near(p, depth) {
            &mut faults.shallow
        } else {
            &mut faults.elsewhere
        };
        tally.add(p, to - from);
    }
}

/// A stretch over which something has been true so far.
#[derive(Clone, Copy, Default)]
struct Run {
    from: Option<f64>,
}

impl Run {
    /// Whether it is true from `u` on. Returns the stretch that ends there, if it is longer than
    /// rounding.
    fn go_on(&mut self, is_true: bool, u: f64) -> Option<Stretch> {
        if is_true {
            self.from.get_or_insert(u);
            return None;
        }
        let from = self.from.take()?;
        (u - from > ROUNDING_NM).then_some((from, u))
    }
}
