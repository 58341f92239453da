//! The medial axis below a clearance, as a graph of short straight links, from the Voronoi
//! diagram of the boundary.
//!
//! The diagram (Fortune's sweep with exact predicates, crate `boostvoronoi`) takes the 31-bit
//! coordinates of the grid as they are: no scaling, no rounding on the way in. Its vertices are
//! exact to 64 units in the last place of a 64-bit float.

use super::boundary::Boundary;
use super::curve::{CORNER_NM, Curve, Site, clearance, height};
use super::facing::too_close;
use super::types::{CentrelineError, CentrelineOptions};
use base::Point;
use boostvoronoi::prelude::{Builder, Cell, Diagram, Edge, Line, SourceCategory};
use std::cmp::Ordering;
use std::panic::{AssertUnwindSafe, catch_unwind};

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
pub(super) fn medial_axis(
    boundary: &Boundary,
    options: &CentrelineOptions,
) -> Result<Axis, CentrelineError> {
    let mut axis = Axis::default();
    if boundary.edges.is_empty() {
        return Ok(axis);
    }
    let diagram = diagram(boundary)?;
    // Half widths come in halves of nm: a wall of exactly twice the maximum is not below it.
    let limit = f64::from(options.max_half_width_nm) - 0.25;
    let tolerance = (f64::from(options.chord_tolerance_nm) / 4.0).max(1.0);
    let mut node_of_vertex = vec![u32::MAX; diagram.vertices().len()];
    for bisector in diagram.edges().iter().filter_map(|edge| bisector(boundary, &diagram, edge)) {
        let Bisector { vertices: [v, w], ends: [from, to], curve } = bisector;
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
        let (a, b) = (node(v, from, cuts[0]), node(w, to, cuts[1]));
        let (start, stop) = (cuts[0].unwrap_or(start), cuts[1].unwrap_or(stop));
        add_curve(&mut axis, &curve, (start, a), (stop, b), tolerance);
    }
    let is_false = too_close(&axis.nodes, &boundary.rest);
    axis.links.retain(|link| !link.iter().any(|&node| is_false[node as usize]));
    Ok(axis)
}

/// An edge of the diagram that lies in the material.
struct Bisector {
    /// The vertices of the diagram at its ends.
    vertices: [usize; 2],
    /// The same as x, y and clearance, nm.
    ends: [[f64; 3]; 2],
    curve: Curve,
}

/// The edge of the diagram as a bisector, of each pair of twins once; `None` if it does not lie in the
/// material, has no end, or only divides an edge of the boundary from its own corner.
fn bisector(boundary: &Boundary, diagram: &Diagram, edge: &Edge) -> Option<Bisector> {
    let twin = diagram.edge(edge.twin().ok()?).ok()?;
    if edge.is_secondary() || edge.id().usize() > twin.id().usize() {
        return None;
    }
    let (v, w) = (edge.vertex0()?, twin.vertex0()?);
    let cell = |cell| diagram.cell(cell).ok().and_then(|cell| site(boundary, cell));
    let (left, right) = (cell(edge.cell().ok()?)?, cell(twin.cell().ok()?)?);
    let (from, to) = (diagram.vertex(v).ok()?, diagram.vertex(w).ok()?);
    let ends = [[from.x(), from.y()], [to.x(), to.y()]];
    if !is_inside(boundary, left, right, ends) {
        return None;
    }
    let ends = ends.map(|[x, y]| [x, y, clearance(left, right, [x, y])]);
    let curve = Curve::between(left, right, ends[0], ends[1]);
    let is_finite = ends.iter().flatten().all(|c| c.is_finite());
    is_finite.then_some(Bisector { vertices: [v.usize(), w.usize()], ends, curve })
}

/// Builds the diagram; a panic in there becomes an error, so that a layer never dies of one wall.
fn diagram(boundary: &Boundary) -> Result<Diagram, CentrelineError> {
    let segments: Vec<Line<i32>> =
        boundary.edges.iter().map(|[a, b]| [a.x, a.y, b.x, b.y].into()).collect();
    let build = || Builder::<i32>::default().with_segments(segments.iter())?.build();
    let built = match catch_unwind(AssertUnwindSafe(build)) {
        Ok(Ok(diagram)) => return Ok(diagram),
        Ok(Err(error)) => error.to_string(),
        Err(_) => "its builder stopped unexpectedly".to_owned(),
    };
    let at = boundary.edges.first().map_or_else(Point::default, |edge| edge[0]);
    Err(CentrelineError::NoDiagram { at, edges: boundary.edges.len(), why: built })
}

fn site(boundary: &Boundary, cell: &Cell) -> Option<Site> {
    let (source, category) = cell.source_index_2();
    let [start, end] = *boundary.edges.get(source.usize())?;
    Some(match category {
        SourceCategory::Segment => Site::Edge(start, end),
        SourceCategory::SegmentEnd => Site::Corner(end),
        SourceCategory::SegmentStart | SourceCategory::SinglePoint => Site::Corner(start),
    })
}

/// Whether a curve between two sites lies in the material.
fn is_inside(boundary: &Boundary, left: Site, right: Site, ends: [[f64; 2]; 2]) -> bool {
    match (left, right) {
        (Site::Edge(a, b), _) | (_, Site::Edge(a, b)) => {
            let heights = ends.map(|end| height(a, b, end));
            heights[0] + heights[1] > 0.0 // both on one side; one may be a corner, at 0
        }
        (Site::Corner(a), Site::Corner(b)) => {
            let middle = [0, 1].map(|i| f64::midpoint(ends[0][i], ends[1][i]));
            [a, b].into_iter().any(|corner| {
                let reaches = |to| height(corner, to, middle) > 0.0;
                boundary.faces_material(corner, reaches)
            })
        }
    }
}

/// Adds a stretch of a curve as links between two nodes, finely enough.
fn add_curve(axis: &mut Axis, curve: &Curve, from: (f64, u32), to: (f64, u32), tolerance: f64) {
    let mut ahead = vec![(to.0, axis.nodes[to.1 as usize], Some(to.1))];
    match curve {
        Curve::Middle { .. } | Curve::Parabola { .. } if from.0 * to.0 < 0.0 => {
            ahead.push((0.0, curve.at(0.0), None)); // the narrowest place
        }
        Curve::Straight { .. } | Curve::Middle { .. } | Curve::Parabola { .. } => {}
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
