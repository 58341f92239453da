//! Which pass of a hatch a block belongs to: passes may share an exposure, and differ in their lines.

use super::expected::{HatchRule, PassRule, Required, TOLERANCE_NM};
use super::outcome::Marks;
use super::sweep::Frame;
use super::walls::xy;
use base::Point;
use scan_path::{Block, ExposureKind, RegionKind};
use std::collections::BTreeMap;

impl PassRule {
    /// The lines of a pass, for each of its directions.
    pub(super) fn frames(&self) -> impl Iterator<Item = Frame> + '_ {
        self.directions.iter().map(|&(sin, cos)| Frame { sin, cos, spacing: self.spacing })
    }
}

/// For each block the number of its pass among those of its kind of region: the one with its exposure, of
/// several the one on whose lines most of its marks lie, and where that is undecided the next one. `None`
/// for what is no hatch, or none that is asked for.
pub(super) fn passes(required: &Required, marks: &Marks) -> Vec<Option<usize>> {
    let mut before: BTreeMap<RegionKind, usize> = BTreeMap::new();
    let pass_of = |block: &&Block| {
        let is_hatch = block.kind == ExposureKind::Hatch;
        let hatch = required.kind(block.region)?.hatch.as_ref().filter(|_| is_hatch)?;
        let numbered = hatch.passes.iter().enumerate();
        let fitting: Vec<(usize, usize)> = numbered
            .filter(|(_, pass)| pass.exposure == block.exposure)
            .map(|(number, pass)| (number, count_on_lines(hatch, pass, block)))
            .collect();
        let most = fitting.iter().map(|(_, count)| *count).max()?;
        let best = || fitting.iter().filter(|(_, count)| *count == most).map(|(number, _)| *number);
        let last = before.get(&block.region);
        let next = best().find(|number| last.is_none_or(|last| number > last));
        let found = next.or_else(|| best().next())?;
        before.insert(block.region, found);
        Some(found)
    };
    marks.blocks.iter().map(pass_of).collect()
}

/// How many marks of a block lie on lines of a pass.
fn count_on_lines(hatch: &HatchRule, pass: &PassRule, block: &Block) -> usize {
    let marks = block.paths.iter().flat_map(|path| path.windows(2));
    let fits = |mark: &&[Point]| {
        pass.frames().any(|frame| {
            let found = on_line(&frame, mark[0], mark[1], &mut false);
            found.is_some_and(|(_, from, to)| from <= to || !hatch.is_one_way)
        })
    };
    marks.filter(fits).count()
}

/// The line that a mark lies on, if it does, and from where to where it runs. Ends are rounded to
/// the grid: at most 1 nm off the line at each.
pub(super) fn on_line(
    frame: &Frame,
    a: Point,
    b: Point,
    is_along: &mut bool,
) -> Option<(i64, f64, f64)> {
    let (p, q) = (frame.uv(xy(a)), frame.uv(xy(b)));
    if (p[1] - q[1]).abs() > 4.0 {
        return None;
    }
    *is_along = true;
    let line = frame.line_below(p[1] + frame.spacing / 2.0);
    let off = |v: f64| (v - frame.v(line)).abs();
    (off(p[1]) <= TOLERANCE_NM && off(q[1]) <= TOLERANCE_NM).then_some((line, p[0], q[0]))
}
