//! A lattice of test points with one bit each.
//!
//! Verification asks of every test point how far it is from marks and boundaries. Distances are
//! exact (a point is inside a stadium or it is not); only the choice of points is a sample. This
//! shares no code with the region algebra that made the vectors.

use base::Point;
use region::Region;

/// Where the test points are: `width × height` points, `pitch_nm` apart.
#[derive(Clone, Debug)]
pub(super) struct Lattice {
    origin: Point,
    pitch_nm: f64,
    width: usize,
    height: usize,
}

/// One bit for each lattice point, row by row.
#[derive(Clone, Debug)]
pub(super) struct Bits {
    words: Vec<u64>,
    words_per_row: usize,
}

/// Above this many points the pitch is widened, so that memory stays bounded: 64 Mbit is 8 MB.
const MAX_POINTS: f64 = 64e6;

impl Lattice {
    /// A lattice that covers `bounds` with at most [`MAX_POINTS`] points, at `pitch_nm` or wider.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "at most MAX_POINTS along either side, never negative"
    )]
    pub(super) fn new((low, high): (Point, Point), pitch_nm: f64) -> Self {
        let size = |a: i32, b: i32| f64::from(b) - f64::from(a);
        let (dx, dy) = (size(low.x, high.x), size(low.y, high.y));
        let pitch_nm = pitch_nm.max(1.0).max((dx * dy / MAX_POINTS).sqrt()).max((dx + dy) / 1e6);
        let count = |d: f64| (d / pitch_nm) as usize + 1;
        Self { origin: low, pitch_nm, width: count(dx), height: count(dy) }
    }

    pub(super) fn pitch_nm(&self) -> f64 {
        self.pitch_nm
    }

    pub(super) fn empty(&self) -> Bits {
        let words_per_row = self.width.div_ceil(64);
        Bits { words: vec![0; words_per_row * self.height], words_per_row }
    }

    /// Position of a lattice point, nm.
    pub(super) fn position(&self, column: usize, row: usize) -> [f64; 2] {
        [
            f64::from(self.origin.x) + column as f64 * self.pitch_nm,
            f64::from(self.origin.y) + row as f64 * self.pitch_nm,
        ]
    }

    /// Sets the bits of one row whose x lies in `from..=to`, nm.
    fn set_span(&self, bits: &mut Bits, row: usize, from: f64, to: f64) {
        let first = ((from - f64::from(self.origin.x)) / self.pitch_nm).ceil().max(0.0);
        let last = ((to - f64::from(self.origin.x)) / self.pitch_nm).floor();
        if last < first || first >= self.width as f64 {
            return;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to the lattice"
        )]
        let (first, last) = (first as usize, (last as usize).min(self.width - 1));
        let row = &mut bits.words[row * bits.words_per_row..][..bits.words_per_row];
        let (a, b) = (first / 64, last / 64);
        let from_mask = u64::MAX << (first % 64);
        let to_mask = u64::MAX >> (63 - last % 64);
        if a == b {
            row[a] |= from_mask & to_mask;
        } else {
            row[a] |= from_mask;
            row[a + 1..b].fill(u64::MAX);
            row[b] |= to_mask;
        }
    }

    /// Rows whose y lies in `low..=high`, nm.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to the lattice"
    )]
    fn rows(&self, low: f64, high: f64) -> std::ops::Range<usize> {
        let first = ((low - f64::from(self.origin.y)) / self.pitch_nm).ceil().max(0.0);
        let last = ((high - f64::from(self.origin.y)) / self.pitch_nm).floor();
        if last < first { 0..0 } else { (first as usize)..((last as usize + 1).min(self.height)) }
    }

    /// The points inside a region (even–odd along each row).
    pub(super) fn inside(&self, region: &Region) -> Bits {
        let mut bits = self.empty();
        let mut crossings: Vec<Vec<f64>> = vec![Vec::new(); self.height];
        for ring in region.rings() {
            for (p, q) in edges(ring) {
                let (low, high) = if p.y < q.y { (p, q) } else { (q, p) };
                let (y0, y1) = (f64::from(low.y), f64::from(high.y));
                let slope = (f64::from(high.x) - f64::from(low.x)) / (y1 - y0);
                for row in self.rows(y0, y1) {
                    let y = self.position(0, row)[1];
                    // A vertex on the row counts as above it, so each crossing counts once.
                    if y0 < y && y <= y1 {
                        crossings[row].push(f64::from(low.x) + (y - y0) * slope);
                    }
                }
            }
        }
        for (row, xs) in crossings.iter_mut().enumerate() {
            xs.sort_unstable_by(f64::total_cmp);
            for pair in xs.chunks_exact(2) {
                self.set_span(&mut bits, row, pair[0], pair[1]);
            }
        }
        bits
    }

    /// Adds the points within `radius_nm` of the segment from `a` to `b`.
    pub(super) fn add_stadium(&self, bits: &mut Bits, a: Point, b: Point, radius_nm: f64) {
        let (ax, ay) = (f64::from(a.x), f64::from(a.y));
        let (bx, by) = (f64::from(b.x), f64::from(b.y));
        let length = (bx - ax).hypot(by - ay);
        // The four corners of the rectangle between the two end discs.
        let (nx, ny) = if length > 0.0 {
            (-(by - ay) / length * radius_nm, (bx - ax) / length * radius_nm)
        } else {
            (0.0, radius_nm)
        };
        let corners =
            [(ax + nx, ay + ny), (bx + nx, by + ny), (bx - nx, by - ny), (ax - nx, ay - ny)];
        for row in self.rows(ay.min(by) - radius_nm, ay.max(by) + radius_nm) {
            let y = self.position(0, row)[1];
            // A stadium is convex: its points in a row are one span.
            let (mut from, mut to) = (f64::INFINITY, f64::NEG_INFINITY);
            for (x, centre_y) in [(ax, ay), (bx, by)] {
                let rest = radius_nm * radius_nm - (y - centre_y) * (y - centre_y);
                if rest >= 0.0 {
                    from = from.min(x - rest.sqrt());
                    to = to.max(x + rest.sqrt());
                }
            }
            for i in 0..4 {
                let ((px, py), (qx, qy)) = (corners[i], corners[(i + 1) % 4]);
                if (py <= y && y <= qy) || (qy <= y && y <= py) {
                    let t = if py < qy || qy < py { (y - py) / (qy - py) } else { 0.0 };
                    let x = px + t * (qx - px);
                    from = from.min(x);
                    to = to.max(x);
                }
            }
            self.set_span(bits, row, from, to);
        }
    }

    /// The lattice points of the box around some positions, and as far as `reach_nm` around it.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to the lattice"
    )]
    pub(super) fn around(
        &self,
        points: &[[f64; 2]],
        reach_nm: f64,
    ) -> impl Iterator<Item = (usize, usize)> + use<> {
        let origin = [f64::from(self.origin.x), f64::from(self.origin.y)];
        let [columns, rows] = [(0, self.width), (1, self.height)].map(|(axis, count)| {
            let all = points.iter().map(|p| p[axis] - origin[axis]);
            let (low, high) = all.fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(x), b.max(x)));
            let first = ((low - reach_nm) / self.pitch_nm).max(0.0) as usize;
            first..(((high + reach_nm) / self.pitch_nm).max(0.0) as usize + 1).min(count)
        });
        rows.flat_map(move |row| columns.clone().map(move |column| (column, row)))
    }

    /// The up to eight points around a lattice point.
    pub(super) fn neighbours(
        &self,
        column: usize,
        row: usize,
    ) -> impl Iterator<Item = (usize, usize)> + use<> {
        let columns = column.saturating_sub(1)..(column + 2).min(self.width);
        let rows = row.saturating_sub(1)..(row + 2).min(self.height);
        rows.flat_map(move |r| columns.clone().map(move |c| (c, r)))
            .filter(move |at| *at != (column, row))
    }

    /// Whether some set point lies within `radius_nm` of a lattice point.
    pub(super) fn any_within(
        &self,
        bits: &Bits,
        column: usize,
        row: usize,
        radius_nm: f64,
    ) -> bool {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a radius is a few pitches"
        )]
        let reach = (radius_nm / self.pitch_nm) as usize;
        let limit = (radius_nm / self.pitch_nm).powi(2);
        (row.saturating_sub(reach)..(row + reach + 1).min(self.height)).any(|r| {
            (column.saturating_sub(reach)..(column + reach + 1).min(self.width)).any(|c| {
                let (dx, dy) = (c.abs_diff(column) as f64, r.abs_diff(row) as f64);
                dx * dx + dy * dy <= limit && bits.get(c, r)
            })
        })
    }
}

