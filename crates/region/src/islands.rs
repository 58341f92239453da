//! Splitting a region into islands: one outer ring and its holes each.

use base::Point;

use crate::region::{Containment, Region, ring_area_twice, ring_bounds};

impl Region {
    /// The connected pieces of a proper region: each outer ring with its holes, in the order of
    /// the outer rings; holes in their order too. Holes without an outer ring are dropped.
    pub fn islands(&self) -> Vec<Self> {
        grouped(self).iter().map(|rings| self.picked(rings)).collect()
    }

    /// The given rings.
    pub(crate) fn picked(&self, rings: &[usize]) -> Self {
        let mut island = Self::empty();
        island.reserve(rings.iter().map(|&r| self.ring(r).len()).sum(), rings.len());
        for &ring in rings {
            island.push_ring(self.ring(ring));
        }
        island
    }
}

struct Outer {
    ring: usize,
    area: i128,
    bounds: (Point, Point),
}

/// Ring numbers of each island, the outer ring first.
pub(crate) fn grouped(region: &Region) -> Vec<Vec<usize>> {
    let areas: Vec<i128> = region.rings().map(ring_area_twice).collect();
    let outers: Vec<Outer> = (0..areas.len())
        .filter(|&ring| areas[ring] > 0)
        .map(|ring| Outer { ring, area: areas[ring], bounds: ring_bounds(region.ring(ring)) })
        .collect();
    let mut groups: Vec<Vec<usize>> = outers.iter().map(|o| vec![o.ring]).collect();
    for hole in (0..areas.len()).filter(|&ring| areas[ring] <= 0) {
        if let Some(outer) = parent(region, &outers, hole) {
            groups[outer].push(hole);
        }
    }
    groups
}

/// Position in `outers` of the smallest outer ring around a hole.
fn parent(region: &Region, outers: &[Outer], hole: usize) -> Option<usize> {
    let hole = region.ring(hole);
    let (lo, hi) = ring_bounds(hole);
    let mut around = outers.iter().enumerate().filter(|(_, o)| {
        let (outer_lo, outer_hi) = o.bounds;
        outer_lo.x <= lo.x && outer_lo.y <= lo.y && outer_hi.x >= hi.x && outer_hi.y >= hi.y
    });
    let first = around.next()?;
    let Some(second) = around.next() else { return Some(first.0) };
    [first, second]
        .into_iter()
        .chain(around)
        .filter(|(_, o)| surrounds(region.ring(o.ring), hole))
        .min_by_key(|(_, o)| o.area)
        .map(|(position, _)| position)
}

/// Whether a ring lies inside another that it does not cross but may touch.
fn surrounds(outer: &[Point], inner: &[Point]) -> bool {
    let outer = Region::from_proper_rings([outer]);
    let verdict = inner.iter().map(|&p| outer.contains(p)).find(|c| *c != Containment::Boundary);
    verdict != Some(Containment::Outside)
}
