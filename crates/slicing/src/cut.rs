//! One plane through a posed mesh: following its contours from triangle to triangle.

use crate::half_edge::{HalfEdge, NO_PARTNER, next, position, previous, triangle};
use crate::posed::{Posed, Vertex, snap};
use base::Point;

/// Marks of visited triangles, one bit each; all clear between two sections.
#[derive(Clone, Debug, Default)]
pub(crate) struct Visited {
    bits: Vec<u64>,
    /// Bits set.
    count: usize,
}

impl Visited {
    /// Makes room for so many triangles, and wipes what a misfit topology may have left behind.
    pub(crate) fn prepare(&mut self, triangles: usize) {
        if self.count > 0 {
            self.bits.fill(0);
            self.count = 0;
        }
        if self.bits.len() * 64 < triangles {
            self.bits.resize(triangles.div_ceil(64), 0);
        }
    }

    /// Sets a mark; whether it was clear.
    fn set(&mut self, triangle: u32) -> bool {
        let Some(word) = self.bits.get_mut(triangle as usize / 64) else { return false };
        let bit = 1 << (triangle % 64);
        let was_clear = *word & bit == 0;
        *word |= bit;
        self.count += usize::from(was_clear);
        was_clear
    }

    /// Clears a mark; whether it was set.
    pub(crate) fn take(&mut self, triangle: u32) -> bool {
        let Some(word) = self.bits.get_mut(triangle as usize / 64) else { return false };
        let bit = 1 << (triangle % 64);
        let was_set = *word & bit != 0;
        *word &= !bit;
        self.count -= usize::from(was_set);
        was_set
    }
}

/// An edge that crosses the plane, seen from one of its triangles.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Crossing {
    /// The half-edge of that triangle.
    pub(crate) half_edge: u32,
    /// The vertex above the plane, or on it.
    pub(crate) upper: u32,
    /// The vertex below the plane.
    pub(crate) lower: u32,
}

/// How following a contour ended.
pub(crate) enum Trace {
    /// Back where it began; the points are the ring.
    Closed,
    /// At two edges without a partner: where the contour comes from, and where it goes.
    Open(Crossing, Crossing),
}

/// A plane and the mesh it cuts.
pub(crate) struct Cut<'a> {
    vertices: &'a [Vertex],
    half_edges: &'a [HalfEdge],
    plane_mm: f64,
    /// By how much to move the section, nm.
    shift_nm: [i32; 2],
}

impl<'a> Cut<'a> {
    pub(crate) fn new(posed: &'a Posed, plane: i32, shift_nm: [i32; 2]) -> Self {
        let (vertices, half_edges) = (&posed.vertices, &posed.half_edges);
        Self { vertices, half_edges, plane_mm: posed.plane_mm(plane), shift_nm }
    }

    /// Whether a triangle lies on both sides of the plane.
    pub(crate) fn crosses(&self, triangle: u32) -> bool {
        let [a, b, c] = self.corners(triangle).map(|v| self.is_above(v));
        a != b || b != c
    }

    fn corners(&self, triangle: u32) -> [u32; 3] {
        [0, 1, 2].map(|k| self.half_edges[3 * triangle as usize + k].start)
    }

    fn is_above(&self, vertex: u32) -> bool {
        self.vertices[vertex as usize].z_mm >= self.plane_mm
    }

    fn partner(&self, half_edge: u32) -> Option<u32> {
        Some(self.half_edges[position(half_edge)].partner).filter(|&p| p != NO_PARTNER)
    }

    /// Follows the contour through a triangle that crosses the plane, both ways if it is open, and
    /// marks the triangles it passes. `points` receives the contour, rounded to the grid, without
    /// repeating a point in succession; `before` is working space.
    ///
    /// Material is on the left of a triangle that is anticlockwise seen from outside.
    pub(crate) fn trace(
        &self,
        seed: u32,
        visited: &mut Visited,
        points: &mut Vec<Point>,
        before: &mut Vec<Point>,
    ) -> Trace {
        points.clear();
        let Some(start) = self.entry(seed) else { return Trace::Closed };
        visited.set(seed);

        let mut crossing = start;
        let last = loop {
            let exit = self.exit(crossing);
            push_unless_repeated(points, self.point(exit));
            let Some(entry) = self.partner(exit.half_edge) else { break exit };
            if !visited.set(triangle(entry)) {
                while points.len() > 1 && points.first() == points.last() {
                    points.pop();
                }
                return Trace::Closed;
            }
            crossing = Crossing { half_edge: entry, ..exit };
        };

        before.clear();
        before.push(self.point(start));
        let mut first = start;
        while let Some(exit) = self.partner(first.half_edge) {
            if !visited.set(triangle(exit)) {
                break; // only a topology of another mesh leads here
            }
            first = self.entry_before(Crossing { half_edge: exit, ..first });
            push_unless_repeated(before, self.point(first));
        }
        let forward = points.len();
        points.extend(before.iter().rev());
        points.rotate_left(forward);
        points.dedup();
        Trace::Open(first, last)
    }

