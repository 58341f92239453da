//! The offset without an engine: move, cut corners, take out what vanishes. To be proved after.

use base::{GRID_LIMIT_NM, Point};

use super::corner::{
    Corner, Edge, Rounding, Vec2, WideJoin, corner, cross, dot, push_edges, push_wide, steps,
    turned, wide_trim,
};
use super::raw::round;
use crate::region::Region;

/// How far an edge may be turned around when its neighbour vanishes, nm: floating-point error.
const SLACK_NM: f64 = 1e-3;

/// An offset that still has to be proved clear.
pub(super) struct Direct {
    pub(super) region: Region,
    /// Whether a closing corner lies far from its old place, see [`is_far`].
    pub(super) reaches_far: bool,
}

/// The curve of one ring for the engine, in nm: as [`offset`] has it before it is proved, so that it may
/// cross itself, but its winding number is right (see [`Chain`]). `None` where that takes more than
/// local steps.
pub(super) fn curve(ring: &[Point], rounding: &Rounding) -> Option<Vec<Vec2>> {
    let mut work = Work::default();
    work.load(ring);
    work.move_edges(rounding)?;
    Some(work.curve)
}

/// The edges with every corner that is to be a polygon around an arc made of edges without length, so that
/// it may swallow edges like any other; `None` for other joins.
fn with_arcs_as_edges(edges: &[Edge], rounding: &Rounding) -> Option<Vec<Edge>> {
    let WideJoin::Around { step } = rounding.wide else { return None };
    let mut before = edges.last()?;
    let mut all = Vec::with_capacity(2 * edges.len());
    for edge in edges {
        if let Corner::Wide { half } = corner(before, edge, rounding) {
            let corners = steps(half, step);
            for i in 1..corners {
                let part = f64::from(i) / f64::from(corners);
                let unit = turned(before, half, rounding.shift, part);
                all.push(Edge { start: edge.start, unit, length: 0.0 });
            }
        }
        all.push(*edge);
        before = edge;
    }
    Some(all)
}

/// Offsets ring by ring; `None` where that takes more than local steps.
pub(super) fn offset(region: &Region, rounding: &Rounding) -> Option<Direct> {
    let mut result = Region::empty();
    result.reserve(region.points().len(), region.ring_count());
    let mut work = Work::default();
    let mut reaches_far = false;
    for ring in region.rings() {
        work.load(ring);
        work.move_edges(rounding)?;
        reaches_far |= work.reaches_far;
        if !work.is_sound() {
            return None;
        }
        result.push_ring(&work.ring);
    }
    Some(Direct { region: result, reaches_far })
}

/// Buffers used for one ring after the other.
#[derive(Default)]
struct Work {
    edges: Vec<Edge>,
    /// How much the corner at the start of each edge shortens its edges.
    trims: Vec<f64>,
    curve: Vec<Vec2>,
    ring: Vec<Point>,
    reaches_far: bool,
}

impl Work {
    fn load(&mut self, ring: &[Point]) {
        self.edges.clear();
        self.trims.clear();
        self.curve.clear();
        self.ring.clear();
        push_edges(ring, &mut self.edges);
    }

    /// Computes all corners; whether each is a single point and no edge is turned around.
    fn set_plain_corners(&mut self, rounding: &Rounding) -> bool {
        let Some(mut before) = self.edges.last().copied() else { return false };
        let (sign, distance) = (rounding.shift.signum(), rounding.shift.abs());
        let (mut narrowest, mut widest) = (0.0_f64, 0.0_f64);
        self.trims.reserve(self.edges.len());
        for edge in &self.edges {
            let one_plus_cos = 1.0 + dot(before.unit, edge.unit);
            let tan = sign * cross(before.unit, edge.unit) / one_plus_cos;
            // Not a number where an edge runs straight back: then neither bound holds it.
            widest = if tan <= widest { widest } else { tan };
            narrowest = if tan >= narrowest { narrowest } else { tan };
            self.trims.push(tan * distance);
            before = *edge;
        }
        self.reaches_far = is_far(widest);
        let in_range = narrowest >= -rounding.max_tan && widest <= 1e6;
        let after = self.trims[1..].iter().chain(&self.trims[..1]);
        let mut fits = true;
        for ((start, end), edge) in self.trims.iter().zip(after).zip(&self.edges) {
            fits &= start + end <= edge.length;
        }
        in_range && fits
    }

