//! The boundary of a region, asked for what is nearest.

use region::Region;

use crate::buckets::{Buckets, Segment};

/// An edge of a region, by ring and by its number within.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct EdgeName {
    pub(super) ring: usize,
    pub(super) edge: usize,
}

/// What is nearest on a boundary.
#[derive(Clone, Copy, Debug)]
pub(super) struct Near {
    pub(super) name: EdgeName,
    pub(super) at: [f64; 2],
    pub(super) distance: f64,
    /// The same, negative inside of the region.
    pub(super) signed: f64,
}

/// The edges of a proper region, by place.
pub(super) struct Boundary {
    segments: Vec<Segment>,
    names: Vec<EdgeName>,
    /// Number of edges in each ring.
    ring_sizes: Vec<usize>,
    buckets: Buckets,
}

impl Boundary {
    pub(super) fn new(region: &Region) -> Self {
        let mut segments = Vec::with_capacity(region.points().len());
        let mut names = Vec::with_capacity(region.points().len());
        for (ring, points) in region.rings().enumerate() {
            for (edge, a) in points.iter().enumerate() {
                let b = points[(edge + 1) % points.len()];
                segments.push([a.to_mm(), b.to_mm()]);
                names.push(EdgeName { ring, edge });
            }
        }
        let ring_sizes = region.rings().map(<[_]>::len).collect();
        // about two edges to a cell, if they lie evenly
        let area = region.bounds_mm().map_or(0.0, |[[x0, y0], [x1, y1]]| (x1 - x0) * (y1 - y0));
        let size = (2.0 * area / segments.len().max(1) as f64).sqrt().max(1e-6);
        let buckets = Buckets::new(&segments, 0.0, size);
        Self { segments, names, ring_sizes, buckets }
    }

    /// The nearest edge among those that `counts` accepts. Of several at the same distance, the first.
    pub(super) fn nearest(
        &self,
        place: [f64; 2],
        counts: impl Fn(EdgeName) -> bool,
    ) -> Option<Near> {
        let [columns, rows] = self.buckets.counts();
        let [column, row] = self.buckets.cell_of(place);
        let mut best: Option<(f64, u32)> = None;
        for radius in 0..columns.max(rows) {
            // cells of the rings further out are farther away than this
            let seen = radius.saturating_sub(1) as f64 * self.buckets.size();
            if best.is_some_and(|(distance, _)| distance < seen) {
                break;
            }
            for_ring([column, row], radius, [columns, rows], |cell| {
                for &number in self.buckets.in_cell(cell) {
                    if counts(self.names[number as usize]) {
                        let (at, _) = closest(&self.segments[number as usize], place);
                        let distance = (at[0] - place[0]).hypot(at[1] - place[1]);
                        if best.is_none_or(|best| (distance, number) < best) {
                            best = Some((distance, number));
                        }
                    }
                }
            });
        }
        best.map(|(distance, number)| self.described(number as usize, place, distance))
    }

    fn described(&self, number: usize, place: [f64; 2], distance: f64) -> Near {
        let (at, t) = closest(&self.segments[number], place);
        let left = self.side(number, t, place);
        let signed = if left > 0.0 { -distance } else { distance };
        Near { name: self.names[number], at, distance, signed }
    }

    /// Above zero if a place, nearest to an edge at `t`, lies in the region, which is left of its edges.
    ///
    /// Nearest to a vertex, a place lies in the wedge between the normals of both edges: outside of a
    /// corner that turns left, inside of one that turns right.
    fn side(&self, number: usize, t: f64, place: [f64; 2]) -> f64 {
        let [a, b] = self.segments[number];
        let EdgeName { ring, edge } = self.names[number];
        let count = self.ring_sizes[ring];
        let neighbour = |edge_there: usize| self.segments[number - edge + edge_there % count];
        let turn = if t <= 0.0 {
            turn(neighbour(edge + count - 1), [a, b])
        } else if t >= 1.0 {
            turn([a, b], neighbour(edge + 1))
        } else {
            0.0
        };
        if turn.abs() > 0.0 {
            -turn
        } else {
            turn_of([b[0] - a[0], b[1] - a[1]], [place[0] - a[0], place[1] - a[1]])
        }
    }
}

/// Above zero if the second edge turns left from the first.
fn turn([a, b]: Segment, [c, d]: Segment) -> f64 {
    turn_of([b[0] - a[0], b[1] - a[1]], [d[0] - c[0], d[1] - c[1]])
}

fn turn_of([ax, ay]: [f64; 2], [bx, by]: [f64; 2]) -> f64 {
    ax * by - ay * bx
}

/// The point of a segment nearest to a place, and its share of the length.
fn closest(&[a, b]: &Segment, place: [f64; 2]) -> ([f64; 2], f64) {
    let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    let t = ((place[0] - a[0]) * dx + (place[1] - a[1]) * dy) / (dx * dx + dy * dy);
    let t = t.clamp(0.0, 1.0);
    let at = if t >= 1.0 { b } else { [a[0] + t * dx, a[1] + t * dy] };
    (at, t)
}

/// Calls `visit` for the cells of the square ring of a radius about a cell that exist.
fn for_ring(
    [column, row]: [usize; 2],
    radius: usize,
    [columns, rows]: [usize; 2],
    mut visit: impl FnMut([usize; 2]),
) {
    let lowest = row.saturating_sub(radius);
    let highest = row.saturating_add(radius).min(rows - 1);
    for j in lowest..=highest {
        let is_whole = row.abs_diff(j) == radius;
        let lowest = column.saturating_sub(radius);
        let highest = column.saturating_add(radius).min(columns - 1);
        if is_whole {
            (lowest..=highest).for_each(|i| visit([i, j]));
        } else {
            for i in [column.checked_sub(radius), column.checked_add(radius)].into_iter().flatten()
            {
                if i < columns {
                    visit([i, j]);
                }
            }
        }
    }
}