    /// The edge by which the contour enters a triangle: it leads down through the plane.
    fn entry(&self, triangle: u32) -> Option<Crossing> {
        let corners = self.corners(triangle);
        let above = corners.map(|v| self.is_above(v));
        [0, 1, 2].into_iter().zip([1, 2, 0]).find(|&(k, l)| above[k] && !above[l]).map(|(k, l)| {
            let half_edge = 4 * triangle + [0, 1, 2][k];
            Crossing { half_edge, upper: corners[k], lower: corners[l] }
        })
    }

    /// The edge by which the contour leaves the triangle that it entered.
    #[inline]
    fn exit(&self, entry: Crossing) -> Crossing {
        let half_edge = previous(entry.half_edge);
        let third = self.half_edges[position(half_edge)].start;
        if self.is_above(third) {
            Crossing { half_edge: next(entry.half_edge), upper: third, ..entry }
        } else {
            Crossing { half_edge, lower: third, ..entry }
        }
    }

    /// The edge by which the contour entered the triangle that it leaves.
    fn entry_before(&self, exit: Crossing) -> Crossing {
        let half_edge = previous(exit.half_edge);
        let third = self.half_edges[position(half_edge)].start;
        if self.is_above(third) {
            Crossing { half_edge, upper: third, ..exit }
        } else {
            Crossing { half_edge: next(exit.half_edge), lower: third, ..exit }
        }
    }

    /// Where an edge meets the plane, to the nearest nm.
    ///
    /// Always computed from the lower end upwards: that depends on neither the triangle nor the
    /// numbering of the vertices, so all who share the edge get the same point.
    #[inline]
    fn point(&self, crossing: Crossing) -> Point {
        let p = &self.vertices[crossing.lower as usize];
        let q = &self.vertices[crossing.upper as usize];
        let t = (self.plane_mm - p.z_mm) / (q.z_mm - p.z_mm); // in 0..=1: rounding is monotonic
        Point::new(
            between(p.x_nm, q.x_nm, t) + self.shift_nm[0],
            between(p.y_nm, q.y_nm, t) + self.shift_nm[1],
        )
    }
}

/// The nearest nm to the point that divides the way from `p` to `q` in the ratio `t`; commutes with
/// adding integers to both.
#[inline]
fn between(p: f64, q: f64, t: f64) -> i32 {
    nearest(p + snap(t * (q - p))) // the difference and the sum are exact
}

/// Nearest integer to a multiple of 2⁻²⁰ below 2³⁰ in magnitude, halves up: so it commutes with
/// adding integers, which rounding halves away from zero does not.
#[expect(clippy::cast_possible_truncation, reason = "placed vertices are on the grid")]
fn nearest(nm: f64) -> i32 {
    // Truncation of a positive number is its floor, and one instruction.
    const LIFT: i64 = 1 << 31;
    ((nm + (LIFT as f64 + 0.5)) as i64 - LIFT) as i32
}

#[inline]
fn push_unless_repeated(points: &mut Vec<Point>, point: Point) {
    if points.last() != Some(&point) {
        points.push(point);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ratios and lengths that lead half way between two integers, near the origin and far away.
    #[test]
    fn crossings_move_exactly_with_their_edge() {
        const FAR: i32 = 1_000_000_007;
        for (denominator, numerator) in (1..40).flat_map(|d| (0..=d).map(move |n| (d, n))) {
            let t = f64::from(numerator) / f64::from(denominator);
            for length in (-200..200).map(|halves| 0.5 * f64::from(halves)) {
                let here = between(0.5, 0.5 + length, t);
                for far in [FAR, -FAR] {
                    let there = between(0.5 + f64::from(far), 0.5 + f64::from(far) + length, t);
                    assert_eq!(there - far, here, "{numerator}/{denominator} of {length}");
                }
                assert!((f64::from(here) - (0.5 + t * length)).abs() < 0.500_001);
            }
        }
    }
}
