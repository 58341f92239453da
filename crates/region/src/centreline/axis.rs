//! The medial axis below a clearance, as a graph of short straight links, from the Voronoi
//! diagram of the outline.
//!
//! The diagram (Fortune's sweep with exact predicates, crate `boostvoronoi`) takes the 31-bit
//! coordinates of the grid as they are: no scaling, no rounding on the way in. Its vertices are
//! exact to 64 units in the last place of a 64-bit float.

use super::outline::Outline;
use super::{CentrelineError, CentrelineOptions};
use base::Point;
use boostvoronoi::prelude::{Builder, Cell, Diagram, Line, SourceCategory};
use std::cmp::Ordering;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Below this clearance, nm, an axis has run into a corner: two of them that meet there are not
/// connected, since the wall between them has no width.
const CORNER_NM: f64 = 0.5;

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

/// What a cell of the diagram belongs to.
#[derive(Clone, Copy)]
enum Site {
    Corner(Point),
    Edge(Point, Point),
}

/// Points with the same distance to two sites, by one parameter.
enum Curve {
    /// Between two edges: position, and clearance linear in the parameter 0 to 1.
    Straight { from: [f64; 3], to: [f64; 3] },
    /// Between two corners: the middle, the unit direction, half the distance of the corners.
    Middle { foot: [f64; 2], along: [f64; 2], half: f64 },
    /// Between an edge and a corner: foot of the corner on the edge, unit direction of the edge,
    /// unit direction to the corner and distance to it.
    Parabola { foot: [f64; 2], along: [f64; 2], up: [f64; 2], height: f64 },
}

/// Finds the medial axis of the material where its clearance is below the maximum.
pub(super) fn medial_axis(
    outline: &Outline,
    options: &CentrelineOptions,
) -> Result<Axis, CentrelineError> {
    let diagram = diagram(outline)?;
    // Half widths come in halves of nm: a wall of exactly twice the maximum is not below it.
    let limit = f64::from(options.max_half_width_nm) - 0.25;
    let tolerance = (f64::from(options.chord_tolerance_nm) / 4.0).max(1.0);
    let mut axis = Axis::default();
    let mut node_of_vertex = vec![u32::MAX; diagram.vertices().len()];

    for edge in diagram.edges() {
        let Ok(twin) = edge.twin().and_then(|twin| diagram.edge(twin)) else { continue };
        if edge.is_secondary() || edge.id().usize() > twin.id().usize() {
            continue;
        }
        let (Some(v), Some(w)) = (edge.vertex0(), twin.vertex0()) else { continue };
        let cell = |cell| diagram.cell(cell).ok().and_then(|cell| site(outline, cell));
        let (Some(left), Some(right)) =
            (edge.cell().ok().and_then(cell), twin.cell().ok().and_then(cell))
        else {
            continue;
        };
        let (Ok(from), Ok(to)) = (diagram.vertex(v), diagram.vertex(w)) else { continue };
        let ends = [[from.x(), from.y()], [to.x(), to.y()]];
        if !is_inside(outline, left, right, ends) {
            continue;
        }
        let [from, to] = ends.map(|[x, y]| [x, y, clearance(left, right, [x, y])]);
        if !(from.iter().chain(&to)).all(|c| c.is_finite()) {
            continue;
        }
        let curve = Curve::between(left, right, from, to);
        let (start, stop) = (curve.parameter(from, 0.0), curve.parameter(to, 1.0));
        let (low, high) = curve.below(limit);
        let is_above = start.max(stop) < low || high < start.min(stop);
        if is_above || low.partial_cmp(&high) != Some(Ordering::Less) {
            continue;
        }
        let cut = |t: f64| (t < low || high < t).then(|| t.clamp(low, high));
        let cuts = [cut(start), cut(stop)];
        let mut node = |vertex: usize, at: [f64; 3], cut: Option<f64>| match cut {
            Some(parameter) => axis.add(curve.at(parameter), true),
            None if at[2] < CORNER_NM => axis.add(at, false),
            None => {
                if node_of_vertex[vertex] == u32::MAX {
                    node_of_vertex[vertex] = axis.add(at, false);
                }
                node_of_vertex[vertex]
            }
        };
        let a = node(v.usize(), from, cuts[0]);
        let b = node(w.usize(), to, cuts[1]);
        let (start, stop) = (cuts[0].unwrap_or(start), cuts[1].unwrap_or(stop));
        add_curve(&mut axis, &curve, (start, a), (stop, b), tolerance);
    }
    Ok(axis)
}

