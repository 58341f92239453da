//! Which segments come near a place: lists by square cells.

/// From one end to the other, mm.
pub(crate) type Segment = [[f64; 2]; 2];

/// Cells at most; beyond that they are made larger.
const MAX_CELLS: f64 = 4e6;

/// For each cell of an even grid, the segments that come within reach of it, by rising number.
#[derive(Clone, Debug)]
pub(crate) struct Buckets {
    origin: [f64; 2],
    size: f64,
    columns: usize,
    rows: usize,
    /// Where each cell's list starts in `numbers`; one more at the end.
    starts: Vec<usize>,
    numbers: Vec<u32>,
    bounds: [[f64; 2]; 2],
}

impl Buckets {
    /// Lists of finite segments in cells no smaller than given.
    pub(crate) fn new(segments: &[Segment], reach: f64, least_size: f64) -> Self {
        let bounds = bounds_of(segments, reach);
        let [lo, hi] = bounds;
        let [width, height] = [hi[0] - lo[0], hi[1] - lo[1]];
        let size =
            least_size.max((width * height / MAX_CELLS).sqrt()).max(width.max(height) / MAX_CELLS);
        let columns = whole(width / size) + 1;
        let rows = whole(height / size) + 1;
        let starts = vec![0; columns * rows + 1];
        let mut index =
            Self { origin: lo, size, columns, rows, starts, numbers: Vec::new(), bounds };
        index.fill(segments, reach);
        index
    }

    /// Counts the entries of each cell, then enters them.
    fn fill(&mut self, segments: &[Segment], reach: f64) {
        let mut ends = vec![0_usize; self.starts.len()];
        for segment in segments {
            self.visit(segment, reach, |cell| ends[cell + 1] += 1);
        }
        for cell in 1..ends.len() {
            ends[cell] += ends[cell - 1];
        }
        self.starts.clone_from(&ends);
        let mut numbers = vec![0; ends.last().copied().unwrap_or(0)];
        for (number, segment) in segments.iter().enumerate() {
            #[expect(clippy::cast_possible_truncation, reason = "4 G segments exceed any memory")]
            self.visit(segment, reach, |cell| {
                numbers[ends[cell]] = number as u32;
                ends[cell] += 1;
            });
        }
        self.numbers = numbers;
    }

    /// Calls `enter` for every cell that lies within reach of a segment, and some more beside it.
    fn visit(&self, &[a, b]: &Segment, reach: f64, mut enter: impl FnMut(usize)) {
        let [first, last] = self.span(1, a[1].min(b[1]) - reach, a[1].max(b[1]) + reach);
        for row in first..=last {
            // where the segment lies within reach of the row
            let low = self.origin[1] + row as f64 * self.size - reach;
            let high = low + self.size + 2.0 * reach;
            let at = |y: f64| {
                let t = ((y - a[1]) / (b[1] - a[1])).clamp(0.0, 1.0);
                a[0] + t * (b[0] - a[0])
            };
            let is_level = (b[1] - a[1]).abs() < f64::MIN_POSITIVE;
            let [x0, x1] = if is_level { [a[0], b[0]] } else { [at(low), at(high)] };
            let [left, right] = self.span(0, x0.min(x1) - reach, x0.max(x1) + reach);
            for column in left..=right {
                enter(row * self.columns + column);
            }
        }
    }

    /// The segments that may count at a place.
    pub(crate) fn at(&self, place: [f64; 2]) -> &[u32] {
        let [lo, hi] = self.bounds;
        let is_within = (0..2).all(|axis| place[axis] >= lo[axis] && place[axis] <= hi[axis]);
        if !is_within {
            return &[];
        }
        self.in_cell(self.cell_of(place))
    }

    /// The segments that may count somewhere in a box, by rising number.
    pub(crate) fn within(&self, lo: [f64; 2], hi: [f64; 2]) -> Vec<u32> {
        let [left, right] = self.span(0, lo[0], hi[0]);
        let [first, last] = self.span(1, lo[1], hi[1]);
        let mut numbers = Vec::new();
        for row in first..=last {
            for column in left..=right {
                numbers.extend_from_slice(self.list(row * self.columns + column));
            }
        }
        numbers.sort_unstable();
        numbers.dedup();
        numbers
    }

    /// All segments with what lies within reach of them.
    pub(crate) fn bounds(&self) -> [[f64; 2]; 2] {
        self.bounds
    }

    /// Cells along X and Y.
    pub(crate) fn counts(&self) -> [usize; 2] {
        [self.columns, self.rows]
    }

    /// Length of a cell's side.
    pub(crate) fn size(&self) -> f64 {
        self.size
    }

    /// Column and row of the cell that a place lies in, or of the nearest one.
    pub(crate) fn cell_of(&self, place: [f64; 2]) -> [usize; 2] {
        [0, 1].map(|axis| self.span(axis, place[axis], place[axis])[0])
    }

    /// What is listed in a cell.
    pub(crate) fn in_cell(&self, [column, row]: [usize; 2]) -> &[u32] {
        self.list(row * self.columns + column)
    }

    fn list(&self, cell: usize) -> &[u32] {
        &self.numbers[self.starts[cell]..self.starts[cell + 1]]
    }

    /// First and last column (axis 0) or row (axis 1) of an interval, kept within the grid.
    fn span(&self, axis: usize, low: f64, high: f64) -> [usize; 2] {
        let count = [self.columns, self.rows][axis];
        [low, high].map(|c| whole((c - self.origin[axis]) / self.size).min(count - 1))
    }
}

/// The box around all segments, widened by what they reach.
fn bounds_of(segments: &[Segment], reach: f64) -> [[f64; 2]; 2] {
    let mut ends = segments.iter().flatten().copied();
    let Some(first) = ends.next() else { return [[0.0; 2]; 2] };
    let [lo, hi] = ends.fold([first; 2], |[lo, hi], p| {
        [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
    });
    [lo.map(|c| c - reach), hi.map(|c| c + reach)]
}

/// The whole number below; 0 for what is negative or no number.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "`as` saturates")]
pub(crate) fn whole(x: f64) -> usize {
    x as usize
}
