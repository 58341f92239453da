//! The one region type and its measures.

use base::Point;

/// Where a point lies with respect to a region.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Containment {
    /// In the material, not on an edge.
    Inside,
    /// On an edge or a vertex.
    Boundary,
    /// In a hole or beyond every outer ring.
    Outside,
}

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

    /// The same in mm.
    pub fn bounds_mm(&self) -> Option<[[f64; 2]; 2]> {
        self.bounds().map(|(low, high)| [low.to_mm(), high.to_mm()])
    }

    /// Twice the area, nm², exact: holes count negative, an improper region by winding number.
    pub fn area_twice_nm2(&self) -> i128 {
        self.rings().map(ring_area_twice).sum()
    }

    /// Area in mm².
    pub fn area_mm2(&self) -> f64 {
        self.area_twice_nm2() as f64 * 0.5e-12
    }

    /// Length of all rings, holes included, in mm.
    pub fn perimeter_mm(&self) -> f64 {
        let nm: f64 = self
            .rings()
            .flat_map(edges)
            .map(|(a, b)| {
                let dx = f64::from(b.x) - f64::from(a.x);
                let dy = f64::from(b.y) - f64::from(a.y);
                (dx * dx + dy * dy).sqrt()
            })
            .sum();
        nm / base::NM_PER_MM
    }

    /// Where a point lies, exactly; the inside is where the winding number is positive. O(n).
    pub fn contains(&self, p: Point) -> Containment {
        let mut winding = 0;
        for (a, b) in self.rings().flat_map(edges) {
            match crossing(a, b, p) {
                Some(step) => winding += step,
                None => return Containment::Boundary,
            }
        }
        if winding > 0 { Containment::Inside } else { Containment::Outside }
    }

    /// The same region moved by `(dx, dy)` nm; `None` if any point would leave the grid.
    pub fn translated(&self, dx: i32, dy: i32) -> Option<Self> {
        let on_grid = |c: i32, d: i32| c.checked_add(d).filter(|c| c.abs() < base::GRID_LIMIT_NM);
        let points =
            self.points.iter().map(|p| Some(Point::new(on_grid(p.x, dx)?, on_grid(p.y, dy)?)));
        Some(Self { points: points.collect::<Option<_>>()?, ring_ends: self.ring_ends.clone() })
    }

    /// Adds all rings of another region; the caller vouches for properness of the whole.
    pub fn append(&mut self, other: &Self) {
        for ring in other.rings() {
            self.push_ring(ring);
        }
    }

    /// Makes room for that many more points and rings.
    pub(crate) fn reserve(&mut self, points: usize, rings: usize) {
        self.points.reserve(points);
        self.ring_ends.reserve(rings);
    }
}

/// Edges of a ring, the closing one last.
pub(crate) fn edges(ring: &[Point]) -> impl Iterator<Item = (Point, Point)> + '_ {
    ring.iter().copied().zip(ring.iter().copied().cycle().skip(1))
}

/// Twice the signed area, nm²: positive counter-clockwise.
pub(crate) fn ring_area_twice(ring: &[Point]) -> i128 {
    let Some(&first) = ring.first() else { return 0 };
    ring.windows(2).map(|w| i128::from(first.cross(w[0], w[1]))).sum()
}

/// Smallest and largest coordinates of a ring of at least one point.
pub(crate) fn ring_bounds(ring: &[Point]) -> (Point, Point) {
    ring.iter().fold((ring[0], ring[0]), |(lo, hi), p| {
        (Point::new(lo.x.min(p.x), lo.y.min(p.y)), Point::new(hi.x.max(p.x), hi.y.max(p.y)))
    })
}

/// What the edge `a` to `b` adds to the winding number about `p`; `None` if `p` lies on it.
///
/// The ray runs from `p` to +X and meets an edge that starts on or below it and ends above it, or
/// the other way round, so a vertex on the ray counts once.
pub(crate) fn crossing(a: Point, b: Point, p: Point) -> Option<i32> {
    if (a.y > p.y && b.y > p.y) || (a.y < p.y && b.y < p.y) || (a.x < p.x && b.x < p.x) {
        return Some(0);
    }
    let side = a.cross(b, p);
    if side == 0 && p.x >= a.x.min(b.x) && p.x <= a.x.max(b.x) {
        return None; // y lies in range: checked on entry
    }
    Some(match (a.y <= p.y, b.y <= p.y) {
        (true, false) if side > 0 => 1,
        (false, true) if side < 0 => -1,
        _ => 0,
    })
}
