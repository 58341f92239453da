//! Narrow walls: what no disc of a radius within the section reaches.

use super::grid::{Xy, length};
use super::walls::Walls;

/// How far from the limit it is undecided what a wall is, nm: a hundredth more than its radius is what the
/// writer grows an inset by, and middles are known to 5 µm.
const UNDECIDED_NM: f64 = 25_000.0;

/// How exactly the width of a wall is known where it is made, nm.
pub(super) const WIDTH_NM: f64 = 14_000.0;

/// Sides of a wall face each other if its middle sees them under more than this, rad.
pub(super) const FACING_RAD: f64 = 2.9;

/// Fewer places or marks with another energy than this in a layer of a placement are let pass: a bend that
/// a rule takes for straight has one or two.
pub(super) const FEWEST: u64 = 5;

/// Cells of the search smaller than this are not divided, nm.
const SMALLEST_NM: f64 = 4_000.0;

/// Whether a point surely lies in no wall narrower than twice a radius: a larger disc in the section holds
/// it.
pub(super) fn is_surely_wide(walls: &Walls, p: Xy, radius: f64) -> bool {
    is_in_disc(walls, p, radius + UNDECIDED_NM)
}

/// Whether a point surely lies in a wall narrower than twice a radius: no smaller disc holds it either.
pub(super) fn is_surely_narrow(walls: &Walls, p: Xy, radius: f64) -> bool {
    !is_in_disc(walls, p, radius - UNDECIDED_NM)
}

/// Whether a point may lie where a ring is cut off, because the wall beyond holds no disc of a radius: larger
/// discs do not hold it, smaller ones, which reach further into the mouth of a wall, do.
pub(super) fn may_be_cut(walls: &Walls, p: Xy, radius: f64) -> bool {
    !is_surely_wide(walls, p, radius) && is_in_disc(walls, p, 0.7 * radius)
}

/// Whether some disc of a radius in the sections holds a point.
fn is_in_disc(walls: &Walls, p: Xy, radius: f64) -> bool {
    // Of centres up to 1.36 radii away it is asked whether they are a radius deep.
    let edges = walls.edges_near(p, 2.5 * radius);
    if edges.is_empty() {
        return walls.holds(p, None);
    }
    Search { walls, p, radius, edges }.finds(p, radius, 0)
}

/// Branch and bound over the places of a disc's centre: from place to place the depth changes by no more
/// than the way.
struct Search<'a> {
    walls: &'a Walls<'a>,
    p: Xy,
    radius: f64,
    /// Edges that are nearest to some place of a cell, cell after cell from the outermost.
    edges: Vec<usize>,
}

impl Search<'_> {
    /// Whether there is a centre in a cell, whose edges begin at `from`.
    fn finds(&mut self, c: Xy, half: f64, from: usize) -> bool {
        let Self { walls, p, radius, .. } = *self;
        let diagonal = half * std::f64::consts::SQRT_2;
        let away = length([c[0] - p[0], c[1] - p[1]]);
        if away - diagonal > radius {
            return false;
        }
        let Some(near) = walls.nearest_among(&self.edges[from..], c) else { return false };
        let here = if near.is_inside { near.distance } else { -near.distance };
        if here >= radius && away <= radius {
            return true;
        }
        if here + diagonal < radius || half < SMALLEST_NM {
            return false;
        }
        let to = self.edges.len();
        for index in from..to {
            let edge = self.edges[index];
            if walls.distance(c, edge) <= near.distance + 2.0 * diagonal {
                self.edges.push(edge);
            }
        }
        let quarter = half / 2.0;
        let found = [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)]
            .into_iter()
            .any(|(x, y)| self.finds([c[0] + x * quarter, c[1] + y * quarter], quarter, to));
        self.edges.truncate(to);
        found
    }
}
