//! Marching squares: which edges of a grid the curves cross, and in which order.
//!
//! The grid gets a border of points that never melt, so that every curve closes.

use crate::field::Grid;

/// Which corners of a cell melt, by bit: lower left 1, lower right 2, upper right 4, upper left 8.
type Corners = u8;

/// The sides of a cell.
#[derive(Clone, Copy)]
enum Side {
    Bottom,
    Right,
    Top,
    Left,
}

use Side::{Bottom, Left, Right, Top};

/// A grid edge that a curve crosses.
#[derive(Clone, Copy, Debug)]
pub(super) enum CrossedEdge {
    /// Between two points of the grid: the one that melts, and the other.
    Inner([f64; 2], [f64; 2]),
    /// At a point of the grid that melts, beside the border.
    Border([f64; 2]),
}

/// The grid, seen as cells of melted and other points.
pub(super) struct Cells<'a> {
    grid: &'a Grid,
    /// Whether each point of it melts.
    is_melted: &'a [bool],
    /// Points along X, the border included.
    width: usize,
}

impl<'a> Cells<'a> {
    pub(super) fn new(grid: &'a Grid, is_melted: &'a [bool]) -> Self {
        Self { grid, is_melted, width: grid.columns() + 2 }
    }

    /// Whether a point melts, the border counted.
    fn melts(&self, column: usize, row: usize) -> bool {
        self.inner(column, row).is_some_and(|(i, j)| self.is_melted[j * self.grid.columns() + i])
    }

    /// Column and row within the grid; `None` for the border.
    fn inner(&self, column: usize, row: usize) -> Option<(usize, usize)> {
        let (i, j) = (column.checked_sub(1)?, row.checked_sub(1)?);
        (i < self.grid.columns() && j < self.grid.rows()).then_some((i, j))
    }

    /// Where a point lies, the border counted.
    fn place(&self, column: usize, row: usize) -> [f64; 2] {
        let pitch = self.grid.pitch_mm();
        self.grid.place(column, row).map(|c| c - pitch)
    }

    /// The number of a side of a cell: twice the number of its lower left end, one more if upright.
    fn number(&self, column: usize, row: usize, side: Side) -> usize {
        let point = |column: usize, row: usize| row * self.width + column;
        match side {
            Bottom => 2 * point(column, row),
            Top => 2 * point(column, row + 1),
            Left => 2 * point(column, row) + 1,
            Right => 2 * point(column + 1, row) + 1,
        }
    }

    /// An edge by its number.
    pub(super) fn edge(&self, number: usize) -> CrossedEdge {
        let (column, row) = (number / 2 % self.width, number / 2 / self.width);
        let ends = if number.is_multiple_of(2) {
            [(column, row), (column + 1, row)]
        } else {
            [(column, row), (column, row + 1)]
        };
        let [a, b] = ends;
        let [hot, cold] = if self.melts(a.0, a.1) { [a, b] } else { [b, a] };
        let place = self.place(hot.0, hot.1);
        match self.inner(cold.0, cold.1) {
            Some(_) => CrossedEdge::Inner(place, self.place(cold.0, cold.1)),
            None => CrossedEdge::Border(place),
        }
    }

    /// All curves, each as the numbers of the edges that it crosses, in order. `melts_at` decides about the
    /// centre of a cell that two curves cross.
    pub(super) fn curves(&self, melts_at: impl Fn([f64; 2]) -> bool) -> Vec<Vec<usize>> {
        let mut steps = self.steps(melts_at);
        steps.sort_unstable();
        let mut is_done = vec![false; steps.len()];
        let mut curves = Vec::new();
        for first in 0..steps.len() {
            let mut curve = Vec::new();
            let mut step = first;
            while !is_done[step] {
                is_done[step] = true;
                let (from, to) = steps[step];
                curve.push(from);
                // every edge that a curve enters a cell by, it has left another by
                step = steps.binary_search_by_key(&to, |step| step.0).unwrap_or(first);
            }
            if !curve.is_empty() {
                curves.push(curve);
            }
        }
        curves
    }

    /// The pieces of curves in all cells: from one edge to another.
    fn steps(&self, melts_at: impl Fn([f64; 2]) -> bool) -> Vec<(usize, usize)> {
        let mut steps = Vec::new();
        for row in 0..=self.grid.rows() {
            let [mut left_low, mut left_high] = [false; 2]; // the border
            for column in 0..=self.grid.columns() {
                let right_low = self.melts(column + 1, row);
                let right_high = self.melts(column + 1, row + 1);
                let corners = u8::from(left_low)
                    | u8::from(right_low) << 1
                    | u8::from(right_high) << 2
                    | u8::from(left_high) << 3;
                [left_low, left_high] = [right_low, right_high];
                if corners == 0 || corners == 15 {
                    continue;
                }
                let centre = || {
                    let half = 0.5 * self.grid.pitch_mm();
                    melts_at(self.place(column, row).map(|c| c + half))
                };
                let pieces = pieces(corners, centre);
                let number = |side| self.number(column, row, side);
                steps.extend(pieces.iter().map(|&(from, to)| (number(from), number(to))));
            }
        }
        steps
    }
}

/// How curves cross a cell, the melt on their left.
fn pieces(corners: Corners, is_centre_melted: impl Fn() -> bool) -> &'static [(Side, Side)] {
    match corners {
        1 => &[(Bottom, Left)],
        2 => &[(Right, Bottom)],
        3 => &[(Right, Left)],
        4 => &[(Top, Right)],
        5 if is_centre_melted() => &[(Bottom, Right), (Top, Left)],
        5 => &[(Bottom, Left), (Top, Right)],
        6 => &[(Top, Bottom)],
        7 => &[(Top, Left)],
        8 => &[(Left, Top)],
        9 => &[(Bottom, Top)],
        10 if is_centre_melted() => &[(Left, Bottom), (Right, Top)],
        10 => &[(Right, Bottom), (Left, Top)],
        11 => &[(Right, Top)],
        12 => &[(Left, Right)],
        13 => &[(Bottom, Right)],
        14 => &[(Left, Bottom)],
        _ => &[],
    }
}
