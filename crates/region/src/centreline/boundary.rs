//! The boundary of an island, made ready for its Voronoi edges: noise below the tolerance left out,
//! edges split where rings touch them, crossings refused, and edges told apart that cannot bound
//! a thin wall. What is topology is decided in integers.

use super::facing::{face_each_other, with_neighbours};
use super::simplify::simplify_ring;
use super::types::{CentrelineError, CentrelineOptions};
use crate::Region;
use base::Point;
use std::f64::consts::{PI, TAU};

/// Where edges are to be split: which edge, and at which point.
type Splits = Vec<(usize, Point)>;

/// Edges that meet at end points only, material on the left.
pub(super) struct Boundary {
    /// Start and end of each edge that may bound a thin wall.
    pub(super) edges: Vec<[Point; 2]>,
    /// All other edges.
    pub(super) rest: Vec<[Point; 2]>,
    /// Each end of each edge: where, the other end, whether the edge starts here. Sorted.
    ends: Vec<(Point, Point, bool)>,
}

impl Boundary {
    /// Prepares the edges of an island. If leaving out noise makes edges cross, it is taken as it is.
    pub(super) fn of(
        island: &Region,
        options: &CentrelineOptions,
    ) -> Result<Self, CentrelineError> {
        // Half of the tolerance, and never so much that it could close a wall worth exposing.
        let tolerance = (f64::from(options.chord_tolerance_nm) / 2.0)
            .min(f64::from(options.max_half_width_nm) / 16.0)
            .min(f64::from(options.min_half_width_nm.max(8)) / 4.0);
        let mut kept = Vec::new();
        let (mut coarse, mut ring_ends) = (Vec::new(), Vec::new());
        for ring in island.rings() {
            simplify_ring(ring, tolerance, &mut kept);
            push_edges(&kept, &mut coarse);
            ring_ends.push(coarse.len());
        }
        if let Ok(boundary) = Self::new(coarse, &ring_ends, options) {
            return Ok(boundary);
        }
        let mut fine = Vec::with_capacity(island.points().len());
        ring_ends.clear();
        for ring in island.rings() {
            push_edges(ring, &mut fine);
            ring_ends.push(fine.len());
        }
        Self::new(fine, &ring_ends, options)
    }

    fn new(
        mut edges: Vec<[Point; 2]>,
        ring_ends: &[usize],
        options: &CentrelineOptions,
    ) -> Result<Self, CentrelineError> {
        let reach = 2 * i64::from(options.max_half_width_nm);
        let (mut thin, splits) = met(&edges, reach)?;
        let mut start = 0;
        for &end in ring_ends {
            with_neighbours(&edges[start..end], &mut thin[start..end], reach as f64);
            start = end;
        }
        if !splits.is_empty() {
            // Rare enough not to follow which piece came from where.
            edges = split(&edges, splits);
            thin = vec![true; edges.len()];
        }
        let mut ends: Vec<_> =
            edges.iter().flat_map(|&[a, b]| [(a, b, true), (b, a, false)]).collect();
        ends.sort_unstable();
        let mut is_thin = thin.into_iter();
        let (edges, rest) = edges.into_iter().partition(|_| is_thin.next().unwrap_or(true));
        Ok(Self { edges, rest, ends })
    }

    /// The corners with an angle of more than 180° in the material. Of several rings that touch in a
    /// point at most one leaves such an angle.
    pub(super) fn reflex_corners(&self) -> Vec<Reflex> {
        let mut of_thin: Vec<Point> = self.edges.iter().flatten().copied().collect();
        of_thin.sort_unstable();
        let mut found = Vec::new();
        for here in self.ends.chunk_by(|a, b| a.0 == b.0) {
            let at = here[0].0;
            let mut rays: Vec<_> = here.iter().map(|&(_, to, starts)| (to, starts)).collect();
            if rays.len() > 2 {
                rays.sort_by(|a, b| angle(at, a.0).total_cmp(&angle(at, b.0)));
            }
            // Material begins where an edge starts and goes on, counter-clockwise, until the next ray.
            let next = rays.iter().cycle().skip(1);
            let mut sectors = rays.iter().zip(next).filter(|((_, starts), _)| *starts);
            let reflex = sectors.find(|((to, _), (next, _))| at.cross(*to, *next) < 0);
            if let Some((&(to, _), &(next, _))) = reflex {
                let wide = (angle(at, next) - angle(at, to)).rem_euclid(TAU);
                let (sin, cos) = (angle(at, to) + wide / 2.0).sin_cos();
                let is_thin = of_thin.binary_search(&at).is_ok();
                found.push(Reflex { at, middle: [cos, sin], half: (wide - PI) / 2.0, is_thin });
            }
        }
        found
    }
}

/// A corner with an angle of more than 180° in the material: a disc may touch it, and no edge.
#[derive(Clone, Copy)]
pub(super) struct Reflex {
    pub(super) at: Point,
    /// The directions from the corner to centres of such discs: up to `half` radians to both sides of this.
    pub(super) middle: [f64; 2],
    pub(super) half: f64,
    /// Whether an edge there may bound a thin wall.
    pub(super) is_thin: bool,
}

