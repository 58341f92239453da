//! Which mark is nearest to a point: a grid of cells over the layer, each with the marks that
//! cross it.

use base::Point;
use motion::{MoveKind, Timeline};

/// Most cells along one axis.
const MOST: usize = 512;

/// See the module. Marks are named by their index among the timeline's moves.
#[derive(Default)]
pub(crate) struct MarkGrid {
    low: [f64; 2],
    cell_nm: f64,
    columns: usize,
    rows: usize,
    /// For each cell, where its marks start in `marks`; one more entry at the end.
    starts: Vec<u32>,
    marks: Vec<u32>,
}

impl MarkGrid {
    /// O(marks + cells that they cross).
    pub(crate) fn new(timeline: &Timeline) -> Self {
        let moves = timeline.moves();
        let marks = || {
            let all = moves.iter().enumerate().filter(|(_, step)| step.kind == MoveKind::Mark);
            all.map(|(index, step)| (index, step.from, timeline.to(index)))
        };
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        let mut count = 0_usize;
        for (_, from, to) in marks() {
            count += 1;
            for p in [from, to] {
                let p = [f64::from(p.x), f64::from(p.y)];
                low = [low[0].min(p[0]), low[1].min(p[1])];
                high = [high[0].max(p[0]), high[1].max(p[1])];
            }
        }
        if count == 0 || u32::try_from(moves.len()).is_err() {
            return Self::default();
        }
        let extent = (high[0] - low[0]).max(high[1] - low[1]).max(1.0);
        // about as many cells as marks
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let along = ((count as f64).sqrt() as usize).clamp(1, MOST);
        let cell_nm = extent / along as f64;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "up to MOST")]
        let cells = |axis: usize| ((high[axis] - low[axis]) / cell_nm) as usize + 1;
        let mut grid = Self { low, cell_nm, columns: cells(0), rows: cells(1), ..Self::default() };

        let mut counts = vec![0_u32; grid.columns * grid.rows + 1];
        for (_, from, to) in marks() {
            grid.cross(from, to, |cell| counts[cell + 1] += 1);
        }
        for cell in 1..counts.len() {
            counts[cell] += counts[cell - 1];
        }
        grid.starts.clone_from(&counts);
        let mut sorted = vec![0; counts.last().map_or(0, |&all| all as usize)];
        let next = &mut counts; // where each cell's next mark goes
        for (index, from, to) in marks() {
            #[expect(clippy::cast_possible_truncation, reason = "checked above")]
            let index = index as u32;
            grid.cross(from, to, |cell| {
                sorted[next[cell] as usize] = index;
                next[cell] += 1;
            });
        }
        grid.marks = sorted;
        grid
    }

    /// Visits every cell that a segment may cross: row by row, the columns between where it
    /// enters and leaves the row.
    fn cross(&self, from: Point, to: Point, mut visit: impl FnMut(usize)) {
        let at = |p: Point| {
            let place = |c: i32, axis: usize| (f64::from(c) - self.low[axis]) / self.cell_nm;
            [place(p.x, 0), place(p.y, 1)]
        };
        let (mut a, mut b) = (at(from), at(to));
        if a[1] > b[1] {
            std::mem::swap(&mut a, &mut b);
        }
        let column = |x: f64| clamped(x, self.columns);
        let rise = b[1] - a[1];
        for row in clamped(a[1], self.rows)..=clamped(b[1], self.rows) {
            let x_at = |y: f64| {
                let y = y.clamp(a[1], b[1]);
                if rise > 0.0 { a[0] + (y - a[1]) / rise * (b[0] - a[0]) } else { b[0] }
            };
            let (mut x0, mut x1) = (x_at(row as f64), x_at(row as f64 + 1.0));
            if rise <= 0.0 {
                x0 = a[0];
            }
            if x0 > x1 {
                std::mem::swap(&mut x0, &mut x1);
            }
            for column in column(x0)..=column(x1) {
                visit(row * self.columns + column);
            }
        }
    }

    /// Marks in the cells within `reach_nm` of a point; some may be named more than once.
    pub(crate) fn around(&self, at_nm: [f64; 2], reach_nm: f64) -> impl Iterator<Item = usize> {
        let place = |axis: usize, by: f64, count: usize| {
            clamped((at_nm[axis] + by - self.low[axis]) / self.cell_nm, count)
        };
        let rows = if self.marks.is_empty() {
            0..0
        } else {
            place(1, -reach_nm, self.rows)..place(1, reach_nm, self.rows) + 1
        };
        let columns = place(0, -reach_nm, self.columns)..=place(0, reach_nm, self.columns);
        rows.flat_map(move |row| {
            let cell = |column: usize| row * self.columns + column;
            let from = self.starts[cell(*columns.start())] as usize;
            let to = self.starts[cell(*columns.end()) + 1] as usize;
            self.marks[from..to].iter().map(|&index| index as usize)
        })
    }

    /// The mark nearest to a point, among those within `reach_nm` that `wanted` lets through.
    pub(crate) fn nearest(
        &self,
        timeline: &Timeline,
        at_nm: [f64; 2],
        reach_nm: f64,
        wanted: impl Fn(usize) -> bool,
    ) -> Option<usize> {
        let mut best: Option<(f64, usize)> = None;
        for index in self.around(at_nm, reach_nm) {
            let from = timeline.moves()[index].from;
            let distance = distance(at_nm, from, timeline.to(index));
            let better = best.is_none_or(|(least, _)| distance < least);
            if distance <= reach_nm && better && wanted(index) {
                best = Some((distance, index));
            }
        }
        best.map(|(_, index)| index)
    }
}

