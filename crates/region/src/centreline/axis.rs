//! The medial axis below a clearance, as a graph of short straight links, from the Voronoi
//! edges of the boundary.

use super::boundary::Boundary;
use super::cells::{Bisector, bisectors};
use super::curve::{CORNER_NM, Curve};
use super::types::CentrelineOptions;
use std::cmp::Ordering;
use std::collections::HashMap;

/// Ends of bisectors nearer to each other than this, nm, are one: bisectors come from different cells, and
/// rounding errors are far smaller.
const SAME_NM: f64 = 8.0;

/// A graph in the plane with the clearance as third coordinate.
#[derive(Default)]
pub(super) struct Axis {
    /// x, y and clearance, nm.
    pub(super) nodes: Vec<[f64; 3]>,
    /// Whether the axis goes on beyond the node, into a thick body.
    pub(super) open: Vec<bool>,
    /// Pairs of nodes; no link twice.
    pub(super) links: Vec<[u32; 2]>,
}

impl Axis {
    #[expect(clippy::cast_possible_truncation, reason = "4 G nodes exceed any memory")]
    fn add(&mut self, node: [f64; 3], open: bool) -> u32 {
        self.nodes.push(node);
        self.open.push(open);
        self.nodes.len() as u32 - 1
    }

    /// Length of a link in the plane, nm.
    pub(super) fn length(&self, [a, b]: [u32; 2]) -> f64 {
        let (a, b) = (self.nodes[a as usize], self.nodes[b as usize]);
        (b[0] - a[0]).hypot(b[1] - a[1])
    }
}

/// Finds the medial axis of the material where its clearance is below the maximum.
pub(super) fn medial_axis(boundary: &Boundary, options: &CentrelineOptions) -> Axis {
    let mut axis = Axis::default();
    // Half widths come in halves of nm: a wall of exactly twice the maximum is not below it.
    let limit = f64::from(options.max_half_width_nm) - 0.25;
    let tolerance = (f64::from(options.chord_tolerance_nm) / 4.0).max(1.0);
    let mut joints = Joints::default();
    // A little more, so that no end of a bisector is taken for a place where the limit is reached.
    for Bisector { sites, ends: [from, to] } in bisectors(boundary, limit + 1.0) {
        let curve = Curve::between(sites, from, to);
        let (start, stop) = (curve.parameter(from, 0.0), curve.parameter(to, 1.0));
        let (low, high) = curve.below(limit);
        let is_above = start.max(stop) < low || high < start.min(stop);
        if is_above || low.partial_cmp(&high) != Some(Ordering::Less) {
            continue;
        }
        let cut = |t: f64| (t < low || high < t).then(|| t.clamp(low, high));
        let cuts = [cut(start), cut(stop)];
        let mut node = |at: [f64; 3], cut: Option<f64>| match cut {
            Some(parameter) => axis.add(curve.at(parameter), true),
            None if at[2] < CORNER_NM => axis.add(at, false),
            None => joints.at(at, &mut axis),
        };
        let (a, b) = (node(from, cuts[0]), node(to, cuts[1]));
        if a != b {
            let (start, stop) = (cuts[0].unwrap_or(start), cuts[1].unwrap_or(stop));
            add_curve(&mut axis, &curve, (start, a), (stop, b), tolerance);
        }
    }
    axis
}

/// Where bisectors meet: nodes by their place.
#[derive(Default)]
struct Joints(HashMap<[i64; 2], Vec<u32>>);

impl Joints {
    /// The node at a place; a new one if none is near.
    fn at(&mut self, place: [f64; 3], axis: &mut Axis) -> u32 {
        #[expect(clippy::cast_possible_truncation, reason = "saturates, and the grid is smaller")]
        let cell = |c: f64| (c / (4.0 * SAME_NM)).floor() as i64;
        let [columns, rows] = [0, 1].map(|k| cell(place[k] - SAME_NM)..=cell(place[k] + SAME_NM));
        for column in columns {
            for row in rows.clone() {
                let near = self.0.get(&[column, row]).into_iter().flatten();
                let is_same = |node: &&u32| {
                    let [x, y, _] = axis.nodes[**node as usize];
                    (x - place[0]).hypot(y - place[1]) < SAME_NM
                };
                if let Some(&node) = near.into_iter().find(is_same) {
                    return node;
                }
            }
        }
        let node = axis.add(place, false);
        self.0.entry([cell(place[0]), cell(place[1])]).or_default().push(node);
        node
    }
}

/// Adds a stretch of a curve as links between two nodes, finely enough.
fn add_curve(axis: &mut Axis, curve: &Curve, from: (f64, u32), to: (f64, u32), tolerance: f64) {
    let mut ahead = vec![(to.0, curve.at(to.0), Some(to.1))];
    match curve {
        Curve::Middle { .. } | Curve::Parabola { .. } if from.0 * to.0 < 0.0 => {
            ahead.push((0.0, curve.at(0.0), None)); // the narrowest place
        }
        Curve::Straight { .. } | Curve::Middle { .. } | Curve::Parabola { .. } => {}
    }
    let (mut t, mut node) = from;
    let mut here = curve.at(t);
    while let Some(&(next, place, end)) = ahead.last() {
        let middle = f64::midpoint(t, next);
        let on_curve = curve.at(middle);
        let off = (0..3).map(|i| f64::midpoint(here[i], place[i]) - on_curve[i]);
        if ahead.len() < 16 && off.map(|d| d * d).sum::<f64>() > tolerance * tolerance {
            ahead.push((middle, on_curve, None));
            continue;
        }
        let end = end.unwrap_or_else(|| axis.add(place, false));
        axis.links.push([node, end]);
        (t, node, here) = (next, end, place);
        ahead.pop();
    }
}
