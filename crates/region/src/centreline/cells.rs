//! The Voronoi edges of a boundary in its material, where their clearance is below a limit.
//!
//! They are found cell by cell. A disc that touches a site, an edge or a reflex corner, and lies in the
//! material grows until it touches another; its centre is then on the edge of the diagram between
//! the two. How far it may grow before it touches a given site is a simple function of where it
//! touches its own, so the diagram's edges around a cell are the lower envelope of such
//! functions of the sites near by. Only what is nearer than twice the limit is ever looked at, and
//! cells are independent of each other: a general builder of the whole diagram takes several times as long.

use super::boundary::{Boundary, Reflex};
use super::curve::Site;
use super::envelope::{Envelope, Front};
use super::nearby::Nearby;
use super::plane::{Straight, Vector, cross, dot, float, left, vector};
use base::Point;
use std::f64::consts::{FRAC_PI_2, TAU};

/// An edge of the diagram that lies in the material.
pub(super) struct Bisector {
    pub(super) sites: [Site; 2],
    /// x, y and clearance at its ends, nm.
    pub(super) ends: [[f64; 3]; 2],
}

impl Bisector {
    /// `None` for slivers that rounding leaves where functions end side by side.
    fn between(sites: [Site; 2], ends: [[f64; 3]; 2]) -> Option<Self> {
        let [from, to] = ends;
        ((from[0] - to[0]).hypot(from[1] - to[1]) > SLIVER_NM).then_some(Self { sites, ends })
    }
}

/// All bisectors of sites that may bound a thin wall, below a clearance in nm.
pub(super) fn bisectors(boundary: &Boundary, limit: f64) -> Vec<Bisector> {
    let reflex = boundary.reflex_corners();
    let mut work = Work::new(boundary, &reflex, limit);
    for edge in 0..boundary.edges.len() {
        work.around_edge(edge);
    }
    for corner in 0..reflex.len() {
        work.around_corner(corner);
    }
    work.found
}

/// What lies less than this above an edge's line, nm, is a point of the edge.
const TOUCHING: f64 = 1e-2;

/// Bisectors are longer than this, nm.
const SLIVER_NM: f64 = 1e-3;

/// Radius of a disc that touches an edge at a distance t along it: a polynomial.
#[derive(Clone, Copy, Debug)]
struct AlongEdge([f64; 3]);

impl Front for AlongEdge {
    fn radius(&self, at: f64) -> f64 {
        let [a, b, c] = self.0;
        (c * at + b) * at + a
    }

    fn meetings(&self, other: &Self) -> [f64; 2] {
        let [a, b, c] = [0, 1, 2].map(|k| self.0[k] - other.0[k]);
        // The stable form: no difference of nearly equal numbers.
        let root = (b * b - 4.0 * a * c).sqrt();
        let sum = -0.5 * (b + root.copysign(b));
        [sum / c, a / sum]
    }
}

/// Radius of a disc that touches a corner in a direction d, an angle from the middle of the directions that
/// the corner has: size / (level − pull·d).
#[derive(Clone, Copy, Debug)]
struct AroundCorner {
    size: f64,
    level: f64,
    pull: Vector,
}

impl Front for AroundCorner {
    fn radius(&self, at: f64) -> f64 {
        let (sin, cos) = at.sin_cos();
        self.size / (self.level - dot(self.pull, [cos, sin])).max(0.0)
    }

    fn meetings(&self, other: &Self) -> [f64; 2] {
        let pull = [0, 1].map(|k| other.size * self.pull[k] - self.size * other.pull[k]);
        let level = other.size * self.level - self.size * other.level;
        let middle = pull[1].atan2(pull[0]);
        let apart = (level / pull[0].hypot(pull[1])).acos();
        let wrapped = |angle: f64| (angle + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
        [wrapped(middle - apart), wrapped(middle + apart)]
    }
}

struct Work<'a> {
    reflex: &'a [Reflex],
    edges: Vec<Straight>,
    /// Edges from this on bound no thin wall.
    thin: usize,
    limit: f64,
    /// Edges, then reflex corners.
    nearby: Nearby,
    candidates: Vec<(f64, u32)>,
    along: Envelope<AlongEdge>,
    around: Envelope<AroundCorner>,
    found: Vec<Bisector>,
}

