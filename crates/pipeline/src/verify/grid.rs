//! Segments sorted into square cells, to find those near a point.

/// A point, nm.
pub(super) type Xy = [f64; 2];

/// Numbers of segments by the cells that they pass through.
#[derive(Debug, Default)]
pub(super) struct Grid {
    low: Xy,
    cell: f64,
    columns: usize,
    rows: usize,
    /// Where the numbers of each cell start in `items`, and where the last ends.
    starts: Vec<u32>,
    items: Vec<u32>,
}

impl Grid {
    /// Sorts segments; cells are `cell` nm wide, or wider where there are few segments.
    pub(super) fn new(segments: &[(Xy, Xy)], cell: f64) -> Self {
        let Some(first) = segments.first() else { return Self::default() };
        let (mut low, mut high) = (first.0, first.0);
        for p in segments.iter().flat_map(|(a, b)| [a, b]) {
            for axis in 0..2 {
                low[axis] = low[axis].min(p[axis]);
                high[axis] = high[axis].max(p[axis]);
            }
        }
        let size = [high[0] - low[0], high[1] - low[1]];
        let most = 8.0 * segments.len() as f64 + 64.0;
        let cell = cell.max(1.0).max((size[0] * size[1] / most).sqrt());
        let cell = cell.max((size[0] + size[1]) / most);
        let mut grid = Self { low, cell, ..Self::default() };
        (grid.columns, grid.rows) = (grid.index(size[0]) + 1, grid.index(size[1]) + 1);
        grid.starts = vec![0; grid.columns * grid.rows + 1];
        for segment in segments {
            grid.cells_of(*segment, |starts, cell| starts[cell + 1] += 1);
        }
        for cell in 1..grid.starts.len() {
            grid.starts[cell] += grid.starts[cell - 1];
        }
        let mut next = grid.starts.clone();
        let mut items = vec![0; *grid.starts.last().unwrap_or(&0) as usize];
        for (number, segment) in (0_u32..).zip(segments) {
            grid.cells_of(*segment, |_, cell| {
                items[next[cell] as usize] = number;
                next[cell] += 1;
            });
        }
        grid.items = items;
        grid
    }

    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    fn index(&self, from_low: f64) -> usize {
        (from_low / self.cell).clamp(0.0, 1e9) as usize
    }

    /// Visits the cells that a segment passes through, row by row.
    fn cells_of(&mut self, (a, b): (Xy, Xy), mut visit: impl FnMut(&mut [u32], usize)) {
        let (a, b) = if a[1] <= b[1] { (a, b) } else { (b, a) };
        let last = self.rows - 1;
        let rows =
            self.index(a[1] - self.low[1]).min(last)..=self.index(b[1] - self.low[1]).min(last);
        let slope = if b[1] > a[1] { (b[0] - a[0]) / (b[1] - a[1]) } else { 0.0 };
        let is_one = rows.start() == rows.end();
        for row in rows {
            let y = self.low[1] + row as f64 * self.cell;
            let at = |y: f64| a[0] + (y.clamp(a[1], b[1]) - a[1]) * slope;
            let (p, q) = if is_one { (a[0], b[0]) } else { (at(y), at(y + self.cell)) };
            // a nanometre to spare for what was rounded
            let first = self.index(p.min(q) - 1.0 - self.low[0]).min(self.columns - 1);
            let end = self.index(p.max(q) + 1.0 - self.low[0]).min(self.columns - 1);
            for column in first..=end {
                visit(&mut self.starts, row * self.columns + column);
            }
        }
    }

    /// Visits the segments whose cells lie within `reach` of a point along X and Y; some come more
    /// than once.
    #[inline]
    pub(super) fn near(&self, p: Xy, reach: f64, mut visit: impl FnMut(usize)) {
        if self.columns == 0 {
            return;
        }
        let [x, y] = [p[0] - self.low[0], p[1] - self.low[1]];
        if x < -reach || y < -reach {
            return;
        }
        let columns = self.index(x - reach)..=self.index(x + reach).min(self.columns - 1);
        for row in self.index(y - reach)..=self.index(y + reach).min(self.rows - 1) {
            if columns.is_empty() {
                return;
            }
            let from = self.starts[row * self.columns + columns.start()] as usize;
            let to = self.starts[row * self.columns + columns.end() + 1] as usize;
            self.items[from..to].iter().for_each(|&number| visit(number as usize));
        }
    }
}

/// The distance from a point to a segment, and where along it, 0 to 1, the nearest point lies.
#[inline]
pub(super) fn distance(p: Xy, (a, b): (Xy, Xy)) -> (f64, f64) {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let (px, py) = (p[0] - a[0], p[1] - a[1]);
    let square = dx * dx + dy * dy;
    let t = if square > 0.0 { ((px * dx + py * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
    (length([px - t * dx, py - t * dy]), t)
}

/// Length of a vector; nothing here comes near to where squares overflow.
#[inline]
pub(super) fn length([x, y]: Xy) -> f64 {
    (x * x + y * y).sqrt()
}