    /// Makes the curve; `None` where that takes more than local steps, or it is not finite.
    fn move_edges(&mut self, rounding: &Rounding) -> Option<()> {
        if self.set_plain_corners(rounding) {
            let moved = |(edge, trim): (&Edge, &f64)| edge.moved(*trim, rounding.shift);
            self.curve.extend(self.edges.iter().zip(&self.trims).map(moved));
            return Some(());
        }
        let mut merge = |edges: &[Edge]| {
            let mut chain = Chain::new(edges, rounding)?;
            chain.merge(rounding)?;
            self.curve.clear();
            chain.emit(rounding, &mut self.curve);
            self.reaches_far |= chain.reaches_far(rounding);
            self.curve.iter().all(|p| p[0].is_finite() && p[1].is_finite()).then_some(())
        };
        merge(&self.edges).or_else(|| merge(&with_arcs_as_edges(&self.edges, rounding)?))
    }

    /// Rounds the curve to the grid and drops repeated points; whether a ring on the grid is left.
    fn is_sound(&mut self) -> bool {
        self.ring.extend(self.curve.iter().map(|&p| round(p)));
        self.ring.dedup();
        while self.ring.len() > 1 && self.ring.first() == self.ring.last() {
            self.ring.pop();
        }
        let limit = GRID_LIMIT_NM.unsigned_abs();
        self.ring.len() >= 3
            && self.ring.iter().all(|p| (p.x.unsigned_abs() < limit) & (p.y.unsigned_abs() < limit))
    }
}

/// The edges of a ring as a circular list from which vanished ones are taken out.
///
/// Think of the distance as growing from 0. All edges move sideways at the same speed; an edge
/// between closing corners shrinks, and when it has no length left its neighbours meet. Taken out
/// at that very moment it leaves the curve continuous, and since every edge only ever moves into
/// the region, the winding number about a point drops by one each time an edge passes it and never
/// rises. So at the end the winding number is positive exactly where no edge has passed: in the
/// offset. All that matters is that edges vanish in the right order, which is checked.
struct Chain<'a> {
    edges: &'a [Edge],
    prev: Vec<usize>,
    next: Vec<usize>,
    /// Where the moved edge starts and ends, nm along its line from the old start.
    from: Vec<f64>,
    to: Vec<f64>,
    /// The same at distance 0: the old ends, or where prolonged edges meet.
    from_0: Vec<f64>,
    to_0: Vec<f64>,
    /// The corner at the start of each edge.
    corners: Vec<Corner>,
    /// Whether that corner has swallowed edges.
    is_merged: Vec<bool>,
    is_gone: Vec<bool>,
}

impl<'a> Chain<'a> {
    /// `None` if a corner is closed.
    fn new(edges: &'a [Edge], rounding: &Rounding) -> Option<Self> {
        let n = edges.len();
        if n < 3 {
            return None;
        }
        let prev: Vec<usize> = (0..n).map(|i| if i == 0 { n - 1 } else { i - 1 }).collect();
        let next: Vec<usize> = (0..n).map(|i| if i + 1 == n { 0 } else { i + 1 }).collect();
        let corners: Vec<Corner> =
            (0..n).map(|i| corner(&edges[prev[i]], &edges[i], rounding)).collect();
        let trim = |i: usize| match corners[i] {
            Corner::Point { trim } => Some(trim),
            Corner::Wide { half } => Some(wide_trim(half, rounding)),
            Corner::Closed => None,
        };
        let from = (0..n).map(trim).collect::<Option<Vec<f64>>>()?;
        let to = (0..n).map(|i| edges[i].length - from[next[i]]).collect();
        Some(Self {
            edges,
            prev,
            next,
            from,
            to,
            from_0: vec![0.0; n],
            to_0: edges.iter().map(|e| e.length).collect(),
            corners,
            is_merged: vec![false; n],
            is_gone: vec![false; n],
        })
    }

    fn is_turned(&self, edge: usize) -> bool {
        self.from[edge] > self.to[edge]
    }