impl<'a> Work<'a> {
    fn new(boundary: &Boundary, reflex: &'a [Reflex], limit: f64) -> Self {
        let edges = || boundary.edges.iter().chain(&boundary.rest).copied();
        let corners = reflex.iter().map(|corner| [corner.at, corner.at]);
        let segments: Vec<[Point; 2]> = edges().chain(corners).collect();
        Self {
            reflex,
            edges: edges().map(Straight::new).collect(),
            thin: boundary.edges.len(),
            limit,
            nearby: Nearby::of(&segments, limit),
            candidates: Vec::new(),
            along: Envelope::default(),
            around: Envelope::default(),
            found: Vec::new(),
        }
    }

    fn site(&self, number: u32) -> Site {
        match self.edges.get(number as usize) {
            Some(edge) => Site::Edge(edge.start, edge.end),
            None => Site::Corner(self.reflex[number as usize - self.edges.len()].at),
        }
    }

    /// Whether the bisector with a site is to be found from the cell of another: once of each pair.
    fn is_wanted(&self, cell: usize, site: u32) -> bool {
        let site = site as usize;
        let is_thin = || match site.checked_sub(self.edges.len()) {
            Some(corner) => self.reflex[corner].is_thin,
            None => site < self.thin,
        };
        site > cell && is_thin()
    }

    /// Long edges span by span, lest each of a thousand teeth be met with each.
    fn around_edge(&mut self, cell: usize) {
        let edge = self.edges[cell];
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
        let spans = (edge.length / (4.0 * self.limit)).ceil().max(1.0) as u32;
        let part = |number: u32| edge.length * (f64::from(number) / f64::from(spans));
        for number in 0..spans {
            self.along_span(cell, &edge, [part(number), part(number + 1)]);
        }
    }

    fn along_span(&mut self, cell: usize, edge: &Straight, span: [f64; 2]) {
        self.look_along(cell, edge, span);
        let Self { limit, reflex, edges, candidates, along, .. } = self;
        let [from, to] = span;
        along.restart(span, AlongEdge([*limit, 0.0, 0.0]));
        let mut largest = *limit;
        for &(least, thing) in candidates.iter() {
            if least > largest {
                break;
            }
            let front = if let Some(other) = edges.get(thing as usize) {
                from_edge_to_edge(edge, other)
            } else {
                let corner = reflex[thing as usize - edges.len()].at;
                from_edge_to_corner(edge.local(corner), *limit)
            };
            if let Some((front, [low, high])) = front {
                along.lower(thing, front, [low.max(from), high.min(to)]);
                largest = along.largest();
            }
        }
        for piece in self.along.pieces() {
            let Some(site) = piece.site.filter(|&site| self.is_wanted(cell, site)) else {
                continue;
            };
            let end = |t: f64| {
                let radius = piece.front.radius(t);
                let [x, y] = edge.place(t, radius);
                [x, y, radius]
            };
            let sites = [Site::Edge(edge.start, edge.end), self.site(site)];
            self.found.extend(Bisector::between(sites, [end(piece.from), end(piece.to)]));
        }
    }

