//! Which triangle lies across each edge: half-edge adjacency without hashing.
//!
//! Half-edge `3·t + k` of triangle `t` runs from its corner `k` to its corner `(k + 1) % 3`. In a
//! sound mesh every edge has exactly two half-edges that run in opposite directions, and each is
//! the other's partner. What deviates from that is kept as a kind and counted, so that the health
//! report and the slicer share one account of it.

use crate::Mesh;
use base::vec3::{cross, dot, sub};

/// Edges of more triangles than this are left out: half-edge indices must fit 31 bits.
const MAX_TRIANGLES: usize = (1 << 31) / 3;

/// Codes in `opposite` that are not half-edges; all above `2³¹`.
const OPEN: u32 = u32::MAX;
const OVER_SHARED: u32 = u32::MAX - 1;
const INCONSISTENT: u32 = u32::MAX - 2;
const DEGENERATE: u32 = u32::MAX - 3;
const FIRST_CODE: u32 = DEGENERATE;

/// What lies across a half-edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Opposite {
    /// The partner: same edge, other direction.
    HalfEdge(u32),
    /// Nothing: the triangle is alone at this edge.
    Open,
    /// Three triangles or more, not as many one way as the other.
    OverShared,
    /// Two triangles that run the same way along the edge, so one of them faces the wrong side.
    Inconsistent,
    /// The triangle names a vertex twice or one that does not exist; it takes no part in
    /// adjacency, and its neighbours are matched as if it were absent.
    Degenerate,
}

/// An edge with more than two triangles.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OverSharedEdge {
    /// Its end points, lower index first.
    pub vertices: [u32; 2],
    /// How many triangles run from the lower to the higher vertex, and how many back.
    pub triangles: [usize; 2],
}

impl OverSharedEdge {
    /// Whether as many triangles run one way as the other, so that all of them have partners.
    pub fn is_balanced(&self) -> bool {
        self.triangles[0] == self.triangles[1]
    }
}

/// Half-edge adjacency of one mesh. 12 B per triangle.
///
/// Where `2·n` triangles meet at an edge, `n` in each direction (solids that touch along it), they
/// are paired around the edge so that partners bound the same wedge of material.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Topology {
    opposite: Vec<u32>,
    vertex_count: usize,
    open: usize,
    degenerate: usize,
    over_shared: Vec<OverSharedEdge>,
    inconsistent: Vec<[u32; 2]>,
}

impl Topology {
    /// Finds the partner of every half-edge. O(n) for meshes whose vertices have bounded degree:
    /// half-edges are counting-sorted by their lower vertex, then matched inside the small groups.
    ///
    /// Triangles beyond the first 715 million are left out.
    pub fn new(mesh: &Mesh) -> Self {
        let triangles = &mesh.triangles[..mesh.triangles.len().min(MAX_TRIANGLES)];
        let vertex_count = mesh.vertices.len();
        let mut topology =
            Self { opposite: vec![OPEN; 3 * triangles.len()], vertex_count, ..Self::default() };

        let mut group_ends = topology.count_by_lower_vertex(triangles);
        let mut start = 0;
        for end in &mut group_ends {
            // Now the start of each group; filling turns it into the end.
            start += std::mem::replace(end, start);
        }
        let mut grouped = vec![0_u64; start as usize];
        for (t, &[a, b, c]) in (0_u32..).zip(triangles) {
            if is_sound([a, b, c], vertex_count) {
                for (h, (from, to)) in (3 * t..).zip([(a, b), (b, c), (c, a)]) {
                    let slot = &mut group_ends[from.min(to) as usize];
                    grouped[*slot as usize] = entry(from, to, h);
                    *slot += 1;
                }
            }
        }

        let mut start = 0;
        for (lower, &end) in (0_u32..).zip(&group_ends) {
            let group = &mut grouped[start..end as usize];
            start = end as usize;
            group.sort_unstable();
            let mut rest = &*group;
            while let Some(&first) = rest.first() {
                let length = rest.iter().take_while(|&&e| higher(e) == higher(first)).count();
                let (edge, tail) = rest.split_at(length);
                topology.match_edge(mesh, lower, edge);
                rest = tail;
            }
        }
        topology
    }

