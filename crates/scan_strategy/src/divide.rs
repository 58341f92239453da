//! Lines cut into pieces: whole, by stripes, by cells.

use crate::frame::Frame;
use crate::scanline::HatchScratch;
use job::recipe::CellOrder;

/// A stretch of one hatch line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Piece {
    /// The stripe it belongs to; 0 without stripes. Pieces of different stripes are not
    /// neighbours.
    pub(crate) stripe: i32,
    /// Line number.
    pub(crate) line: i32,
    /// Where it starts and ends along the line, nm; `from <= to`.
    pub(crate) from: f64,
    pub(crate) to: f64,
}

/// Bands of equal width side by side, each reaching into its neighbours: band `i` spans
/// `i · pitch − overlap/2 … (i + 1) · pitch + overlap/2`, which is `pitch + overlap` wide.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bands {
    pitch: f64,
    overlap: f64,
}

/// A square of the cell grid: column along the scan direction, row across it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Cell {
    pub(crate) row: i32,
    pub(crate) column: i32,
}

impl Cell {
    /// Whether the cell is hatched along the scan angle; its edge neighbours are not.
    pub(crate) fn is_along(self) -> bool {
        (self.row ^ self.column) & 1 == 0
    }

    /// Whether two cells share an edge.
    pub(crate) fn is_beside(self, other: Self) -> bool {
        self.row.abs_diff(other.row) + self.column.abs_diff(other.column) == 1
    }
}

impl Bands {
    /// Narrower than this and there would be more bands than marks worth making, nm.
    pub(crate) const MIN_PITCH_NM: f64 = 10_000.0;

    /// Bands `width` wide, nm. `None` if they would overlap too much to get on.
    pub(crate) fn new(width: f64, overlap: f64) -> Option<Self> {
        let pitch = width - overlap;
        let usable = overlap >= 0.0 && pitch >= Self::MIN_PITCH_NM && width.is_finite();
        usable.then_some(Self { pitch, overlap })
    }

    /// The bands that share a length with `from … to`.
    fn across(self, from: f64, to: f64) -> impl Iterator<Item = i32> {
        let first = ((from - self.overlap / 2.0) / self.pitch).floor();
        let last = ((to + self.overlap / 2.0) / self.pitch).ceil() - 1.0;
        #[expect(clippy::cast_possible_truncation, reason = "the grid limit over the least pitch")]
        let range = first as i32..=last as i32;
        range
    }

    /// The bands that hold `at`; the start of a band belongs to it, its end does not.
    fn around(self, at: f64) -> impl Iterator<Item = i32> {
        let first = ((at - self.overlap / 2.0) / self.pitch).floor();
        let last = ((at + self.overlap / 2.0) / self.pitch).floor();
        #[expect(clippy::cast_possible_truncation, reason = "the grid limit over the least pitch")]
        let range = first as i32..=last as i32;
        range
    }

    /// The part of `from … to` inside band `i`; empty or reversed if there is none.
    fn cut(self, i: i32, from: f64, to: f64) -> (f64, f64) {
        let start = f64::from(i) * self.pitch - self.overlap / 2.0;
        let end = f64::from(i + 1) * self.pitch + self.overlap / 2.0;
        (from.max(start), to.min(end))
    }
}

/// Whole lines, in rising order of line and place.
pub(crate) fn whole(scan: &HatchScratch, min_length: f64) -> Vec<Piece> {
    intervals(scan).filter(|piece| piece.to - piece.from >= min_length).collect()
}

/// Lines cut by bands at right angles to them, in rising order of band, line and place.
pub(crate) fn stripes(scan: &HatchScratch, bands: Bands, min_length: f64) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for piece in intervals(scan) {
        for stripe in bands.across(piece.from, piece.to) {
            let (from, to) = bands.cut(stripe, piece.from, piece.to);
            if to - from >= min_length && to > from {
                pieces.push(Piece { stripe, line: piece.line, from, to });
            }
        }
    }
    pieces.sort_by_key(|piece| (piece.stripe, piece.line)); // stable: places stay in order
    pieces
}