/// Builds the diagram; a panic in there becomes an error, so that a layer never dies of one wall.
fn diagram(outline: &Outline) -> Result<Diagram, CentrelineError> {
    let segments: Vec<Line<i32>> =
        outline.edges.iter().map(|[a, b]| [a.x, a.y, b.x, b.y].into()).collect();
    let build = || Builder::<i32>::default().with_segments(segments.iter())?.build();
    let built = match catch_unwind(AssertUnwindSafe(build)) {
        Ok(Ok(diagram)) => return Ok(diagram),
        Ok(Err(error)) => error.to_string(),
        Err(_) => "its builder stopped unexpectedly".to_owned(),
    };
    let at = outline.edges.first().map_or_else(Point::default, |edge| edge[0]);
    Err(CentrelineError::NoDiagram { at, edges: outline.edges.len(), why: built })
}

fn site(outline: &Outline, cell: &Cell) -> Option<Site> {
    let (source, category) = cell.source_index_2();
    let [start, end] = *outline.edges.get(source.usize())?;
    Some(match category {
        SourceCategory::Segment => Site::Edge(start, end),
        SourceCategory::SegmentEnd => Site::Corner(end),
        SourceCategory::SegmentStart | SourceCategory::SinglePoint => Site::Corner(start),
    })
}

/// Whether a curve between two sites lies in the material.
fn is_inside(outline: &Outline, left: Site, right: Site, ends: [[f64; 2]; 2]) -> bool {
    match (left, right) {
        (Site::Edge(a, b), _) | (_, Site::Edge(a, b)) => {
            let heights = ends.map(|end| height(a, b, end));
            heights[0] + heights[1] > 0.0 // both on one side; one may be a corner, at 0
        }
        (Site::Corner(a), Site::Corner(b)) => {
            let middle = [0, 1].map(|i| f64::midpoint(ends[0][i], ends[1][i]));
            [a, b].into_iter().any(|corner| {
                let reaches = |to| height(corner, to, middle) > 0.0;
                outline.faces_material(corner, reaches)
            })
        }
    }
}

/// Distance of a place to a site, nm; corners are asked first, being simpler.
fn clearance(left: Site, right: Site, place: [f64; 2]) -> f64 {
    match (left, right) {
        (Site::Corner(p), _) | (_, Site::Corner(p)) => {
            let [dx, dy] = from_point(p, place);
            dx.hypot(dy)
        }
        (Site::Edge(a, b), Site::Edge(..)) => height(a, b, place).abs(),
    }
}

fn from_point(p: Point, place: [f64; 2]) -> [f64; 2] {
    [place[0] - f64::from(p.x), place[1] - f64::from(p.y)]
}

