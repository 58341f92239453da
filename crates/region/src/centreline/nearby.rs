//! Which edges and corners lie near a place: a grid over their boxes.

use base::Point;

/// Cells of the grid along its longer side at most.
const MOST_CELLS: f64 = 512.0;

/// Numbers of things by the cells of a grid that their boxes meet.
pub(super) struct Nearby {
    low: [f64; 2],
    cell: f64,
    columns: usize,
    rows: usize,
    /// Where the things of each cell begin; one more than there are cells.
    starts: Vec<u32>,
    things: Vec<u32>,
    /// The last question for which a thing was found.
    asked: Vec<u32>,
    question: u32,
}

impl Nearby {
    /// Of segments (points are segments without length), with cells of about a size in nm.
    pub(super) fn of(segments: &[[Point; 2]], size: f64) -> Self {
        let points = || segments.iter().flatten().map(|p| [f64::from(p.x), f64::from(p.y)]);
        let low = points().fold([f64::MAX; 2], |a, b| [a[0].min(b[0]), a[1].min(b[1])]);
        let high = points().fold([f64::MIN; 2], |a, b| [a[0].max(b[0]), a[1].max(b[1])]);
        let extent = [0, 1].map(|k| (high[k] - low[k]).max(0.0));
        let cell = size.max(extent[0].max(extent[1]) / MOST_CELLS).max(1.0);
        let [columns, rows] = extent.map(|length| index(length / cell) + 1);
        let mut grid = Self {
            low,
            cell,
            columns,
            rows,
            starts: vec![0; columns * rows + 1],
            things: Vec::new(),
            asked: vec![0; segments.len()],
            question: 0,
        };
        let mut met: Vec<(u32, u32)> = Vec::with_capacity(2 * segments.len());
        for (thing, segment) in (0..).zip(segments) {
            grid.cells_of(*segment, |cell| met.push((cell, thing)));
        }
        met.sort_unstable();
        met.dedup();
        for (cell, _) in &met {
            grid.starts[*cell as usize + 1] += 1;
        }
        for cell in 1..grid.starts.len() {
            grid.starts[cell] += grid.starts[cell - 1];
        }
        grid.things = met.into_iter().map(|(_, thing)| thing).collect();
        grid
    }

    /// The cells that a segment meets, and a few more.
    fn cells_of(&self, [a, b]: [Point; 2], mut take: impl FnMut(u32)) {
        let (a, b) = ([f64::from(a.x), f64::from(a.y)], [f64::from(b.x), f64::from(b.y)]);
        let pieces = 1 + index((b[0] - a[0]).hypot(b[1] - a[1]) / self.cell);
        let at = |piece: usize, k: usize| a[k] + (b[k] - a[k]) * piece as f64 / pieces as f64;
        for piece in 0..pieces {
            let ends = [0, 1].map(|k| [at(piece, k), at(piece + 1, k)]);
            let [columns, rows] =
                [0, 1].map(|k| ends[k][0].min(ends[k][1])..=ends[k][0].max(ends[k][1]));
            for cell in self.cells([*columns.start(), *rows.start()], [*columns.end(), *rows.end()])
            {
                take(cell);
            }
        }
    }

    fn cells(&self, low: [f64; 2], high: [f64; 2]) -> impl Iterator<Item = u32> + use<> {
        let [(first, last), (bottom, top)] =
            [(0, self.columns), (1, self.rows)].map(|(k, count)| {
                let of = |place: f64| index((place - self.low[k]) / self.cell).min(count - 1);
                (of(low[k]), of(high[k]))
            });
        let columns = self.columns;
        #[expect(clippy::cast_possible_truncation, reason = "at most 513²")]
        (bottom..=top).flat_map(move |row| (first..=last).map(move |c| (row * columns + c) as u32))
    }

    /// Calls `take` once for each thing whose cells meet a box.
    pub(super) fn each(&mut self, low: [f64; 2], high: [f64; 2], mut take: impl FnMut(u32)) {
        self.question += 1;
        for cell in self.cells(low, high) {
            let [from, to] = [0, 1].map(|next| self.starts[cell as usize + next] as usize);
            for &thing in &self.things[from..to] {
                let asked = &mut self.asked[thing as usize];
                if *asked != self.question {
                    *asked = self.question;
                    take(thing);
                }
            }
        }
    }
}

/// A whole number of cells; 0 for what is below or no number.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
fn index(count: f64) -> usize {
    count as usize
}