/// Lines cut by a square grid. Lines of `along`, at the scan angle, go to every other cell, those
/// of `across`, a quarter turn on, to the rest, like a chess board. In rising order of cell, line
/// and place.
pub(crate) fn cells(
    (along, along_frame): (&HatchScratch, &Frame),
    (across, across_frame): (&HatchScratch, &Frame),
    bands: Bands,
    min_length: f64,
) -> Vec<(Cell, Piece)> {
    let mut pieces = Vec::new();
    for (scan, frame, is_along) in [(along, along_frame, true), (across, across_frame, false)] {
        for piece in intervals(scan) {
            let v = frame.line_v(piece.line);
            for beside in bands.around(v) {
                for ahead in bands.across(piece.from, piece.to) {
                    // a quarter turn takes (u, v) to (v, −u)
                    let cell = if is_along {
                        Cell { row: beside, column: ahead }
                    } else {
                        Cell { row: ahead, column: -1 - beside }
                    };
                    let (from, to) = bands.cut(ahead, piece.from, piece.to);
                    if cell.is_along() == is_along && to - from >= min_length && to > from {
                        pieces.push((cell, Piece { stripe: 0, line: piece.line, from, to }));
                    }
                }
            }
        }
    }
    pieces.sort_by_key(|(cell, piece)| (*cell, piece.line));
    pieces
}

/// The order in which cells are run, as indices into `cells`, which must rise and hold no cell
/// twice.
///
/// Row by row goes there and back. Scattered takes the cells in four passes, each over every
/// other column of every other row, so that edge neighbours are never in the same pass and lie
/// about a quarter of the time or more apart. The passes follow each other so, and each runs from
/// the end, that as few edge neighbours as possible meet where one pass ends and the next starts.
pub(crate) fn cell_sequence(cells: &[Cell], order: CellOrder) -> Vec<usize> {
    let there_and_back = |wanted: &dyn Fn(Cell) -> bool| -> Vec<usize> {
        let mut sequence: Vec<usize> = Vec::new();
        let mut start = 0;
        let mut is_back = false;
        while start < cells.len() {
            let row = cells[start].row;
            let end = start + cells[start..].partition_point(|cell| cell.row <= row);
            let before = sequence.len();
            sequence.extend((start..end).filter(|&i| wanted(cells[i])));
            if sequence.len() > before {
                if is_back {
                    sequence[before..].reverse();
                }
                is_back = !is_back;
            }
            start = end;
        }
        sequence
    };
    match order {
        CellOrder::RowByRow => there_and_back(&|_| true),
        CellOrder::Scattered => {
            let passes: Vec<Vec<usize>> = [(0, 0), (1, 1), (1, 0), (0, 1)]
                .into_iter()
                .map(|(row, column)| {
                    there_and_back(&|c| (c.row & 1, c.column & 1) == (row, column))
                })
                .filter(|pass| !pass.is_empty())
                .collect();
            fewest_meetings(cells, &passes)
        }
    }
}

/// Tries orders and directions of the passes, at most 4! · 2⁴, until none meet.
fn fewest_meetings(cells: &[Cell], passes: &[Vec<usize>]) -> Vec<usize> {
    let n = passes.len();
    let mut best: Option<(usize, Vec<(usize, bool)>)> = None;
    for code in 0..4usize.pow(4) {
        let picks: Vec<usize> = (0..n).map(|i| (code >> (2 * i)) & 3).collect();
        if (0..n).any(|i| picks[i] >= n || picks[..i].contains(&picks[i])) || code >> (2 * n) != 0 {
            continue;
        }
        for reversed in 0..1usize << n {
            let plan: Vec<_> =
                picks.iter().enumerate().map(|(i, &pass)| (pass, reversed >> i & 1 == 1)).collect();
            let meets = |(a, a_reversed): (usize, bool), (b, b_reversed): (usize, bool)| {
                let last = if a_reversed { passes[a].first() } else { passes[a].last() };
                let first = if b_reversed { passes[b].last() } else { passes[b].first() };
                last.zip(first).is_some_and(|(&l, &f)| cells[l].is_beside(cells[f]))
            };
            let count = plan.windows(2).filter(|w| meets(w[0], w[1])).count();
            if best.as_ref().is_none_or(|(least, _)| count < *least) {
                best = Some((count, plan));
            }
        }
        if best.as_ref().is_some_and(|(least, _)| *least == 0) {
            break;
        }
    }
    let mut sequence = Vec::with_capacity(cells.len());
    for (pass, reversed) in best.map(|(_, plan)| plan).unwrap_or_default() {
        if reversed {
            sequence.extend(passes[pass].iter().rev());
        } else {
            sequence.extend(&passes[pass]);
        }
    }
    sequence
}