/// Direction from one point to another, radians.
fn angle(from: Point, to: Point) -> f64 {
    (f64::from(to.y) - f64::from(from.y)).atan2(f64::from(to.x) - f64::from(from.x))
}

fn push_edges(ring: &[Point], edges: &mut Vec<[Point; 2]>) {
    let next = ring.iter().cycle().skip(1);
    edges.extend(ring.iter().zip(next).map(|(&a, &b)| [a, b]).filter(|[a, b]| a != b));
}

/// Meets every edge with all that are near, sweeping along the axis in which edges are shorter.
/// Returns which edges face another less than `reach` nm away, and where edges are to be split.
fn met(edges: &[[Point; 2]], reach: i64) -> Result<(Vec<bool>, Splits), CentrelineError> {
    let extent = |f: fn(Point) -> i32| -> i64 {
        edges.iter().map(|[a, b]| (i64::from(f(*a)) - i64::from(f(*b))).abs()).sum()
    };
    let along: [fn(Point) -> i32; 2] =
        if extent(|p| p.x) <= extent(|p| p.y) { [|p| p.x, |p| p.y] } else { [|p| p.y, |p| p.x] };
    let span = |[a, b]: [Point; 2], f: fn(Point) -> i32| {
        (i64::from(f(a).min(f(b))), i64::from(f(a).max(f(b))))
    };
    // Low and high coordinate along the sweep, then across it, and the edge.
    let mut swept: Vec<_> = edges
        .iter()
        .enumerate()
        .map(|(i, &edge)| (span(edge, along[0]), span(edge, along[1]), i))
        .collect();
    swept.sort_unstable();
    let mut splits = Splits::new();
    let mut thin = vec![false; edges.len()];
    let mut active: Vec<usize> = Vec::new();
    for (at, &((low, _), across, i)) in swept.iter().enumerate() {
        active.retain(|&other| swept[other].0.1 + reach >= low);
        for &other in &active {
            let (other_along, other_across, j) = swept[other];
            let gap = (across.0 - other_across.1).max(other_across.0 - across.1);
            if gap > reach {
                continue;
            }
            if gap <= 0 && other_along.1 >= low {
                meet(edges, i, j, &mut splits)?;
            }
            if !(thin[i] && thin[j]) && face_each_other(edges[i], edges[j], reach as f64) {
                thin[i] = true;
                thin[j] = true;
            }
        }
        active.push(at);
    }
    Ok((thin, splits))
}

/// Notes where an end of one edge lies inside the other.
fn meet(
    edges: &[[Point; 2]],
    i: usize,
    j: usize,
    splits: &mut Splits,
) -> Result<(), CentrelineError> {
    let ([a, b], [c, d]) = (edges[i], edges[j]);
    let (c_side, d_side) = (a.cross(b, c).signum(), a.cross(b, d).signum());
    if c_side * d_side > 0 {
        return Ok(());
    }
    let (a_side, b_side) = (c.cross(d, a).signum(), c.cross(d, b).signum());
    if c_side * d_side < 0 && a_side * b_side < 0 {
        return Err(CentrelineError::EdgesCross { at: a });
    }
    for (edge, [from, to], p, side) in [
        (i, [a, b], c, c_side),
        (i, [a, b], d, d_side),
        (j, [c, d], a, a_side),
        (j, [c, d], b, b_side),
    ] {
        let within =
            |f: fn(Point) -> i32| (f(from).min(f(to))..=f(from).max(f(to))).contains(&f(p));
        if side == 0 && p != from && p != to && within(|p| p.x) && within(|p| p.y) {
            splits.push((edge, p));
        }
    }
    Ok(())
}

/// Splits edges and drops what is there to and fro.
fn split(edges: &[[Point; 2]], mut splits: Splits) -> Vec<[Point; 2]> {
    splits.sort_by(|(i, p), (j, q)| {
        let start = edges[*i][0];
        i.cmp(j).then(start.distance(*p).total_cmp(&start.distance(*q))).then(p.cmp(q))
    });
    splits.dedup();
    let mut pieces = Vec::with_capacity(edges.len() + splits.len());
    let mut splits = splits.into_iter().peekable();
    for (i, &[start, end]) in edges.iter().enumerate() {
        let mut from = start;
        while let Some((_, p)) = splits.next_if(|(edge, _)| *edge == i) {
            pieces.push([from, p]);
            from = p;
        }
        pieces.push([from, end]);
    }
    let undirected = |[a, b]: [Point; 2]| [a.min(b), a.max(b)];
    pieces.sort_unstable_by_key(|&piece| undirected(piece));
    let mut once: Vec<[Point; 2]> = Vec::with_capacity(pieces.len());
    for piece in pieces {
        match once.last() {
            Some(&last) if last == [piece[1], piece[0]] => drop(once.pop()),
            Some(&last) if last == piece => {}
            _ => once.push(piece),
        }
    }
    once
}
