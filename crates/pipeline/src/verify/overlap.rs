//! Whether two placements share a place in a layer: they would be fused into one.

use super::expected::TOLERANCE_NM;
use super::grid::Xy;
use super::walls::{Edge, Walls, point};
use base::NM_PER_MM;

/// What one layer of a placement is bounded by.
pub(super) struct Placed<'a> {
    pub(super) row: u32,
    pub(super) walls: &'a Walls<'a>,
    low: Xy,
    high: Xy,
}

impl<'a> Placed<'a> {
    pub(super) fn new(row: u32, walls: &'a Walls<'a>) -> Self {
        let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
        for edge in &walls.edges {
            for axis in 0..2 {
                low[axis] = low[axis].min(edge.start[axis]);
                high[axis] = high[axis].max(edge.start[axis]);
            }
        }
        Self { row, walls, low, high }
    }

    /// A point that both hold, mm: a corner of one inside the other, or where their edges cross.
    pub(super) fn shared_with(&self, other: &Self) -> Option<[f64; 2]> {
        let is_apart = (0..2).any(|k| self.high[k] < other.low[k] || other.high[k] < self.low[k]);
        if is_apart {
            return None;
        }
        let found = self.corner_in(other).or_else(|| other.corner_in(self));
        found.or_else(|| self.crossing(other)).map(|p| p.map(|c| c / NM_PER_MM))
    }

    fn near<'b>(&'b self, other: &'b Self) -> impl Iterator<Item = &'b Edge> {
        self.walls.edges.iter().filter(|edge| {
            (0..2).all(|k| {
                edge.start[k].max(edge.end[k]) >= other.low[k]
                    && edge.start[k].min(edge.end[k]) <= other.high[k]
            })
        })
    }

    fn corner_in(&self, other: &Self) -> Option<Xy> {
        let corners = self.near(other).map(|edge| (edge.start, edge.section));
        corners
            .filter(|(p, section)| {
                other.walls.holds(*p, None)
                    && self.walls.holds(*p, Some(*section))
                    && !other.walls.is_near(*p, TOLERANCE_NM)
            })
            .map(|(p, _)| p)
            .next()
    }

    fn crossing(&self, other: &Self) -> Option<Xy> {
        self.near(other).find_map(|edge| {
            let (a, b) = (point(edge.start), point(edge.end));
            other.walls.boundaries().enumerate().find_map(|(section, boundary)| {
                let p = boundary.crossing(a, b, TOLERANCE_NM)?;
                let is_shared =
                    self.walls.holds(p, Some(edge.section)) && other.walls.holds(p, Some(section));
                is_shared.then_some(p)
            })
        })
    }
}
