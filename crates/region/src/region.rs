//! The one region type.

use base::Point;

/// A set of closed rings on the nanometre grid, in flat storage.
///
/// A *proper* region has outer rings counter-clockwise and holes clockwise (material on the
/// left of every edge), no ring crosses itself or another, and no ring has fewer than three
/// points. The closing edge from last to first point is implied; the first point is not repeated.
/// Rings may touch at points.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Region {
    points: Vec<Point>,
    /// End index (exclusive) in `points` of each ring, rising.
    ring_ends: Vec<u32>,
}

impl Region {
    /// A region without any ring.
    pub const fn empty() -> Self {
        Self { points: Vec::new(), ring_ends: Vec::new() }
    }

    /// Collects rings as they are; the caller vouches for properness. Rings with fewer than
    /// three points are dropped.
    pub fn from_proper_rings<R: AsRef<[Point]>>(rings: impl IntoIterator<Item = R>) -> Self {
        let mut region = Self::empty();
        for ring in rings {
            region.push_ring(ring.as_ref());
        }
        region
    }

    /// Adds one ring; the caller vouches for properness. Fewer than three points add nothing.
    pub fn push_ring(&mut self, ring: &[Point]) {
        if ring.len() >= 3 {
            self.points.extend_from_slice(ring);
            #[expect(clippy::cast_possible_truncation, reason = "4 G points exceed any memory")]
            self.ring_ends.push(self.points.len() as u32);
        }
    }

    /// Whether there is no ring at all.
    pub fn is_empty(&self) -> bool {
        self.ring_ends.is_empty()
    }

    /// Number of rings, holes included.
    pub fn ring_count(&self) -> usize {
        self.ring_ends.len()
    }

    /// All points of all rings, in order.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// One ring.
    pub fn ring(&self, index: usize) -> &[Point] {
        let start = if index == 0 { 0 } else { self.ring_ends[index - 1] as usize };
        &self.points[start..self.ring_ends[index] as usize]
    }

    /// All rings, in order.
    pub fn rings(&self) -> impl ExactSizeIterator<Item = &[Point]> {
        (0..self.ring_count()).map(|i| self.ring(i))
    }

    /// Smallest and largest coordinates; `None` when empty.
    pub fn bounds(&self) -> Option<(Point, Point)> {
        let first = *self.points.first()?;
        Some(self.points.iter().fold((first, first), |(lo, hi), p| {
            (Point::new(lo.x.min(p.x), lo.y.min(p.y)), Point::new(hi.x.max(p.x), hi.y.max(p.y)))
        }))
    }
}
