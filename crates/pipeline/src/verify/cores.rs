//! In which squares of a lattice discs of a radius have their centres, as far as it was asked.

use super::grid::{Xy, length};

/// A byte each, for every radius and thread: half a metre at a radius of a quarter of a millimetre.
const MOST_SQUARES: usize = 16_000_000;

/// Squares of half the radius, each with what is known of it.
pub(super) struct Cores {
    pub(super) radius: f64,
    low: Xy,
    columns: usize,
    rows: usize,
    /// Whether a disc has its centre in the square; `None` if it was not asked yet.
    pub(super) known: Vec<Option<bool>>,
}

impl Cores {
    /// Squares over a box, for discs of a radius, nm; none if there would be too many to keep.
    pub(super) fn new((low, high): (Xy, Xy), radius: f64) -> Self {
        let mut cores = Self { radius, low, columns: 0, rows: 0, known: Vec::new() };
        let [last_column, last_row] = [0, 1].map(|axis| cores.index(high[axis], axis));
        let (columns, rows) = (last_column + 1, last_row + 1);
        if columns * rows <= MOST_SQUARES {
            (cores.columns, cores.rows) = (columns, rows);
            cores.known = vec![None; columns * rows];
        }
        cores
    }

    /// Whether there are none.
    pub(super) fn is_empty(&self) -> bool {
        self.known.is_empty()
    }

    /// Edge of a square, nm.
    fn edge(&self) -> f64 {
        self.radius / 2.0
    }

    /// Half the edge of a square, nm.
    pub(super) fn half(&self) -> f64 {
        self.edge() / 2.0
    }

    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    fn index(&self, at: f64, axis: usize) -> usize {
        ((at - self.low[axis]) / self.edge()).clamp(0.0, 1e6) as usize
    }

    /// The middle of a square.
    pub(super) fn middle(&self, square: usize) -> Xy {
        let (row, column) = (square / self.columns, square % self.columns);
        [
            self.low[0] + (column as f64 + 0.5) * self.edge(),
            self.low[1] + (row as f64 + 0.5) * self.edge(),
        ]
    }

    /// Adds the squares that the disc around a point meets.
    pub(super) fn met_by_disc(&self, p: Xy, squares: &mut Vec<usize>) {
        let at = |axis: usize, by: f64| self.index(p[axis] + by, axis);
        let reach = self.radius;
        let columns = at(0, -reach)..=at(0, reach).min(self.columns - 1);
        for row in at(1, -reach)..=at(1, reach).min(self.rows - 1) {
            for column in columns.clone() {
                let square = row * self.columns + column;
                let middle = self.middle(square);
                let beyond = [0, 1].map(|k| ((middle[k] - p[k]).abs() - self.half()).max(0.0));
                if length(beyond) <= reach {
                    squares.push(square);
                }
            }
        }
    }
}