    /// Half-edges per lower vertex; degenerate triangles are marked and left out.
    fn count_by_lower_vertex(&mut self, triangles: &[[u32; 3]]) -> Vec<u32> {
        let mut counts = vec![0_u32; self.vertex_count];
        for (t, corners) in triangles.iter().enumerate() {
            if is_sound(*corners, self.vertex_count) {
                let [a, b, c] = *corners;
                counts[a.min(b) as usize] += 1;
                counts[b.min(c) as usize] += 1;
                counts[c.min(a) as usize] += 1;
            } else {
                self.opposite[3 * t..3 * t + 3].fill(DEGENERATE);
                self.degenerate += 1;
            }
        }
        counts
    }

    /// Matches the half-edges of one edge, those from lower to higher vertex first.
    fn match_edge(&mut self, mesh: &Mesh, lower: u32, edge: &[u64]) {
        match *edge {
            [p, q] if is_backward(p) != is_backward(q) => self.pair(half_edge(p), half_edge(q)),
            [_] => self.open += 1, // the array starts out OPEN
            [p, q] => {
                let pair = [half_edge(p), half_edge(q)];
                for h in pair {
                    self.opposite[h as usize] = INCONSISTENT;
                }
                self.inconsistent.push(pair);
            }
            _ => {
                let forward = edge.iter().filter(|&&e| !is_backward(e)).count();
                let over_shared = OverSharedEdge {
                    vertices: [lower, higher(edge[0])],
                    triangles: [forward, edge.len() - forward],
                };
                self.over_shared.push(over_shared);
                if over_shared.is_balanced() {
                    self.pair_around(mesh, over_shared.vertices, edge);
                } else {
                    for &e in edge {
                        self.opposite[half_edge(e) as usize] = OVER_SHARED;
                    }
                }
            }
        }
    }

    fn pair(&mut self, p: u32, q: u32) {
        self.opposite[p as usize] = q;
        self.opposite[q as usize] = p;
    }

    /// Pairs the triangles around a balanced edge so that partners bound the same material.
    ///
    /// Seen along the edge from its lower vertex upwards and turning anticlockwise, material
    /// begins at a triangle that runs back along the edge and ends at one that runs forward, like
    /// brackets on a circle.
    fn pair_around(&mut self, mesh: &Mesh, [a, b]: [u32; 2], edge: &[u64]) {
        let around = |e: u64| {
            let h = half_edge(e) as usize;
            let apex = mesh.triangles[h / 3][(h + 2) % 3];
            sub(mesh.vertices[apex as usize], mesh.vertices[a as usize])
        };
        let axis = sub(mesh.vertices[b as usize], mesh.vertices[a as usize]);
        let v = cross(axis, around(edge[0]));
        let u = cross(v, axis);
        let mut fan: Vec<(f64, u64)> = edge
            .iter()
            .map(|&e| {
                let w = around(e);
                // `u` is |axis| times longer than `v`: scale to compare like with like.
                (pseudo_angle(dot(w, u), dot(w, v) * dot(axis, axis).sqrt()), e)
            })
            .collect();
        // Of triangles at the same angle, those that end material come first.
        fan.sort_by(|p, q| p.0.total_cmp(&q.0).then(is_backward(p.1).cmp(&is_backward(q.1))));

        // Begin where the count of open brackets is lowest, so that it never falls below zero.
        let mut depth = 0_i64;
        let (mut lowest, mut begin) = (0, 0);
        for (i, &(_, e)) in fan.iter().enumerate() {
            depth += if is_backward(e) { 1 } else { -1 };
            if depth < lowest {
                (lowest, begin) = (depth, i + 1);
            }
        }
        let mut begun = Vec::new();
        for i in 0..fan.len() {
            let e = fan[(begin + i) % fan.len()].1;
            if is_backward(e) {
                begun.push(e);
            } else if let Some(partner) = begun.pop() {
                self.pair(half_edge(e), half_edge(partner));
            }
        }
    }

