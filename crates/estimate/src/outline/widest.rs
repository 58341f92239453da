//! The widest spot of an island: the largest circle that fits in.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use region::Region;

use super::nearest::Boundary;

/// How exactly the width is found: to this, mm, or to a share of the width.
const EXACT_MM: f64 = 1e-3;
const EXACT_SHARE: f64 = 0.005;

/// Squares looked at most; that exact a circle takes a few thousand in a long, thin island.
const MAX_SQUARES: usize = 100_000;

/// A square that may hold the centre.
struct Square {
    centre: [f64; 2],
    half: f64,
    /// Distance of its centre from the boundary, negative outside.
    depth: f64,
}

impl Square {
    fn new(centre: [f64; 2], half: f64, boundary: &Boundary) -> Self {
        let depth = boundary.nearest(centre, |_| true).map_or(0.0, |near| -near.signed);
        Self { centre, half, depth }
    }

    /// No circle about a point of the square is larger.
    fn most(&self) -> f64 {
        self.depth + self.half * std::f64::consts::SQRT_2
    }
}

impl PartialEq for Square {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Square {}

impl PartialOrd for Square {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Square {
    fn cmp(&self, other: &Self) -> Ordering {
        self.most().total_cmp(&other.most())
    }
}

/// Centre and diameter of the largest circle within a region, mm: branch and bound over squares, the
/// most promising first. `None` if the region is empty.
pub(super) fn widest(region: &Region) -> Option<([f64; 2], f64)> {
    let [[x0, y0], [x1, y1]] = region.bounds_mm()?;
    let boundary = Boundary::new(region);
    let half = 0.5 * (x1 - x0).max(y1 - y0);
    let whole = Square::new([0.5 * (x0 + x1), 0.5 * (y0 + y1)], half, &boundary);
    let (mut place, mut depth) = (whole.centre, whole.depth);
    let mut open = BinaryHeap::from([whole]);
    for _ in 0..MAX_SQUARES {
        let Some(square) = open.pop() else { break };
        if square.most() <= depth + EXACT_MM.max(EXACT_SHARE * depth) && depth > 0.0 {
            break;
        }
        let half = 0.5 * square.half;
        for [dx, dy] in [[-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]] {
            let centre = [square.centre[0] + dx * half, square.centre[1] + dy * half];
            let quarter = Square::new(centre, half, &boundary);
            if quarter.depth > depth {
                (place, depth) = (quarter.centre, quarter.depth);
            }
            open.push(quarter);
        }
    }
    Some((place, 2.0 * depth.max(0.0)))
}