    /// The candidates that a disc on a span of an edge may touch, each with the least radius for that.
    fn look_along(&mut self, cell: usize, edge: &Straight, [from, to]: [f64; 2]) {
        let Self { limit, reflex, edges, candidates, nearby, .. } = self;
        let limit = *limit;
        let (low, high) = box_of(&[
            edge.place(from - limit, 0.0),
            edge.place(to + limit, 0.0),
            edge.place(from - limit, 2.0 * limit),
            edge.place(to + limit, 2.0 * limit),
        ]);
        candidates.clear();
        nearby.each(low, high, |thing| {
            if thing as usize == cell {
                return;
            }
            let [[a, up], [b, also_up]] = match edges.get(thing as usize) {
                Some(other) => [edge.local(other.start), edge.local(other.end)],
                None => [edge.local(reflex[thing as usize - edges.len()].at); 2],
            };
            let beside = (a.min(b) - to).max(from - a.max(b));
            let least = (up.min(also_up) / 2.0).max(beside).max(0.0);
            if up.max(also_up) > TOUCHING && least < limit {
                candidates.push((least, thing));
            }
        });
        nearest_first(candidates);
    }

    fn around_corner(&mut self, number: usize) {
        let cell = self.edges.len() + number;
        let corner = self.reflex[number];
        if !corner.is_thin {
            return;
        }
        self.look_around(&corner);
        let Self { limit, reflex, edges, candidates, around, .. } = self;
        let Reflex { at, middle, half, .. } = corner;
        around.restart([-half, half], AroundCorner { size: *limit, level: 1.0, pull: [0.0; 2] });
        let mut largest = *limit;
        for &(least, thing) in candidates.iter() {
            if least > largest {
                break;
            }
            let front = if let Some(edge) = edges.get(thing as usize) {
                from_corner_to_edge(at, middle, edge)
            } else {
                let other = reflex[thing as usize - edges.len()].at;
                Some(from_corner_to_corner(at, middle, other))
            };
            if let Some((front, domain)) = front {
                for turn in [-TAU, 0.0, TAU] {
                    let [low, high] = domain.map(|angle| angle + turn);
                    around.lower(thing, front, [low.max(-half), high.min(half)]);
                }
                largest = around.largest();
            }
        }
        for piece in self.around.pieces() {
            let Some(site) = piece.site.filter(|&site| self.is_wanted(cell, site)) else {
                continue;
            };
            let end = |angle: f64| {
                let radius = piece.front.radius(angle);
                let (sin, cos) = angle.sin_cos();
                let [x, y] = seen_from(&corner, radius * cos, radius * sin);
                [x, y, radius]
            };
            let sites = [Site::Corner(at), self.site(site)];
            self.found.extend(Bisector::between(sites, [end(piece.from), end(piece.to)]));
        }
    }

    /// The same for discs around a corner.
    fn look_around(&mut self, corner: &Reflex) {
        let Self { limit, reflex, edges, candidates, nearby, .. } = self;
        let (limit, at) = (*limit, corner.at);
        let (behind, beside) =
            (limit * (corner.half.cos() - 1.0), limit * (1.0 + corner.half.sin()));
        let (low, high) = box_of(&[
            seen_from(corner, behind, -beside),
            seen_from(corner, behind, beside),
            seen_from(corner, 2.0 * limit, -beside),
            seen_from(corner, 2.0 * limit, beside),
        ]);
        candidates.clear();
        nearby.each(low, high, |thing| {
            let distance = match edges.get(thing as usize) {
                Some(edge) if edge.start == at || edge.end == at => return,
                Some(edge) => edge.distance(float(at)),
                None => reflex[thing as usize - edges.len()].at.distance(at),
            };
            if 0.0 < distance && distance < 2.0 * limit {
                candidates.push((distance / 2.0, thing));
            }
        });
        nearest_first(candidates);
    }
}

fn nearest_first(candidates: &mut [(f64, u32)]) {
    candidates.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
}

/// A place by how far it is from a corner along the middle of its directions, and to the left of that.
fn seen_from(corner: &Reflex, ahead: f64, aside: f64) -> Vector {
    let across = left(corner.middle);
    let at = float(corner.at);
    [0, 1].map(|k| at[k] + ahead * corner.middle[k] + aside * across[k])
}