    /// What lies across a half-edge; `Degenerate` for an index that the mesh does not have.
    pub fn opposite(&self, half_edge: u32) -> Opposite {
        match self.opposite.get(half_edge as usize).copied().unwrap_or(DEGENERATE) {
            OPEN => Opposite::Open,
            OVER_SHARED => Opposite::OverShared,
            INCONSISTENT => Opposite::Inconsistent,
            DEGENERATE => Opposite::Degenerate,
            partner => Opposite::HalfEdge(partner),
        }
    }

    /// The half-edge that runs along the same edge the other way, if there is one.
    #[inline]
    pub fn partner(&self, half_edge: u32) -> Option<u32> {
        self.opposite.get(half_edge as usize).copied().filter(|&p| p < FIRST_CODE)
    }

    /// Triangles covered, degenerate ones included.
    pub fn triangle_count(&self) -> usize {
        self.opposite.len() / 3
    }

    /// Vertices of the mesh that this was made from.
    pub fn vertex_count(&self) -> usize {
        self.vertex_count
    }

    /// Whether every half-edge of every triangle that is not degenerate has a partner: then every
    /// section is a set of closed contours.
    pub fn is_closed_and_oriented(&self) -> bool {
        self.open == 0
            && self.inconsistent.is_empty()
            && self.over_shared.iter().all(OverSharedEdge::is_balanced)
    }

    /// Edges with a single triangle.
    pub fn open_count(&self) -> usize {
        self.open
    }

    /// Triangles that name a vertex twice or one that does not exist.
    pub fn degenerate_count(&self) -> usize {
        self.degenerate
    }

    /// Edges with more than two triangles, balanced ones included, by rising vertices.
    pub fn over_shared(&self) -> &[OverSharedEdge] {
        &self.over_shared
    }

    /// Edges whose two triangles run the same way, as pairs of half-edges.
    pub fn inconsistent(&self) -> &[[u32; 2]] {
        &self.inconsistent
    }

    /// The half-edges of edges with a single triangle, rising.
    pub fn open_half_edges(&self) -> impl Iterator<Item = u32> {
        self.with_code(OPEN)
    }

    /// Triangles that name a vertex twice or one that does not exist, rising.
    pub fn degenerate_triangles(&self) -> impl Iterator<Item = u32> {
        self.with_code(DEGENERATE).filter(|h| h % 3 == 0).map(|h| h / 3)
    }

    fn with_code(&self, code: u32) -> impl Iterator<Item = u32> {
        (0..).zip(&self.opposite).filter(move |&(_, &o)| o == code).map(|(h, _)| h)
    }
}

/// Whether a triangle names three different vertices that exist.
fn is_sound([a, b, c]: [u32; 3], vertex_count: usize) -> bool {
    a != b && b != c && c != a && (a.max(b).max(c) as usize) < vertex_count
}

/// A half-edge as one sortable number: higher vertex, direction, index.
fn entry(a: u32, b: u32, half_edge: u32) -> u64 {
    (u64::from(a.max(b)) << 32) | (u64::from(a > b) << 31) | u64::from(half_edge)
}

fn higher(entry: u64) -> u32 {
    (entry >> 32) as u32
}

fn is_backward(entry: u64) -> bool {
    entry & (1 << 31) != 0
}

#[expect(clippy::cast_possible_truncation, reason = "the low 31 bits are meant")]
fn half_edge(entry: u64) -> u32 {
    entry as u32 & !(1 << 31)
}

/// Rises with the angle of `(x, y)` from −π to π, in −2..=2; free of platform-dependent functions.
fn pseudo_angle(x: f64, y: f64) -> f64 {
    let length = x.abs() + y.abs();
    if length > 0.0 { (1.0 - x / length).copysign(y) } else { 0.0 }
}

#[cfg(test)]
mod tests;
