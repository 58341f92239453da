//! Shells: the connected surfaces of a mesh, and whether they bound solids or cavities.

use super::places::half_edge_ends;
use crate::hierarchy::Hierarchy;
use crate::intersect::{Crossing, crossing_along_x};
use crate::measures::{Sum, usable_corners};
use crate::{Mesh, Opposite, Topology};
use base::vec3::Vec3;
use base::{Cancelled, Progress};
use serde::Serialize;
use std::ops::Range;

/// Points of a shell that are tried where it touches another; a shell that does not touch any
/// other lies on one side of it with all its points, and one is enough.
const SAMPLES: usize = 16;

/// Shell of a triangle without one: it names a vertex twice or one that does not exist.
const NO_SHELL: u32 = u32::MAX;

/// A connected surface: triangles that can be reached from one another across edges. Solids that
/// touch along an edge are shells of their own; at an edge where a sheet ends on a surface, all
/// are one.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shell {
    /// How many triangles.
    pub triangles: usize,
    /// Index of the first of them.
    pub first_triangle: u32,
    /// Signed volume, mm³; without meaning unless `closed` and `consistent`.
    pub volume_mm3: f64,
    /// Area, mm².
    pub area_mm2: f64,
    /// Smallest and largest coordinate, mm; `None` if no triangle is usable.
    pub bounds_mm: Option<([f64; 3], [f64; 3])>,
    /// Whether every triangle has a neighbour across each of its edges.
    pub closed: bool,
    /// Whether neighbours agree on which side is outside.
    pub consistent: bool,
    /// Vertices − edges + triangles: 2 − 2·g for a sound surface with g through holes (sphere 2,
    /// torus 0).
    pub euler: i64,
    /// What it bounds.
    pub role: ShellRole,
}

/// What a shell bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ShellRole {
    /// A solid: closed, facing outwards, not inside material.
    Solid,
    /// A solid wholly inside the material of another.
    Nested,
    /// A cavity: closed, facing inwards, wholly inside the material of another shell.
    Cavity,
    /// Closed and facing inwards, but not inside material.
    InsideOut,
    /// Closed, but without volume.
    Flat,
    /// Nothing: it is open, or its triangles disagree on which side is outside.
    Open,
}

impl ShellRole {
    /// Whether the shell bounds material as it should: a solid, or a cavity in one.
    pub(super) fn is_boundary(self) -> bool {
        match self {
            Self::Solid | Self::Cavity => true,
            Self::Nested | Self::InsideOut | Self::Flat | Self::Open => false,
        }
    }

    /// Whether it can be said what lies on which side of the shell.
    fn has_sides(self) -> bool {
        match self {
            Self::Solid | Self::Nested | Self::Cavity | Self::InsideOut => true,
            Self::Flat | Self::Open => false,
        }
    }
}

impl Shell {
    /// Whether it is a cavity, in which powder stays locked.
    pub fn is_cavity(&self) -> bool {
        self.role == ShellRole::Cavity
    }
}

/// The shells of a mesh and their triangles.
pub(super) struct Shells {
    of_triangle: Vec<u32>,
    /// Triangles grouped by shell.
    members: Vec<u32>,
    list: Vec<Shell>,
}

impl Shells {
    /// Groups and measures the triangles; what closed shells bound is left to [`Self::judge`].
    pub(super) fn new(mesh: &Mesh, topology: &Topology) -> Self {
        let (of_triangle, count) = connect(mesh, topology);
        let members = group(&of_triangle, count);
        let mut list = Vec::with_capacity(count);
        let mut seen_in = vec![NO_SHELL; mesh.vertices.len()]; // last shell to use each vertex
        for group in members.chunk_by(|s, t| of_triangle[*s as usize] == of_triangle[*t as usize]) {
            list.push(measure(mesh, topology, group, &of_triangle, &mut seen_in));
        }
        Self { of_triangle, members, list }
    }

    pub(super) fn len(&self) -> usize {
        self.list.len()
    }

    /// The shell of each triangle.
    pub(super) fn of_triangle(&self) -> &[u32] {
        &self.of_triangle
    }

    pub(super) fn into_report(self) -> Vec<Shell> {
        self.list
    }

    /// Decides which closed shells lie in the material of others, by how often the others wind
    /// around their points. O(k log n) for k shells, plus the triangles along the rays.
    pub(super) fn judge(
        &mut self,
        mesh: &Mesh,
        hierarchy: &Hierarchy,
        touched: &[bool],
        progress: &Progress,
    ) -> Result<(), Cancelled> {
        let bounds_something = |shell: &Shell| shell.role.has_sides();
        if self.list.iter().filter(|shell| bounds_something(shell)).count() < 2 {
            return Ok(());
        }
        let counts: Vec<bool> = self.list.iter().map(bounds_something).collect();
        let mut start = 0;
        for i in 0..self.list.len() {
            let group = &self.members[start..start + self.list[i].triangles];
            start += group.len();
            if !counts[i] {
                continue;
            }
            progress.check()?;
            let stride = if touched[i] { group.len().div_ceil(SAMPLES) } else { group.len() };
            let depth = group
                .iter()
                .step_by(stride.max(1))
                .filter_map(|t| usable_corners(mesh, mesh.triangles[*t as usize]))
                .filter_map(|[point, ..]| {
                    winding_of_others(mesh, hierarchy, point, |t| {
                        let shell = self.of_triangle[t as usize] as usize;
                        shell != i && counts.get(shell).is_some_and(|counts| *counts)
                    })
                })
                .min();
            if depth.is_some_and(|depth| depth > 0) {
                let role = &mut self.list[i].role;
                *role =
                    if *role == ShellRole::Solid { ShellRole::Nested } else { ShellRole::Cavity };
            }
        }
        Ok(())
    }
}