    /// Length of a moved edge at a fraction of the distance; negative when turned around.
    fn length_at(&self, edge: usize, fraction: f64) -> f64 {
        let length_0 = self.to_0[edge] - self.from_0[edge];
        length_0 + fraction * (self.to[edge] - self.from[edge] - length_0)
    }

    /// The fraction of the distance at which an edge that is turned around had no length left.
    fn lifetime(&self, edge: usize) -> f64 {
        let (first, last) = (self.length_at(edge, 0.0), self.length_at(edge, 1.0));
        first / (first - last)
    }

    /// Takes out the edges that are turned around, those that vanish first before their
    /// neighbours.
    fn merge(&mut self, rounding: &Rounding) -> Option<()> {
        let mut turned: Vec<usize> = (0..self.edges.len()).filter(|&i| self.is_turned(i)).collect();
        let mut left = self.edges.len();
        while let Some(mut edge) = turned.pop() {
            if self.is_gone[edge] || !self.is_turned(edge) {
                continue;
            }
            while let Some(sooner) = [self.prev[edge], self.next[edge]]
                .into_iter()
                .find(|&e| self.is_turned(e) && self.lifetime(e) < self.lifetime(edge))
            {
                turned.push(edge);
                edge = sooner;
            }
            left -= 1;
            if left < 3 {
                return None;
            }
            let (a, b) = self.take_out(edge, rounding)?;
            turned.extend([a, b].into_iter().filter(|&e| self.is_turned(e)));
        }
        Some(())
    }

    /// Takes out one edge and lets its neighbours meet.
    fn take_out(&mut self, edge: usize, rounding: &Rounding) -> Option<(usize, usize)> {
        let (a, b) = (self.prev[edge], self.next[edge]);
        let is_point = |i: usize| matches!(self.corners[i], Corner::Point { .. });
        if !(is_point(edge) && is_point(b)) {
            return None;
        }
        let (edge_a, edge_b) = (&self.edges[a], &self.edges[b]);
        let sin = cross(edge_a.unit, edge_b.unit);
        if sin * rounding.shift.signum() < 1e-6 {
            return None; // all but parallel, or opening
        }
        // The neighbours must still have had a length then, else the events are out of order.
        let when = self.lifetime(edge);
        if ![a, b].iter().all(|&e| self.length_at(e, when) >= -SLACK_NM) {
            return None;
        }
        let meeting = |shift: f64| {
            let (p, q) = (edge_a.moved(0.0, shift), edge_b.moved(0.0, shift));
            let d = [q[0] - p[0], q[1] - p[1]];
            (cross(d, edge_b.unit) / sin, cross(d, edge_a.unit) / sin)
        };
        (self.to[a], self.from[b]) = meeting(rounding.shift);
        (self.to_0[a], self.from_0[b]) = meeting(0.0);
        self.is_gone[edge] = true;
        self.is_merged[b] = true;
        self.next[a] = b;
        self.prev[b] = a;
        Some((a, b))
    }

    /// Whether a merged corner lies far from where its prolonged edges meet, see [`is_far`].
    fn reaches_far(&self, rounding: &Rounding) -> bool {
        (0..self.edges.len()).filter(|&b| self.is_merged[b] && !self.is_gone[b]).any(|b| {
            let (u, v) = (self.edges[self.prev[b]].unit, self.edges[b].unit);
            is_far(rounding.shift.signum() * cross(u, v) / (1.0 + dot(u, v)))
        })
    }

    /// Writes the corners that are left.
    fn emit(&self, rounding: &Rounding, curve: &mut Vec<Vec2>) {
        for i in (0..self.edges.len()).filter(|&i| !self.is_gone[i]) {
            let edge = &self.edges[i];
            match self.corners[i] {
                Corner::Wide { half } if !self.is_merged[i] => {
                    push_wide(&self.edges[self.prev[i]], edge, half, rounding, curve);
                }
                _ => curve.push(edge.moved(self.from[i], rounding.shift)),
            }
        }
    }
}

/// Whether a closing corner lies so far from its old place that growing the inset back by a mitre of
/// twice the distance leaves a tip as long as the distance: three times less the rounding of the
/// tip, from the
/// tangent of half its turn, as 1/cos² = 1 + tan².
fn is_far(tan: f64) -> bool {
    tan > 0.0 && 1.0 + tan * tan > 2.95 * 2.95
}
