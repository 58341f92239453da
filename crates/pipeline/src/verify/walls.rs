//! The boundary of what is to be fused in a layer, as edges of all sections that decide about it.
//!
//! What lies in all of several sections is as far from the boundary of the common part as it is from
//! the nearest edge of any of them; so distances are exact without the common part being known.

use super::around::Cut;
use super::boundary::Boundary;
use super::cores::Cores;
use super::expected::Corners;
use super::grid::{Grid, Xy, distance, length};
use super::lattice::edges;
use base::Point;
use std::cell::RefCell;

/// A straight edge with its material on the left.
#[derive(Clone, Copy, Debug)]
pub(super) struct Edge {
    pub(super) start: Xy,
    pub(super) end: Xy,
    /// Direction.
    pub(super) unit: Xy,
    pub(super) length: f64,
    /// Half the turn where the material bends around the start or the end, rad; 0 at corners of
    /// less than a straight angle, which an offset does not open.
    pub(super) bends: [f64; 2],
    /// Which of the sections it belongs to.
    pub(super) section: usize,
}

/// Edges of one or more sections.
pub(super) struct Walls<'a> {
    pub(super) edges: Vec<Edge>,
    grid: Grid,
    sections: Vec<&'a Cut>,
    cores: RefCell<Vec<Cores>>,
}

/// The nearest edge to a point.
#[derive(Clone, Copy, Debug)]
pub(super) struct Near {
    pub(super) distance: f64,
    pub(super) edge: usize,
    /// Whether the nearest point is an end of the edge, and how the material bends there.
    pub(super) corner: Option<f64>,
    /// Whether the point lies on the material's side.
    pub(super) is_inside: bool,
}