/// A front, and the interval in which it holds.
type Limited<F> = Option<(F, [f64; 2])>;

/// The disc that touches one edge at t touches the inner side of another: linear in t.
fn from_edge_to_edge(edge: &Straight, other: &Straight) -> Limited<AlongEdge> {
    let (u, v) = (edge.along, other.along);
    let (cos, sin) = (dot(u, v), cross(u, v));
    // 1 − cos, also where that is small
    let apart = if cos > 0.0 { sin * sin / (1.0 + cos) } else { 1.0 - cos };
    if apart == 0.0 {
        return None;
    }
    let between = vector(edge.start, other.start);
    let (rise, slope) = (-dot(left(v), between) / apart, dot(left(v), u) / apart);
    // Both edges are touched at the same distance from where their lines meet: what one gains, the
    // other loses.
    let high = rise * sin - dot(v, between);
    let low = high - other.length;
    // Behind the other edge there is no disc.
    let zero = -rise / slope;
    let (low, high) = match slope {
        slope if slope > 0.0 => (low.max(zero), high),
        slope if slope < 0.0 => (low, high.min(zero)),
        _ if rise <= 0.0 => return None,
        _ => (low, high),
    };
    Some((AlongEdge([rise, slope, 0.0]), [low, high]))
}

/// The same for a corner, given by how far along the edge it is and how high above.
fn from_edge_to_corner([t, up]: Vector, limit: f64) -> Limited<AlongEdge> {
    let reach = (up * (2.0 * limit - up)).sqrt(); // no number where the corner is out of reach
    let front = AlongEdge([(t * t + up * up) / (2.0 * up), -t / up, 0.5 / up]);
    (up > 0.0).then_some((front, [t - reach, t + reach]))
}

/// The disc that touches a corner in a direction touches the inner side of an edge.
fn from_corner_to_edge(at: Point, middle: Vector, edge: &Straight) -> Limited<AroundCorner> {
    let normal = left(edge.along);
    let from_start = vector(edge.start, at);
    let (ahead, height) = (dot(edge.along, from_start), dot(normal, from_start));
    if height <= 0.0 {
        return None;
    }
    let turned = |v: Vector| [dot(v, middle), cross(middle, v)];
    let pull = turned(normal);
    // Where it touches, from the corner's foot, is height · cot(ψ/2), ψ the angle from the edge's
    // normal clockwise to the direction.
    let from_normal = |reached: f64| 2.0 * height.atan2(reached - ahead);
    let angle = pull[1].atan2(pull[0]);
    let domain = [angle - from_normal(0.0), angle - from_normal(edge.length)];
    Some((AroundCorner { size: height, level: 1.0, pull }, domain))
}

/// The same for another corner.
fn from_corner_to_corner(at: Point, middle: Vector, other: Point) -> (AroundCorner, Vector) {
    let between = vector(at, other);
    let [x, y] = [dot(between, middle), cross(middle, between)];
    let angle = y.atan2(x);
    let front = AroundCorner { size: f64::midpoint(x * x, y * y), level: 0.0, pull: [-x, -y] };
    (front, [angle - FRAC_PI_2, angle + FRAC_PI_2])
}

