//! Narrow walls: what no disc of a radius within the section reaches.

use super::grid::{Xy, length};
use super::walls::Walls;

/// How far from the limit it is undecided what a wall is, nm: a hundredth more than its radius is what the
/// writer grows an inset by, and middles are known to 5 µm.
const UNDECIDED_NM: f64 = 25_000.0;

/// How exactly the width of a wall is known where it is made, nm.
pub(super) const WIDTH_NM: f64 = 14_000.0;

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
    let Some(near) = walls.nearest(p, radius) else { return walls.holds(p, None) };
    if near.is_inside {
        // mostly the disc that touches the nearest edge does
        let foot = walls.foot(p, near.edge);
        let away = [p[0] - foot[0], p[1] - foot[1]];
        let by = (radius + 1.0) / near.distance.max(1.0);
        let centre = [foot[0] + by * away[0], foot[1] + by * away[1]];
        if walls.nearest(centre, radius).is_none() {
            return true;
        }
    }
    walls.with_cores(radius, |cores| {
        if cores.is_empty() {
            return Search::new(walls, Some(p), radius, (p, radius)).finds(p, radius, 0);
        }
        let mut squares = Vec::with_capacity(32);
        cores.met_by_disc(p, &mut squares);
        squares.retain(|&square| {
            let middle = cores.middle(square);
            let half = cores.half();
            let ask = || Search::new(walls, None, radius, (middle, half)).finds(middle, half, 0);
            *cores.known[square].get_or_insert_with(ask)
        });
        squares.iter().any(|&square| {
            let (middle, half) = (cores.middle(square), cores.half());
            Search::new(walls, Some(p), radius, (middle, half)).finds(middle, half, 0)
        })
    })
}

/// Branch and bound over the places of a disc's centre.
struct Search<'a> {
    walls: &'a Walls<'a>,
    /// What the disc holds, if that matters.
    p: Option<Xy>,
    radius: f64,
    /// Edges that are nearest to some place of a cell, cell after cell from the outermost.
    edges: Vec<usize>,
    /// Of the cell at hand: the nearest point of each edge.
    feet: Vec<Xy>,
}

impl<'a> Search<'a> {
    /// A search in the cell around a point, of half an edge.
    fn new(walls: &'a Walls<'a>, p: Option<Xy>, radius: f64, (c, half): (Xy, f64)) -> Self {
        // what lies farther away keeps no place of the cell from being deep enough
        let edges = walls.edges_near(c, radius + half * std::f64::consts::SQRT_2);
        Self { walls, p, radius, edges, feet: Vec::new() }
    }

    /// Whether there is a centre in a cell, whose edges begin at `from`.
    fn finds(&mut self, c: Xy, half: f64, from: usize) -> bool {
        let Self { walls, p, radius, .. } = *self;
        let diagonal = half * std::f64::consts::SQRT_2;
        let away = p.map_or(0.0, |p| length([c[0] - p[0], c[1] - p[1]]));
        if away - diagonal > radius {
            return false;
        }
        let here = match walls.nearest_among(&self.edges[from..], c) {
            Some(near) if near.is_inside => near.distance,
            Some(near) => -near.distance,
            None if walls.holds(c, None) => radius + diagonal,
            None => return false,
        };
        if here >= radius && away <= radius {
            return true;
        }
        // from place to place the depth changes by no more than the way
        if here + diagonal < radius || half < SMALLEST_NM || self.is_between(c, diagonal, from) {
            return false;
        }
        let to = self.edges.len();
        for index in from..to {
            let edge = self.edges[index];
            if walls.distance(c, edge) <= here.abs() + 2.0 * diagonal {
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

    /// Whether two points of the boundary on opposite sides keep all of a cell from being deep enough.
    ///
    /// Of a place that lies `away` from the middle between two points `2h` apart, the mean square of the
    /// distances to both is `h² + away²` (median theorem), and the nearer one is no farther than that.
    fn is_between(&mut self, c: Xy, diagonal: f64, from: usize) -> bool {
        let feet = self.edges[from..].iter().map(|edge| self.walls.foot(c, *edge));
        self.feet.clear();
        self.feet.extend(feet);
        let square = |[x, y]: Xy| x * x + y * y;
        let away = |q: &Xy| square([q[0] - c[0], q[1] - c[1]]);
        let Some(near) = self.feet.iter().copied().min_by(|a, b| away(a).total_cmp(&away(b)))
        else {
            return false;
        };
        self.feet.iter().any(|q| {
            let [mx, my] = [0, 1].map(|k| f64::midpoint(near[k], q[k]));
            let h = square([q[0] - mx, q[1] - my]);
            let reach = length([mx - c[0], my - c[1]]) + diagonal;
            h + reach * reach < self.radius * self.radius
        })
    }
}