impl<'a> Walls<'a> {
    /// The edges of all sections, in cells of a size, nm.
    pub(super) fn new(sections: &[&'a Cut], cell: f64) -> Self {
        let mut all = Vec::with_capacity(sections.iter().map(|s| s.region.points().len()).sum());
        for (section, cut) in sections.iter().enumerate() {
            cut.region.rings().for_each(|ring| push_ring(ring, section, &mut all));
        }
        let segments: Vec<(Xy, Xy)> = all.iter().map(|edge| (edge.start, edge.end)).collect();
        let sections = sections.to_vec();
        Self { grid: Grid::new(&segments, cell), edges: all, sections, cores: RefCell::default() }
    }

    /// Visits the edges whose cells lie within `reach` of a point; some come more than once.
    pub(super) fn visit_near(&self, p: Xy, reach: f64, mut visit: impl FnMut(&Edge)) {
        self.grid.near(p, reach, |number| visit(&self.edges[number]));
    }

    /// The nearest edge within `reach`, nm.
    pub(super) fn nearest(&self, p: Xy, reach: f64) -> Option<Near> {
        let within = |reach: f64| {
            let mut best = None;
            self.grid.near(p, reach, |number| best = self.nearer(best, number, p, reach));
            best
        };
        // mostly it is much nearer, and fewer cells tell
        let best = within(reach / 4.0).or_else(|| within(reach));
        best.map(|(distance, t, number)| self.near_of(p, distance, t, number))
    }

    /// The nearest of some edges.
    pub(super) fn nearest_among(&self, edges: &[usize], p: Xy) -> Option<Near> {
        let nearer = |best, &number: &usize| self.nearer(best, number, p, f64::INFINITY);
        let best = edges.iter().fold(None, nearer);
        best.map(|(distance, t, number)| self.near_of(p, distance, t, number))
    }

    /// The nearer of an edge and the best so far: its distance, where along it, its number.
    fn nearer(
        &self,
        best: Option<(f64, f64, usize)>,
        number: usize,
        p: Xy,
        reach: f64,
    ) -> Option<(f64, f64, usize)> {
        let edge = &self.edges[number];
        let (d, t) = distance(p, (edge.start, edge.end));
        let is_nearer = best.map_or(d <= reach, |(least, ..)| d < least);
        if is_nearer { Some((d, t, number)) } else { best }
    }

    /// Distance of a point to an edge.
    pub(super) fn distance(&self, p: Xy, number: usize) -> f64 {
        let Edge { start, end, .. } = self.edges[number];
        distance(p, (start, end)).0
    }

    /// The edges within `reach` of a point.
    pub(super) fn edges_near(&self, p: Xy, reach: f64) -> Vec<usize> {
        let mut found = Vec::new();
        self.grid.near(p, reach, |number| {
            if self.distance(p, number) <= reach {
                found.push(number);
            }
        });
        found.sort_unstable();
        found.dedup();
        found
    }

    fn near_of(&self, p: Xy, distance: f64, t: f64, number: usize) -> Near {
        let edge = &self.edges[number];
        let corner = if t * edge.length < 1.0 {
            Some(edge.bends[0])
        } else if (1.0 - t) * edge.length < 1.0 {
            Some(edge.bends[1])
        } else {
            None
        };
        // Nearest to an end and beyond the edge's side lie only points around which material bends.
        let is_left = cross(edge.unit, [p[0] - edge.start[0], p[1] - edge.start[1]]) > 0.0;
        let is_inside = is_left || corner.is_some_and(|bend| bend > 1e-3);
        Near { distance, edge: number, corner, is_inside }
    }

    /// Whether an edge other than `own` comes nearer than `depth` to a point of the offset of `own`, or the
    /// tip of a corner may.
    pub(super) fn is_cut_off(&self, p: Xy, own: usize, depth: f64, corners: Corners) -> bool {
        const ROUNDING_NM: f64 = 3.0;
        let mut is_cut = false;
        let [from, to] = [self.edges[own].start, self.edges[own].end];
        self.grid.near(p, corners.reach(depth), |number| {
            let edge = &self.edges[number];
            if is_cut || number == own {
                return;
            }
            is_cut = distance(p, (edge.start, edge.end)).0 < depth - ROUNDING_NM;
            let is_own_corner = same(edge.start, to) || same(edge.start, from);
            if !is_cut && edge.bends[0] > 0.0 && !is_own_corner {
                let d = length([p[0] - edge.start[0], p[1] - edge.start[1]]);
                is_cut = d < corners.possible(depth, edge.bends[0]);
            }
        });
        is_cut
    }

    /// Whether a point lies within `reach` of an edge.
    pub(super) fn is_near(&self, p: Xy, reach: f64) -> bool {
        let mut is_near = false;
        self.grid.near(p, reach, |number| {
            let edge = &self.edges[number];
            is_near |= distance(p, (edge.start, edge.end)).0 <= reach;
        });
        is_near
    }

    /// Whether the offset by `depth` may pass a point on its way around a corner.
    pub(super) fn is_by_corner(&self, p: Xy, depth: f64, corners: Corners) -> bool {
        let mut is_by = false;
        self.grid.near(p, corners.reach(depth), |number| {
            let Edge { start, bends, .. } = &self.edges[number];
            let d = length([p[0] - start[0], p[1] - start[1]]);
            let reach = corners.certain(depth)..=corners.farthest(depth, bends[0]);
            is_by |= bends[0] > 0.0 && reach.contains(&d);
        });
        is_by
    }

    /// Calls `ask` with what is known of the centres of discs of a radius, to look up and to add to.
    pub(super) fn with_cores<T>(&self, radius: f64, ask: impl FnOnce(&mut Cores) -> T) -> T {
        let mut all = self.cores.borrow_mut();
        let known = all.iter().position(|cores| cores.radius.to_bits() == radius.to_bits());
        let index = known.unwrap_or_else(|| {
            all.push(Cores::new(self.bounds(), radius));
            all.len() - 1
        });
        ask(&mut all[index])
    }

    /// The lower left and the upper right corner of the edges' box.
    fn bounds(&self) -> (Xy, Xy) {
        let first = self.edges.first().map_or([0.0; 2], |edge| edge.start);
        self.edges.iter().fold((first, first), |(low, high), Edge { start, .. }| {
            let by_axis = |pick: fn(f64, f64) -> f64, of: Xy| [0, 1].map(|k| pick(of[k], start[k]));
            (by_axis(f64::min, low), by_axis(f64::max, high))
        })
    }

    /// The point of an edge nearest to another point.
    pub(super) fn foot(&self, p: Xy, edge: usize) -> Xy {
        let Edge { start, end, .. } = self.edges[edge];
        let t = distance(p, (start, end)).1;
        [start[0] + t * (end[0] - start[0]), start[1] + t * (end[1] - start[1])]
    }

    /// Whether a point lies in all sections, but for `except`.
    pub(super) fn holds(&self, p: Xy, except: Option<usize>) -> bool {
        let p = point(p);
        let mut others = self.sections.iter().enumerate().filter(|(i, _)| Some(*i) != except);
        others.all(|(_, section)| section.boundary().is_inside(p))
    }

    /// The boundaries, one for each section.
    pub(super) fn boundaries(&self) -> impl Iterator<Item = &'a Boundary> {
        self.sections.iter().map(|section| section.boundary())
    }
}