/// The cell of a place, of so many.
fn clamped(place: f64, count: usize) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    let cell = place.clamp(0.0, count.saturating_sub(1) as f64) as usize;
    cell
}

/// Distance of a point from a segment, nm.
fn distance(at: [f64; 2], a: Point, b: Point) -> f64 {
    let (a, b) = ([f64::from(a.x), f64::from(a.y)], [f64::from(b.x), f64::from(b.y)]);
    let d = [b[0] - a[0], b[1] - a[1]];
    let squared = d[0] * d[0] + d[1] * d[1];
    let t = if squared > 0.0 {
        (((at[0] - a[0]) * d[0] + (at[1] - a[1]) * d[1]) / squared).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (at[0] - a[0] - t * d[0]).hypot(at[1] - a[1] - t * d[1])
}

#[cfg(test)]
mod tests {
    use super::*;
    use scan_path::{Block, ExposureRow, Header, Layer, Paths, RegionKind};

    fn header() -> Header {
        let row = ExposureRow { power_w: 10.0, speed_mm_s: 1000.0, ..ExposureRow::default() };
        Header { jump_speed_mm_s: 10_000.0, exposures: vec![row], ..Header::default() }
    }

    fn timeline(segments: Vec<[Point; 2]>) -> Timeline {
        let (kind, region) = (scan_path::ExposureKind::Hatch, RegionKind::Core);
        let paths = Paths::Segments(segments);
        let block = Block { placement: 0, exposure: 0, kind, region, paths };
        Timeline::new(&Layer { index: 0, blocks: vec![block] }, &header(), None)
    }

    /// Every point of a lattice finds the mark that a look at all marks finds.
    #[test]
    fn the_grid_finds_what_a_look_at_every_mark_finds() {
        let mut state = 7_u32;
        let mut random = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            i32::try_from(state >> 8).expect("24 bits") % 40_000_000 - 20_000_000
        };
        let mut segments: Vec<_> = (0..300)
            .map(|_| {
                let (a, b) = (Point::new(random(), random()), Point::new(random(), random()));
                [a, Point::new(a.x + b.x / 10, a.y + b.y / 10)]
            })
            .collect();
        segments.push([Point::new(-20_000_000, 5), Point::new(20_000_000, 5)]); // along a row
        segments.push([Point::new(5, -20_000_000), Point::new(5, 20_000_000)]);
        segments.push([Point::new(9, 9), Point::new(9, 9)]);
        let timeline = timeline(segments);
        let grid = MarkGrid::new(&timeline);
        let is_mark = |index: usize| timeline.moves()[index].kind == MoveKind::Mark;
        let reach = 2e6;
        for x in -22..=22 {
            for y in -22..=22 {
                let at = [f64::from(x) * 1e6 + 3.0, f64::from(y) * 1e6 + 1.0];
                let distance_of =
                    |index: usize| distance(at, timeline.moves()[index].from, timeline.to(index));
                let all = (0..timeline.moves().len()).filter(|&index| is_mark(index));
                let least = all.map(distance_of).fold(f64::INFINITY, f64::min);
                let found = grid.nearest(&timeline, at, reach, |_| true).map(distance_of);
                if least <= reach {
                    assert_eq!(found, Some(least), "{at:?}");
                } else {
                    assert_eq!(found, None, "{at:?}");
                }
            }
        }
    }

    #[test]
    fn nothing_is_near_where_there_is_nothing() {
        let timeline = Timeline::default();
        let grid = MarkGrid::new(&timeline);
        assert_eq!(grid.nearest(&timeline, [0.0; 2], 1e9, |_| true), None);
    }
}
