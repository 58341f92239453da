//! Removes the twigs of a medial axis that stand for corners and noise rather than for walls.
//!
//! After the scale axis transform (Giesen, Miklos, Pauly, Wormser 2009, "The scale axis
//! transform", 25th Symposium on Computational Geometry): grow all discs by a factor; what lies in
//! a grown disc is not worth a branch of its own. Here the distance is taken along the axis, so
//! that the way in from each tip is enough to decide, and what is connected stays connected.

use super::axis::Axis;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// sin 35°: a straight twig into a corner of angle θ has clearance = distance · sin(θ/2), so
/// corners of 70° and more are absorbed whatever their size. Right angles and the 80° of a
/// slanting cap are no walls, the 60° of a triangle are: common sense, no source.
const ABSORBED: f64 = 0.573_576_436_351_046;

/// Drops the links of all twigs; returns the number of pieces of which but a dot remained.
pub(super) fn drop_twigs(axis: &mut Axis) -> usize {
    let star = Star::new(axis.nodes.len(), &axis.links);
    let mut twigs = Twigs {
        axis,
        open_ways: (0..axis.nodes.len()).map(|node| star.at(node).len()).collect(),
        demand: vec![None; axis.nodes.len()],
        walked: vec![false; axis.links.len()],
        gone: vec![false; axis.links.len()],
        star,
    };
    // The thinnest tip first, so that the last node of a piece is one of its thickest.
    let clearance = |node: usize| axis.nodes[node][2].to_bits(); // of floats ≥ 0: same order
    let mut tips: BinaryHeap<_> = (0..axis.nodes.len())
        .filter(|&node| twigs.open_ways[node] == 1 && !axis.open[node])
        .map(|node| Reverse((clearance(node), node)))
        .collect();
    let mut dots = 0;
    while let Some(Reverse((_, node))) = tips.pop() {
        let Some(next) = twigs.walk_on(node) else { continue };
        if !axis.open[next] {
            match twigs.open_ways[next] {
                0 if twigs.demand[next].is_none() => dots += 1,
                1 => tips.push(Reverse((clearance(next), next))),
                _ => {}
            }
        }
    }
    let mut gone = twigs.gone.into_iter();
    axis.links.retain(|_| !gone.next().unwrap_or(false));
    dots
}

struct Twigs<'a> {
    axis: &'a Axis,
    star: Star,
    /// Number of links at each node not yet walked.
    open_ways: Vec<usize>,
    /// The clearance with which a node would absorb all branches behind it; none if there are no
    /// such branches (any more).
    demand: Vec<Option<f64>>,
    /// Whether a link was walked from its outer end.
    walked: Vec<bool>,
    gone: Vec<bool>,
}

impl Twigs<'_> {
    /// Walks the only open link of a node and returns its other end; none if there is no such
    /// link, because it was walked from there.
    fn walk_on(&mut self, node: usize) -> Option<usize> {
        let &(link, next) = self.star.at(node).iter().find(|(link, _)| !self.walked[*link])?;
        let tip = self.demand[node].unwrap_or(self.axis.nodes[node][2]);
        let demand = tip + ABSORBED * self.axis.length(self.axis.links[link]);
        self.walked[link] = true;
        self.open_ways[node] -= 1;
        self.open_ways[next] -= 1;
        if self.axis.nodes[next][2] >= demand {
            self.gone[link] = true;
            self.cut_behind(node);
        } else {
            self.demand[next] = Some(self.demand[next].map_or(demand, |d| d.max(demand)));
        }
        Some(next)
    }

    /// Drops whatever still hangs on a node after its link inwards is gone.
    fn cut_behind(&mut self, node: usize) {
        let mut ahead = vec![node];
        while let Some(node) = ahead.pop() {
            for &(link, next) in self.star.at(node) {
                if !self.gone[link] {
                    self.gone[link] = true;
                    ahead.push(next);
                }
            }
        }
    }
}

/// The links at each node.
pub(super) struct Star {
    /// Where the links of each node begin in `ways`, and the end.
    starts: Vec<usize>,
    /// Link and the node at its other end.
    ways: Vec<(usize, usize)>,
}

impl Star {
    pub(super) fn new(nodes: usize, links: &[[u32; 2]]) -> Self {
        let mut starts = vec![0; nodes + 2];
        for node in links.iter().flatten() {
            starts[*node as usize + 2] += 1;
        }
        for node in 2..starts.len() {
            starts[node] += starts[node - 1];
        }
        // Shifted by one while filling: each entry moves from the start of its node to the end.
        let mut ways = vec![(0, 0); links.len() * 2];
        for (link, &[a, b]) in links.iter().enumerate() {
            for (from, to) in [(a, b), (b, a)] {
                let place = &mut starts[from as usize + 1];
                ways[*place] = (link, to as usize);
                *place += 1;
            }
        }
        Self { starts, ways }
    }

    pub(super) fn at(&self, node: usize) -> &[(usize, usize)] {
        &self.ways[self.starts[node]..self.starts[node + 1]]
    }
}