/// Unit vector from one point to another.
fn unit(a: Point, b: Point) -> [f64; 2] {
    let [x, y] = from_point(a, [f64::from(b.x), f64::from(b.y)]);
    let length = x.hypot(y);
    [x / length, y / length]
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

/// Signed distance of a place to the line from a to b, positive on its left.
fn height(a: Point, b: Point, place: [f64; 2]) -> f64 {
    let [x, y] = unit(a, b);
    dot(from_point(a, place), [-y, x])
}

impl Curve {
    fn between(left: Site, right: Site, from: [f64; 3], to: [f64; 3]) -> Self {
        match (left, right) {
            (Site::Edge(..), Site::Edge(..)) => Self::Straight { from, to },
            (Site::Corner(p), Site::Corner(q)) => {
                let [x, y] = unit(p, q);
                let foot = [
                    f64::midpoint(f64::from(p.x), f64::from(q.x)),
                    f64::midpoint(f64::from(p.y), f64::from(q.y)),
                ];
                Self::Middle { foot, along: [-y, x], half: p.distance(q) / 2.0 }
            }
            (Site::Edge(a, b), Site::Corner(p)) | (Site::Corner(p), Site::Edge(a, b)) => {
                let along = unit(a, b);
                let p = [f64::from(p.x), f64::from(p.y)];
                let reach = dot(from_point(a, p), along);
                let signed = height(a, b, p);
                let height = signed.abs();
                if height < CORNER_NM {
                    return Self::Straight { from, to }; // cannot be told from a straight line
                }
                let foot = [f64::from(a.x) + reach * along[0], f64::from(a.y) + reach * along[1]];
                let sign = signed.signum();
                let up = [-along[1] * sign, along[0] * sign];
                Self::Parabola { foot, along, up, height }
            }
        }
    }

    /// Parameter of an end of the curve.
    fn parameter(&self, [x, y, _]: [f64; 3], end: f64) -> f64 {
        match self {
            Self::Straight { .. } => end,
            Self::Middle { foot, along, .. } | Self::Parabola { foot, along, .. } => {
                dot([x - foot[0], y - foot[1]], *along)
            }
        }
    }

    /// x, y and clearance at a parameter.
    fn at(&self, t: f64) -> [f64; 3] {
        match *self {
            Self::Straight { from, to } => std::array::from_fn(|i| from[i] + t * (to[i] - from[i])),
            Self::Middle { foot, along, half } => {
                [foot[0] + t * along[0], foot[1] + t * along[1], half.hypot(t)]
            }
            Self::Parabola { foot, along, up, height } => {
                let y = (t * t + height * height) / (2.0 * height);
                let place = |i: usize| foot[i] + t * along[i] + y * up[i];
                [place(0), place(1), y]
            }
        }
    }

    /// The parameters at which the clearance is below a limit: one interval, since the clearance
    /// along each kind of curve is convex. Empty if low > high.
    fn below(&self, limit: f64) -> (f64, f64) {
        let reach_squared = match *self {
            Self::Straight { from, to } => {
                let (r, s) = (from[2], to[2]);
                let crossing = (limit - r) / (s - r);
                return match (r < limit, s < limit) {
                    (true, true) => (0.0, 1.0),
                    (true, false) => (0.0, crossing),
                    (false, true) => (crossing, 1.0),
                    (false, false) => (1.0, 0.0),
                };
            }
            Self::Middle { half, .. } => limit * limit - half * half,
            Self::Parabola { height, .. } => height * (2.0 * limit - height),
        };
        if reach_squared > 0.0 {
            (-reach_squared.sqrt(), reach_squared.sqrt())
        } else {
            (1.0, -1.0)
        }
    }
}

/// Adds a stretch of a curve as links between two nodes, finely enough.
fn add_curve(axis: &mut Axis, curve: &Curve, from: (f64, u32), to: (f64, u32), tolerance: f64) {
    let mut ahead = vec![(to.0, axis.nodes[to.1 as usize], Some(to.1))];
    if !matches!(curve, Curve::Straight { .. }) && from.0 * to.0 < 0.0 {
        ahead.push((0.0, curve.at(0.0), None)); // the narrowest place
    }
    let (mut t, mut node) = from;
    while let Some(&(next, place, end)) = ahead.last() {
        let middle = f64::midpoint(t, next);
        let on_curve = curve.at(middle);
        let here = axis.nodes[node as usize];
        let off = (0..3).map(|i| f64::midpoint(here[i], place[i]) - on_curve[i]);
        if ahead.len() < 16 && off.map(|d| d * d).sum::<f64>() > tolerance * tolerance {
            ahead.push((middle, on_curve, None));
            continue;
        }
        let end = end.unwrap_or_else(|| axis.add(place, false));
        axis.links.push([node, end]);
        (t, node) = (next, end);
        ahead.pop();
    }
}
