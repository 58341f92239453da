//! Things at places, to be found by nearness.

/// Things in square cells.
pub(crate) struct Grid<T> {
    cell_mm: f64,
    low: [f64; 2],
    size: [usize; 2],
    /// Where the things of each cell start in `things`, and the end of the last.
    starts: Vec<usize>,
    things: Vec<([f64; 2], T)>,
}

impl<T> Grid<T> {
    /// Puts things with their places, mm, in cells. Within a cell they keep their order.
    pub(crate) fn new(cell_mm: f64, mut things: Vec<([f64; 2], T)>) -> Self {
        let by = |axis: usize, pick: fn(f64, f64) -> f64, start: f64| {
            things.iter().map(|(at, _)| at[axis]).fold(start, pick)
        };
        let low = [0, 1].map(|axis| by(axis, f64::min, f64::INFINITY));
        let high = [0, 1].map(|axis| by(axis, f64::max, f64::NEG_INFINITY));
        let size = [0, 1].map(|axis| cells((high[axis] - low[axis]) / cell_mm) + 1);
        let mut grid = Self { cell_mm, low, size, starts: Vec::new(), things: Vec::new() };
        things.sort_by_key(|(at, _)| grid.number(grid.cell_of(*at)));
        let mut starts = vec![0; size[0] * size[1] + 1];
        for (at, _) in &things {
            starts[grid.number(grid.cell_of(*at)) + 1] += 1;
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        (grid.starts, grid.things) = (starts, things);
        grid
    }

    /// The cell of a place; the nearest one where it lies beyond all of them.
    pub(crate) fn cell_of(&self, at_mm: [f64; 2]) -> [usize; 2] {
        let cell = |axis: usize| cells((at_mm[axis] - self.low[axis]) / self.cell_mm);
        [0, 1].map(|axis| cell(axis).min(self.size[axis] - 1))
    }

    /// How many cells there are along the longer side.
    pub(crate) fn longest(&self) -> usize {
        self.size[0].max(self.size[1])
    }

    fn number(&self, [x, y]: [usize; 2]) -> usize {
        y * self.size[0] + x
    }

    /// What lies in cells that are just so many cells away, along one axis or both.
    pub(crate) fn ring(
        &self,
        [x, y]: [usize; 2],
        away: usize,
    ) -> impl Iterator<Item = &([f64; 2], T)> {
        let rows = y.saturating_sub(away)..=(y + away).min(self.size[1] - 1);
        let columns = x.saturating_sub(away)..=(x + away).min(self.size[0] - 1);
        rows.flat_map(move |row| columns.clone().map(move |column| [column, row]))
            .filter(move |[column, row]| column.abs_diff(x).max(row.abs_diff(y)) == away)
            .flat_map(|at| {
                let number = self.number(at);
                &self.things[self.starts[number]..self.starts[number + 1]]
            })
    }
}

/// Whole cells in a distance in cells, from 0 on.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a build space has few cells; saturates"
)]
fn cells(distance: f64) -> usize {
    distance.max(0.0) as usize
}