/// How often the triangles that count wind around a point; `None` if it lies on one of them.
fn winding_of_others(
    mesh: &Mesh,
    hierarchy: &Hierarchy,
    point: Vec3,
    counts: impl Fn(u32) -> bool,
) -> Option<i32> {
    let mut winding = Some(0);
    hierarchy.along_x(point, |t| {
        if counts(t) {
            winding = match crossing_along_x(&mesh.corners(t as usize), point) {
                Crossing::Miss => winding,
                Crossing::Origin => None,
                Crossing::Leaves => winding.map(|w| w + 1),
                Crossing::Enters => winding.map(|w| w - 1),
            };
        }
    });
    winding
}

/// Numbers the shells by their first triangles: the shell of each triangle, and their count.
fn connect(mesh: &Mesh, topology: &Topology) -> (Vec<u32>, usize) {
    let mut forest = Forest(all_triangles(topology).collect());
    let mut over_shared: Vec<([u32; 2], u32)> = Vec::new();
    for t in all_triangles(topology) {
        for h in 3 * t..3 * t + 3 {
            match topology.opposite(h) {
                Opposite::HalfEdge(partner) if partner > h => forest.join(t, partner / 3),
                Opposite::OverShared => {
                    let [a, b] = half_edge_ends(mesh, h);
                    over_shared.push(([a.min(b), a.max(b)], t));
                }
                _ => {}
            }
        }
    }
    for [g, h] in topology.inconsistent() {
        forest.join(g / 3, h / 3);
    }
    over_shared.sort_unstable();
    for pair in over_shared.windows(2).filter(|pair| pair[0].0 == pair[1].0) {
        forest.join(pair[0].1, pair[1].1);
    }

    let mut shell_of = vec![NO_SHELL; mesh.triangles.len()];
    let mut count = 0;
    for t in all_triangles(topology) {
        if topology.opposite(3 * t) == Opposite::Degenerate {
            continue;
        }
        // The root is the lowest triangle of its shell, so it is numbered before the others.
        let root = forest.root(t);
        if root == t {
            shell_of[t as usize] = count;
            count += 1;
        } else {
            shell_of[t as usize] = shell_of[root as usize];
        }
    }
    (shell_of, count as usize)
}

#[expect(clippy::cast_possible_truncation, reason = "half-edges are named by 31 bits")]
fn all_triangles(topology: &Topology) -> Range<u32> {
    0..topology.triangle_count() as u32
}

/// The triangles sorted by shell, those without one left out.
fn group(shell_of: &[u32], count: usize) -> Vec<u32> {
    let mut ends = vec![0_usize; count];
    for &shell in shell_of.iter().filter(|shell| **shell != NO_SHELL) {
        ends[shell as usize] += 1;
    }
    let mut start = 0;
    for end in &mut ends {
        start += std::mem::replace(end, start); // now the start; filling turns it into the end
    }
    let mut members = vec![0; start];
    for (t, &shell) in (0..).zip(shell_of).filter(|(_, shell)| **shell != NO_SHELL) {
        let slot = &mut ends[shell as usize];
        members[*slot] = t;
        *slot += 1;
    }
    members
}

fn measure(
    mesh: &Mesh,
    topology: &Topology,
    group: &[u32],
    shell_of: &[u32],
    seen_in: &mut [u32],
) -> Shell {
    let first_triangle = group[0];
    let shell = shell_of[first_triangle as usize];
    let corners = |t: &u32| usable_corners(mesh, mesh.triangles[*t as usize]);
    let mut sum = Sum::new(group.iter().filter_map(corners).flatten());
    group.iter().filter_map(corners).for_each(|corners| sum.add(corners));
    let measures = sum.finish();

    let (mut closed, mut consistent) = (true, true);
    let (mut vertices, mut twice_edges, mut triangles) = (0_i64, 0_i64, 0_i64);
    for &t in group {
        triangles += 1;
        for (h, v) in (3 * t..).zip(mesh.triangles[t as usize]) {
            let seen = &mut seen_in[v as usize];
            vertices += i64::from(std::mem::replace(seen, shell) != shell);
            match topology.opposite(h) {
                Opposite::HalfEdge(_) => twice_edges += 1,
                Opposite::Inconsistent => {
                    twice_edges += 1;
                    consistent = false;
                }
                Opposite::Open | Opposite::OverShared | Opposite::Degenerate => {
                    twice_edges += 2;
                    closed = false;
                }
            }
        }
    }
    let role = match (closed && consistent, measures.centre_of_mass_mm) {
        (false, _) => ShellRole::Open,
        (true, None) => ShellRole::Flat,
        (true, Some(_)) if measures.volume_mm3 > 0.0 => ShellRole::Solid,
        (true, Some(_)) => ShellRole::InsideOut,
    };
    Shell {
        triangles: group.len(),
        first_triangle,
        volume_mm3: measures.volume_mm3,
        area_mm2: measures.area_mm2,
        bounds_mm: measures.bounds_mm,
        closed,
        consistent,
        euler: vertices - twice_edges / 2 + triangles,
        role,
    }
}

/// Disjoint sets of triangles: above each a lower one of its set, or itself for the root.
struct Forest(Vec<u32>);

impl Forest {
    fn root(&mut self, mut t: u32) -> u32 {
        while self.0[t as usize] != t {
            let above = self.0[t as usize];
            self.0[t as usize] = self.0[above as usize]; // halve the way for the next visit
            t = above;
        }
        t
    }

    fn join(&mut self, s: u32, t: u32) {
        let (p, q) = (self.root(s), self.root(t));
        self.0[p.max(q) as usize] = p.min(q);
    }
}