fn box_of(places: &[Vector]) -> (Vector, Vector) {
    let all = |start: f64, pick: fn(f64, f64) -> f64| {
        [0, 1].map(|k| places.iter().map(|place| place[k]).fold(start, pick))
    };
    (all(f64::MAX, f64::min), all(f64::MIN, f64::max))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::centreline::CentrelineOptions;
    use crate::{Containment, Region};
    use boostvoronoi::prelude::{Builder, Line};

    /// A plate with a ragged upper side and a row of triangular holes.
    fn plate(random: &mut impl FnMut(i32) -> i32, step: i32) -> Region {
        let mut outline = vec![Point::new(0, -500_000), Point::new(4_000_000, -500_000)];
        let mut x = 4_000_000;
        while x > 100_000 {
            outline.push(Point::new(x, random(300_000)));
            x -= 5_000 + random(step);
        }
        let mut rings = vec![outline];
        for hole in 0..8 {
            let (x, y) = (200_000 + hole * 450_000 + random(9_000), -450_000 + random(9_000));
            let corners = [[0, 0], [60_000 + random(90_000), 200_000], [250_000, random(99_000)]];
            rings.push(corners.map(|[dx, dy]| Point::new(x + dx, y + dy)).to_vec());
        }
        Region::from_proper_rings(rings)
    }

    /// The vertices of the diagram by crate `boostvoronoi`: Fortune's sweep with exact predicates.
    fn by_general_builder(edges: &[[Point; 2]]) -> Vec<Vector> {
        let segments: Vec<Line<i32>> =
            edges.iter().map(|[a, b]| [a.x, a.y, b.x, b.y].into()).collect();
        let builder = Builder::<i32>::default().with_segments(segments.iter()).unwrap();
        let diagram = builder.build().unwrap();
        diagram.vertices().iter().map(|vertex| [vertex.x(), vertex.y()]).collect()
    }

    /// The vertices below the limit are those of a general builder, to 8 nm.
    #[test]
    fn the_vertices_are_those_of_a_general_builder() {
        let mut seed = 11_u32;
        let mut random = |below: i32| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223); // Numerical Recipes
            i32::try_from((i64::from(seed >> 16) * i64::from(below)) >> 16).unwrap()
        };
        let mut compared = 0;
        for round in 0..60 {
            let region = plate(&mut random, if round % 2 == 0 { 80_000 } else { 800_000 });
            let limit = 60_000 + random(200_000);
            let options = CentrelineOptions {
                max_half_width_nm: limit,
                min_half_width_nm: 50,
                min_length_nm: 300,
                chord_tolerance_nm: 0,
            };
            let mut boundary = Boundary::of(&region, &options).unwrap();
            boundary.edges.append(&mut boundary.rest);
            let limit = f64::from(limit);
            let ours: Vec<[f64; 3]> =
                bisectors(&boundary, limit).into_iter().flat_map(|found| found.ends).collect();

            let edges: Vec<Straight> = boundary.edges.iter().copied().map(Straight::new).collect();
            let clearance =
                |at: Vector| edges.iter().map(|edge| edge.distance(at)).fold(f64::MAX, f64::min);
            #[expect(clippy::cast_possible_truncation, reason = "within 4 mm")]
            let is_inside = |[x, y]: Vector| {
                let here = Point::new(x.round() as i32, y.round() as i32);
                region.contains(here) == Containment::Inside
            };
            let theirs: Vec<Vector> = by_general_builder(&boundary.edges)
                .into_iter()
                .filter(|at| at.iter().all(|c| c.abs() < 1e7))
                .filter(|&at| is_inside(at) && clearance(at) > 50.0)
                .collect();
            let near = |[x, y]: Vector, [u, v]: Vector| (x - u).hypot(y - v) < 8.0;
            for &vertex in theirs.iter().filter(|&&at| clearance(at) < limit - 10.0) {
                assert!(ours.iter().any(|&[x, y, _]| near([x, y], vertex)), "missing: {vertex:?}");
                compared += 1;
            }
            for &[x, y, radius] in &ours {
                assert!((clearance([x, y]) - radius).abs() < 1.0, "{x} {y} {radius}");
                // Long edges are looked at span by span, and the limit ends what has no end there.
                let is_end = radius > 100.0
                    && radius < limit - 10.0
                    && edges.iter().all(|edge| edge.length < 4.0 * limit);
                assert!(!is_end || theirs.iter().any(|&at| near([x, y], at)), "false: {x} {y}");
            }
        }
        assert!(compared > 3_000, "{compared}");
    }
}