fn push_ring(ring: &[Point], section: usize, all: &mut Vec<Edge>) {
    let first = all.len();
    for (a, b) in edges(ring) {
        let (start, end) = (xy(a), xy(b));
        let length = length([end[0] - start[0], end[1] - start[1]]);
        if length > 0.0 {
            let unit = [(end[0] - start[0]) / length, (end[1] - start[1]) / length];
            all.push(Edge { start, end, unit, length, bends: [0.0; 2], section });
        }
    }
    let ring = &mut all[first..];
    for i in 0..ring.len() {
        let before = if i == 0 { ring.len() - 1 } else { i - 1 };
        let (a, b) = (ring[before].unit, ring[i].unit);
        let half = (-cross(a, b)).atan2(1.0 + a[0] * b[0] + a[1] * b[1]).max(0.0);
        ring[before].bends[1] = half;
        ring[i].bends[0] = half;
    }
    join_bends(ring);
}

/// Corners closer than this bend as one: an offset sees little of what is between, nm.
const ONE_CORNER_NM: f64 = 20_000.0;

/// Adds up how the material bends around corners that are next to each other.
fn join_bends(ring: &mut [Edge]) {
    if ring.iter().all(|edge| edge.length >= ONE_CORNER_NM) {
        return;
    }
    let alone: Vec<f64> = ring.iter().map(|edge| edge.bends[0]).collect();
    let n = ring.len();
    for i in 0..n {
        let mut sum = alone[i];
        let mut far = 0.0;
        for ahead in 1..n {
            far += ring[(i + ahead - 1) % n].length;
            if far >= ONE_CORNER_NM {
                break;
            }
            sum += alone[(i + ahead) % n];
        }
        far = 0.0;
        for back in 1..n {
            far += ring[(i + n - back) % n].length;
            if far >= ONE_CORNER_NM {
                break;
            }
            sum += alone[(i + n - back) % n];
        }
        let sum = sum.min(std::f64::consts::FRAC_PI_2);
        ring[i].bends[0] = sum;
        ring[(i + n - 1) % n].bends[1] = sum;
    }
}

pub(super) fn cross(a: Xy, b: Xy) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

pub(super) fn dot(a: Xy, b: Xy) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn same(a: Xy, b: Xy) -> bool {
    a.map(f64::to_bits) == b.map(f64::to_bits)
}

pub(super) fn xy(p: Point) -> Xy {
    [f64::from(p.x), f64::from(p.y)]
}

/// The nearest grid point.
pub(super) fn point(p: Xy) -> Point {
    #[expect(clippy::cast_possible_truncation, reason = "positions near a section are on the grid")]
    let [x, y] = p.map(|c| c.round() as i32);
    Point::new(x, y)
}