fn intervals(scan: &HatchScratch) -> impl Iterator<Item = Piece> {
    scan.lines().flat_map(|(line, crossings)| {
        let inside = crossings.chunks_exact(2);
        inside.map(move |pair| Piece { stripe: 0, line, from: pair[0], to: pair[1] })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(rows: i32, columns: i32) -> Vec<Cell> {
        let row = |row| (0..columns).map(move |column| Cell { row, column });
        (-1..rows - 1).flat_map(row).collect()
    }

    fn meetings(cells: &[Cell], sequence: &[usize]) -> usize {
        sequence.windows(2).filter(|w| cells[w[0]].is_beside(cells[w[1]])).count()
    }

    /// The fewest meetings of any order, by full search.
    fn fewest(cells: &[Cell], last: Option<usize>, remaining: u32) -> usize {
        if remaining == 0 {
            return 0;
        }
        let next = (0..cells.len()).filter(|i| remaining >> i & 1 == 1).map(|i| {
            let meets = last.is_some_and(|l| cells[l].is_beside(cells[i]));
            usize::from(meets) + fewest(cells, Some(i), remaining & !(1 << i))
        });
        next.min().unwrap_or(0)
    }

    #[test]
    fn scattered_cells_never_follow_an_edge_neighbour_when_it_can_be_avoided() {
        for (rows, columns) in
            [(1, 1), (1, 2), (1, 3), (1, 4), (1, 5), (2, 2), (2, 3), (1, 7), (2, 4)]
        {
            let cells = grid(rows, columns);
            let sequence = cell_sequence(&cells, CellOrder::Scattered);
            let least = fewest(&cells, None, (1 << cells.len()) - 1);
            assert_eq!(meetings(&cells, &sequence), least, "{rows} × {columns}: {sequence:?}");
        }
        for (rows, columns) in [(3, 3), (4, 4), (2, 9), (1, 12), (7, 5), (20, 30)] {
            let cells = grid(rows, columns);
            let sequence = cell_sequence(&cells, CellOrder::Scattered);
            assert_eq!(meetings(&cells, &sequence), 0, "{rows} × {columns}");
        }
    }

    #[test]
    fn scattered_neighbours_are_far_apart_in_time_and_every_cell_comes_once() {
        let cells = grid(20, 30);
        for order in [CellOrder::Scattered, CellOrder::RowByRow] {
            let sequence = cell_sequence(&cells, order);
            let mut when = vec![usize::MAX; cells.len()];
            for (time, &i) in sequence.iter().enumerate() {
                assert_eq!(std::mem::replace(&mut when[i], time), usize::MAX);
            }
            assert!(when.iter().all(|&t| t != usize::MAX));
            if order == CellOrder::Scattered {
                for i in 0..cells.len() {
                    for j in 0..i {
                        if cells[i].is_beside(cells[j]) {
                            let apart = when[i].abs_diff(when[j]);
                            assert!(apart >= cells.len() / 5, "{apart} of {}", cells.len());
                        }
                    }
                }
            } else {
                assert_eq!(meetings(&cells, &sequence), cells.len() - 1);
            }
        }
    }

    #[test]
    fn bands_cover_everything_and_overlap_as_told() {
        let bands = Bands::new(5_000_000.0, 200_000.0).unwrap();
        let (from, to) = (-17_300_000.0, 23_450_000.0);
        let cuts: Vec<_> = bands.across(from, to).map(|i| bands.cut(i, from, to)).collect();
        assert!((cuts[0].0 - from).abs() < 1e-6 && (cuts[cuts.len() - 1].1 - to).abs() < 1e-6);
        for pair in cuts.windows(2) {
            assert!((pair[0].1 - pair[1].0 - 200_000.0).abs() < 1e-6);
        }
        assert!(cuts.iter().all(|(a, b)| b - a <= 5_000_000.0 + 1e-6 && b > a));
        for (width, overlap) in
            [(1.0, 1.0), (5e6, 5e6), (5e6, -1.0), (f64::NAN, 0.0), (f64::INFINITY, 0.0)]
        {
            assert!(Bands::new(width, overlap).is_none());
        }
    }
}