impl Bits {
    /// All set points, column and row, row by row.
    pub(super) fn points(&self) -> impl Iterator<Item = (usize, usize)> {
        let words_per_row = self.words_per_row;
        self.words.iter().enumerate().filter(|(_, word)| **word != 0).flat_map(move |(i, &word)| {
            let (row, first) = (i / words_per_row, i % words_per_row * 64);
            (0..64).filter(move |bit| word >> bit & 1 == 1).map(move |bit| (first + bit, row))
        })
    }

    pub(super) fn get(&self, column: usize, row: usize) -> bool {
        self.words[row * self.words_per_row + column / 64] >> (column % 64) & 1 == 1
    }

    pub(super) fn clear(&mut self, column: usize, row: usize) {
        self.words[row * self.words_per_row + column / 64] &= !(1 << (column % 64));
    }

    pub(super) fn count(&self) -> u64 {
        self.words.iter().map(|word| u64::from(word.count_ones())).sum()
    }

    /// Keeps what `keep` says of each word of `self` and `other`.
    fn zip(mut self, other: &Self, keep: impl Fn(u64, u64) -> u64) -> Self {
        for (a, b) in self.words.iter_mut().zip(&other.words) {
            *a = keep(*a, *b);
        }
        self
    }

    pub(super) fn and(self, other: &Self) -> Self {
        self.zip(other, |a, b| a & b)
    }

