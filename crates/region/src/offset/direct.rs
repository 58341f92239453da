//! The offset without an engine: move, cut corners, take out what vanishes. To be proved after.

use base::{GRID_LIMIT_NM, Point};

use super::corner::{
    Corner, Edge, Rounding, Vec2, corner, cross, dot, push_edges, push_wide, wide_trim,
};
use super::raw::round;
use crate::region::Region;

/// How much nearer than the distance a merged corner may lie to a vanished edge, nm: what rounding
/// to the grid costs anyway.
const SLACK_NM: f64 = 2.0;

/// An offset that still has to be proved clear.
pub(super) struct Direct {
    pub(super) region: Region,
    /// Whether a closing corner lies more than twice the distance from its old place.
    pub(super) reaches_far: bool,
}

/// Offsets ring by ring; `None` where that takes more than local steps.
pub(super) fn offset(region: &Region, rounding: &Rounding) -> Option<Direct> {
    let mut result = Region::empty();
    result.reserve(region.points().len(), region.ring_count());
    let mut work = Work::default();
    let mut reaches_far = false;
    for ring in region.rings() {
        work.load(ring);
        reaches_far |= if work.set_plain_corners(rounding) {
            work.emit_plain(rounding);
            work.reaches_far
        } else {
            let mut chain = Chain::new(&work.edges, rounding)?;
            chain.merge(rounding)?;
            let reaches_far = chain.check(rounding)?;
            chain.emit(rounding, &mut work.curve, &mut work.ring)?;
            reaches_far || work.reaches_far
        };
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
        self.reaches_far = widest * widest > 3.0; // 1/cos² = 1 + tan² > 2²
        let in_range = narrowest >= -rounding.max_tan && widest <= 1e6;
        let after = self.trims[1..].iter().chain(&self.trims[..1]);
        let mut fits = true;
        for ((start, end), edge) in self.trims.iter().zip(after).zip(&self.edges) {
            fits &= start + end <= edge.length;
        }
        in_range && fits
    }

    fn emit_plain(&mut self, rounding: &Rounding) {
        self.ring.reserve(self.edges.len());
        for (edge, &trim) in self.edges.iter().zip(&self.trims) {
            self.ring.push(round(edge.moved(trim, rounding.shift)));
        }
    }

    /// Drops repeated points; whether a ring on the grid is left.
    fn is_sound(&mut self) -> bool {
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
        // Negated so that a coordinate that is no number counts as turned.
        !(self.from[edge] <= self.to[edge])
    }

    /// The fraction of the distance at which an edge that is turned around had no length left.
    fn lifetime(&self, edge: usize) -> f64 {
        let length = (self.to_0[edge] - self.from_0[edge]).max(0.0);
        length / (length + self.from[edge] - self.to[edge])
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

    /// Checks every merged corner against the edges it swallowed; `None` if one fails, else
    /// whether one lies far from its old place.
    ///
    /// The tip must see the inner side of each swallowed edge and its feet on both neighbours, the
    /// swallowed edges must be within the distance of each other, and the moved neighbours must keep
    /// the distance from them. Then the patches swept by neighbours and swallowed edges cover what
    /// the moved corner cuts off and nothing else.
    fn check(&self, rounding: &Rounding) -> Option<bool> {
        let (shift, distance) = (rounding.shift, rounding.shift.abs());
        let n = self.edges.len();
        let mut reaches_far = false;
        for b in (0..n).filter(|&b| self.is_merged[b] && !self.is_gone[b]) {
            let a = self.prev[b];
            let (edge_a, edge_b) = (&self.edges[a], &self.edges[b]);
            if self.to[a] > edge_a.length + SLACK_NM || self.from[b] < -SLACK_NM {
                return None;
            }
            let tip = edge_a.moved(self.to[a], shift);
            let back = edge_a.moved(self.from[a], shift);
            let ahead = edge_b.moved(self.to[b], shift);
            let first = self.edges[if a + 1 == n { 0 } else { a + 1 }].start;
            let mut k = if a + 1 == n { 0 } else { a + 1 };
            while k != b {
                let edge = &self.edges[k];
                let end = edge.moved(edge.length, 0.0);
                let to_tip = [tip[0] - edge.start[0], tip[1] - edge.start[1]];
                let is_close = length([end[0] - first[0], end[1] - first[1]]) <= distance;
                let is_inside = cross(edge.unit, to_tip) * shift > 0.0;
                let keeps = |p, q| gap(edge.start, end, p, q) >= distance - SLACK_NM;
                if !(is_close && is_inside && keeps(back, tip) && keeps(tip, ahead)) {
                    return None;
                }
                reaches_far |= length(to_tip) > 2.0 * distance;
                k = if k + 1 == n { 0 } else { k + 1 };
            }
        }
        Some(reaches_far)
    }

    /// Writes the ring; `None` if it is not finite.
    fn emit(
        &self,
        rounding: &Rounding,
        curve: &mut Vec<Vec2>,
        ring: &mut Vec<Point>,
    ) -> Option<()> {
        for i in (0..self.edges.len()).filter(|&i| !self.is_gone[i]) {
            let edge = &self.edges[i];
            match self.corners[i] {
                Corner::Wide { half } if !self.is_merged[i] => {
                    push_wide(&self.edges[self.prev[i]], edge, half, rounding, curve);
                }
                _ => curve.push(edge.moved(self.from[i], rounding.shift)),
            }
        }
        ring.extend(curve.iter().map(|&p| round(p)));
        curve.iter().all(|p| p[0].is_finite() && p[1].is_finite()).then_some(())
    }
}

fn length(d: Vec2) -> f64 {
    (d[0] * d[0] + d[1] * d[1]).sqrt()
}

/// Distance of two segments that do not cross.
fn gap(p: Vec2, q: Vec2, u: Vec2, v: Vec2) -> f64 {
    let to_segment = |x: Vec2, a: Vec2, b: Vec2| {
        let (d, e) = ([b[0] - a[0], b[1] - a[1]], [x[0] - a[0], x[1] - a[1]]);
        let square = dot(d, d);
        let t = if square > 0.0 { (dot(d, e) / square).clamp(0.0, 1.0) } else { 0.0 };
        length([e[0] - t * d[0], e[1] - t * d[1]])
    };
    to_segment(p, u, v).min(to_segment(q, u, v)).min(to_segment(u, p, q)).min(to_segment(v, p, q))
}
