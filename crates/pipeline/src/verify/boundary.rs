//! The edges of a region, sorted into rows, to ask whether a mark leaves the region.

use super::lattice::edges;
use base::Point;
use region::Region;

/// Edges of a region in rows of equal height; each edge stands in every row it touches.
pub(super) struct Boundary {
    low_y: i64,
    row_height: i64,
    rows: Vec<Vec<(Point, Point)>>,
}

impl Boundary {
    pub(super) fn new(region: &Region) -> Self {
        let Some((low, high)) = region.bounds() else {
            return Self { low_y: 0, row_height: 1, rows: Vec::new() };
        };
        let height = i64::from(high.y) - i64::from(low.y) + 1;
        // About as many rows as a ring has edges across: a few edges in each.
        let count = i64::try_from(region.points().len() / 2).unwrap_or(i64::MAX).clamp(1, 8192);
        let row_height = (height / count).max(1);
        let row_count = usize::try_from(height / row_height + 1).unwrap_or(1);
        let mut boundary =
            Self { low_y: i64::from(low.y), row_height, rows: vec![Vec::new(); row_count] };
        for (p, q) in region.rings().flat_map(edges) {
            for row in boundary.rows_between(p.y.min(q.y), p.y.max(q.y)) {
                boundary.rows[row].push((p, q));
            }
        }
        boundary
    }

    fn rows_between(&self, low: i32, high: i32) -> std::ops::Range<usize> {
        let row = |y: i32| (i64::from(y) - self.low_y).div_euclid(self.row_height);
        let clamp = |r: i64| usize::try_from(r.max(0)).unwrap_or(0).min(self.rows.len());
        clamp(row(low))..clamp(row(high) + 1)
    }

    /// Whether a point lies inside.
    pub(super) fn is_inside(&self, p: Point) -> bool {
        self.rows_between(p.y, p.y).next().is_some_and(|row| {
            self.rows[row].iter().filter(|(a, b)| crosses_ray(*a, *b, p)).count() % 2 == 1
        })
    }

    /// Whether a point lies outside by more than `tolerance_nm`.
    pub(super) fn is_outside(&self, p: Point, tolerance_nm: f64) -> bool {
        !self.is_inside(p)
            && !self.near_rows(p, tolerance_nm).any(|(a, b)| distance(p, a, b) <= tolerance_nm)
    }

    fn near_rows(&self, p: Point, tolerance_nm: f64) -> impl Iterator<Item = (Point, Point)> {
        #[expect(clippy::cast_possible_truncation, reason = "a tolerance of a few nm")]
        let t = tolerance_nm as i32 + 1;
        self.rows_between(p.y.saturating_sub(t), p.y.saturating_add(t))
            .flat_map(|row| self.rows[row].iter().copied())
    }

    /// Where a mark crosses the boundary farther than `tolerance_nm` from both its ends.
    pub(super) fn crossing(&self, a: Point, b: Point, tolerance_nm: f64) -> Option<[f64; 2]> {
        let (low_x, high_x) = (a.x.min(b.x), a.x.max(b.x));
        self.rows_between(a.y.min(b.y), a.y.max(b.y)).find_map(|row| {
            self.rows[row].iter().find_map(|&(p, q)| {
                if p.x.max(q.x) < low_x || p.x.min(q.x) > high_x {
                    return None;
                }
                let (at_p, at_q) = (a.cross(b, p), a.cross(b, q));
                let proper = (at_p > 0) != (at_q > 0)
                    && at_p != 0
                    && at_q != 0
                    && (p.cross(q, a) > 0) != (p.cross(q, b) > 0);
                if !proper {
                    return None;
                }
                let t = at_p as f64 / (at_p as f64 - at_q as f64);
                let x = f64::from(p.x) + t * (f64::from(q.x) - f64::from(p.x));
                let y = f64::from(p.y) + t * (f64::from(q.y) - f64::from(p.y));
                let from = |end: Point| (x - f64::from(end.x)).hypot(y - f64::from(end.y));
                (from(a) > tolerance_nm && from(b) > tolerance_nm).then_some([x, y])
            })
        })
    }
}

/// Whether an edge crosses the ray from `p` to the right; a vertex on the ray counts as above.
fn crosses_ray(a: Point, b: Point, p: Point) -> bool {
    (a.y < p.y) != (b.y < p.y) && {
        let (low, high) = if a.y < b.y { (a, b) } else { (b, a) };
        low.cross(high, p) > 0
    }
}

/// Distance from a point to a segment, nm.
fn distance(p: Point, a: Point, b: Point) -> f64 {
    let (dx, dy) = (f64::from(b.x) - f64::from(a.x), f64::from(b.y) - f64::from(a.y));
    let (px, py) = (f64::from(p.x) - f64::from(a.x), f64::from(p.y) - f64::from(a.y));
    let square = dx * dx + dy * dy;
    let t = if square > 0.0 { ((px * dx + py * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
    (px - t * dx).hypot(py - t * dy)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring() -> Region {
        let square = |low: i32, high: i32| {
            [(low, low), (high, low), (high, high), (low, high)].map(|(x, y)| Point::new(x, y))
        };
        let mut hole = square(400, 600);
        hole.reverse();
        Region::from_proper_rings([square(0, 1000), hole])
    }

    #[test]
    fn points_outside_and_in_holes_are_found_but_not_those_within_tolerance() {
        let boundary = Boundary::new(&ring());
        for (x, y, outside) in [
            (200, 500, false),
            (500, 500, true),
            (1500, 500, true),
            (500, -50, true),
            (500, 2000, true),
            (1002, 500, false), // within tolerance
            (402, 500, false),
        ] {
            assert_eq!(boundary.is_outside(Point::new(x, y), 3.0), outside, "({x}, {y})");
        }
    }

    #[test]
    fn a_mark_across_a_hole_is_found_though_its_ends_are_inside() {
        let boundary = Boundary::new(&ring());
        let across = boundary.crossing(Point::new(200, 500), Point::new(800, 510), 3.0);
        assert!(across.is_some());
        let beside = boundary.crossing(Point::new(200, 700), Point::new(800, 710), 3.0);
        assert_eq!(beside, None);
    }
}