    pub(super) fn without(self, other: &Self) -> Self {
        self.zip(other, |a, b| a & !b)
    }
}

/// The edges of a ring, the closing one included.
pub(super) fn edges(ring: &[Point]) -> impl Iterator<Item = (Point, Point)> + '_ {
    ring.iter().zip(ring.iter().cycle().skip(1)).map(|(p, q)| (*p, *q))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(low: i32, high: i32) -> Region {
        let corners = [(low, low), (high, low), (high, high), (low, high)];
        Region::from_proper_rings([corners.map(|(x, y)| Point::new(x, y))])
    }

    #[test]
    fn inside_counts_the_area_and_holes_are_left_out() {
        let mut ring = square(0, 1_000_000);
        let mut hole: Vec<Point> = square(250_000, 750_000).ring(0).to_vec();
        hole.reverse();
        ring.push_ring(&hole);
        let lattice = Lattice::new(ring.bounds().unwrap(), 1_000.0);
        let area = lattice.inside(&ring).count() as f64 / 1e6;
        assert!((area - 0.75).abs() < 0.003, "{area}");
    }

    #[test]
    fn a_stadium_holds_exactly_the_points_within_its_radius() {
        let lattice = Lattice::new((Point::new(-100, -100), Point::new(300, 200)), 1.0);
        for (a, b) in [
            (Point::new(0, 0), Point::new(150, 70)),
            (Point::new(20, 90), Point::new(20, 0)),
            (Point::new(0, 50), Point::new(99, 50)),
            (Point::new(7, 7), Point::new(7, 7)),
        ] {
            let mut bits = lattice.empty();
            lattice.add_stadium(&mut bits, a, b, 33.5);
            for row in 0..300 {
                for column in 0..400 {
                    let [x, y] = lattice.position(column, row);
                    let (dx, dy) = (f64::from(b.x - a.x), f64::from(b.y - a.y));
                    let (px, py) = (x - f64::from(a.x), y - f64::from(a.y));
                    let t = ((px * dx + py * dy) / (dx * dx + dy * dy).max(1.0)).clamp(0.0, 1.0);
                    let distance = (px - t * dx).hypot(py - t * dy);
                    if (distance - 33.5).abs() > 1e-6 {
                        assert_eq!(bits.get(column, row), distance < 33.5, "{a:?} {b:?} {x} {y}");
                    }
                }
            }
        }
    }
}
