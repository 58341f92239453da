//! A mesh in its place: vertices in build space, adjacency and layer index, in the order in which
//! the layers need them.
//!
//! The plane of layer `k` is at `(k + ½)·t`; a vertex on a plane counts as above it. The *level* of
//! a vertex is the number of the lowest plane above it, decided by comparing with the planes
//! themselves, so that it tells exactly which planes cross a triangle.
//!
//! Positions in the plane are kept in nm, rounded to multiples of 2⁻²⁰ nm. Below 2³² nm sums and
//! differences of such numbers are exact in `f64`; that makes a crossing, rounded to whole nm,
//! move exactly with a part that is moved by whole nm.

use crate::SlicingError;
use crate::half_edge::{HalfEdge, NO_PARTNER};
use crate::layer_index::{LayerIndex, LayerIndexBuilder, MAX_LAYERS, NOWHERE};
use base::{Affine, Cancelled, GRID_LIMIT_NM, NM_PER_MM, OffGrid, Point, Progress};
use mesh::{Mesh, Topology};
use std::ops::Range;

/// Adding and subtracting this rounds to a multiple of 2⁻²⁰: the unit in its last place is that,
/// and stays so for summands of up to 2³¹ either way.
const SNAP: f64 = 1.5 * (1_u64 << 32) as f64;

/// Vertices further up or down than this many layers are refused; keeps levels well inside `i32`.
const LEVEL_LIMIT: f64 = (1_u32 << 30) as f64;

/// Vertices or triangles between two looks at the progress handle.
const CHUNK: usize = 1 << 16;

/// A vertex in build space.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Vertex {
    /// nm, a multiple of 2⁻²⁰.
    pub(crate) x_nm: f64,
    /// nm, a multiple of 2⁻²⁰.
    pub(crate) y_nm: f64,
    /// mm above the build platform.
    pub(crate) z_mm: f64,
}

/// A mesh in one pose, ready to be cut; shared by all slicers that differ by a translation.
///
/// Vertices are renumbered by level, triangles by [`LayerIndex`]; those that cross no plane are
/// left out, no contour ever comes to them.
#[derive(Debug)]
pub(crate) struct Posed {
    pub(crate) vertices: Vec<Vertex>,
    /// Three for each triangle.
    pub(crate) half_edges: Vec<HalfEdge>,
    pub(crate) index: LayerIndex,
    pub(crate) thickness_mm: f64,
    /// The plane from which the index counts.
    pub(crate) first_plane: i32,
    /// Planes from the lowest to the highest that cross a triangle, in this pose.
    pub(crate) planes: Range<i32>,
    /// Corners of the box around the vertices, rounded outwards.
    pub(crate) bounds_nm: [Point; 2],
    /// Whether following the mesh's own orientation would leave the material on the right.
    pub(crate) reversed: bool,
    /// Whether the mesh encloses a negative volume: its triangles face inwards.
    pub(crate) inside_out: bool,
}

impl Posed {
    /// Places the vertices, and orders everything by layer.
    pub(crate) fn new(
        mesh: &Mesh,
        topology: &Topology,
        pose: &Affine,
        thickness_mm: f64,
        progress: &Progress,
    ) -> Result<Self, SlicingError> {
        check_arguments(mesh, topology, pose, thickness_mm)?;
        progress.add_total((mesh.vertices.len() + 2 * mesh.triangles.len()) as u64);

        let (placed, levels) = place(&mesh.vertices, pose, thickness_mm, progress)?;
        let (lo, hi) = bounds(&placed);
        let lowest = levels.iter().copied().min().unwrap_or_default();
        let layers = levels.iter().copied().max().unwrap_or_default().abs_diff(lowest);
        if layers > MAX_LAYERS {
            let (layers, limit) = (layers.into(), MAX_LAYERS.into());
            return Err(SlicingError::TooManyLayers { layers, limit });
        }
        let levels: Vec<u32> = levels.iter().map(|level| level.abs_diff(lowest)).collect();

        // From the middle, so that a part that lacks its top or bottom still has its right sign.
        let middle_mm = lo.z_mm.midpoint(hi.z_mm);
        let mut volume = 0.0;
        let mut crossed = Range { start: u32::MAX, end: 0 };
        let mut builder = LayerIndexBuilder::new(layers, mesh.triangles.len());
        for chunk in mesh.triangles.chunks(CHUNK) {
            for &corners in chunk {
                // A vertex that does not exist, or the same twice, is the health report's matter.
                if !is_sound(corners, placed.len()) {
                    builder.push(0, 0);
                    continue;
                }
                let [a, b, c] = corners.map(|v| levels[v as usize]);
                let (first, end) = (a.min(b).min(c), a.max(b).max(c));
                if first < end {
                    crossed = crossed.start.min(first)..crossed.end.max(end);
                }
                builder.push(first, end);
                volume += volume_below(corners.map(|v| placed[v as usize]), middle_mm);
            }
            progress.advance(chunk.len() as u64)?;
        }
        let (index, numbers) = builder.finish();

        let (vertices, ranks) = sort_by_level(&placed, &levels, layers);
        drop((placed, levels));
        let half_edges = renumber(mesh, topology, &numbers, &ranks, &index, progress)?;
        let plane = |level: u32| lowest.saturating_add_unsigned(level);
        Ok(Self {
            vertices,
            half_edges,
            index,
            thickness_mm,
            first_plane: lowest,
            planes: plane(crossed.start)..plane(crossed.end),
            bounds_nm: [floor(lo), ceil(hi)],
            reversed: volume < 0.0,
            inside_out: (volume < 0.0) != (pose.determinant() < 0.0),
        })
    }

    /// The height of a plane in this pose, mm.
    pub(crate) fn plane_mm(&self, plane: i32) -> f64 {
        plane_mm(plane, self.thickness_mm)
    }
}

fn check_arguments(
    mesh: &Mesh,
    topology: &Topology,
    pose: &Affine,
    thickness_mm: f64,
) -> Result<(), SlicingError> {
    if !(thickness_mm > 0.0 && thickness_mm.is_finite()) {
        return Err(SlicingError::LayerThickness { mm: thickness_mm });
    }
    if !pose.is_finite() {
        return Err(SlicingError::PoseNotFinite);
    }
    let of_topology = (topology.triangle_count(), topology.vertex_count());
    let of_mesh = (mesh.triangles.len(), mesh.vertices.len());
    if of_topology != of_mesh {
        return Err(SlicingError::ForeignTopology {
            topology_triangles: of_topology.0,
            topology_vertices: of_topology.1,
            mesh_triangles: mesh.triangles.len(),
            mesh_vertices: mesh.vertices.len(),
        });
    }
    Ok(())
}

/// Vertices in build space, checked against the grid, and their levels.
fn place(
    vertices: &[[f64; 3]],
    pose: &Affine,
    thickness_mm: f64,
    progress: &Progress,
) -> Result<(Vec<Vertex>, Vec<i32>), SlicingError> {
    // Half a nanometre short of the limit, so that a rounded crossing is inside as well.
    const LIMIT_NM: f64 = GRID_LIMIT_NM as f64 - 0.5;
    let turn = Affine { rows: pose.rows.map(|[x, y, z, _]| [x, y, z, 0.0]) };
    let shift_nm = [0, 1].map(|axis| snap(pose.rows[axis][3] * NM_PER_MM));
    let shift_z_mm = pose.rows[2][3];

    let mut placed = Vec::with_capacity(vertices.len());
    let mut levels = Vec::with_capacity(vertices.len());
    for chunk in vertices.chunks(CHUNK) {
        for v in chunk {
            let [x_mm, y_mm, z_mm] = turn.apply(*v);
            let x_nm = snap(x_mm * NM_PER_MM) + shift_nm[0];
            let y_nm = snap(y_mm * NM_PER_MM) + shift_nm[1];
            let z_mm = z_mm + shift_z_mm;
            // Written so that NaN fails.
            if !(x_nm.abs() < LIMIT_NM && y_nm.abs() < LIMIT_NM) {
                let worst = if x_nm.abs() < LIMIT_NM { y_nm } else { x_nm };
                let source = OffGrid { mm: worst / NM_PER_MM };
                return Err(SlicingError::OffGrid { vertex: placed.len(), source });
            }
            let Some(level) = level(z_mm, thickness_mm) else {
                return Err(SlicingError::TooHigh { vertex: placed.len(), z_mm, thickness_mm });
            };
            placed.push(Vertex { x_nm, y_nm, z_mm });
            levels.push(level);
        }
        progress.advance(chunk.len() as u64)?;
    }
    Ok((placed, levels))
}

/// Nearest multiple of 2⁻²⁰.
pub(crate) fn snap(nm: f64) -> f64 {
    (nm + SNAP) - SNAP
}

fn plane_mm(plane: i32, thickness_mm: f64) -> f64 {
    (f64::from(plane) + 0.5) * thickness_mm
}

/// The lowest plane above a height; `None` if that is out of all proportion.
fn level(z_mm: f64, thickness_mm: f64) -> Option<i32> {
    let estimate = (z_mm / thickness_mm + 0.5).floor();
    if estimate.is_nan() || estimate.abs() >= LEVEL_LIMIT {
        return None;
    }
    #[expect(clippy::cast_possible_truncation, reason = "checked on the lines above")]
    let mut level = estimate as i32;
    // The division rounds; the comparison with the plane itself decides.
    if plane_mm(level, thickness_mm) <= z_mm {
        level += 1;
    } else if plane_mm(level - 1, thickness_mm) > z_mm {
        level -= 1;
    }
    Some(level)
}

fn is_sound([a, b, c]: [u32; 3], vertex_count: usize) -> bool {
    a != b && b != c && c != a && (a.max(b).max(c) as usize) < vertex_count
}

/// Vertices sorted by level, and where each went.
fn sort_by_level(placed: &[Vertex], levels: &[u32], layers: u32) -> (Vec<Vertex>, Vec<u32>) {
    let mut starts = vec![0_u32; layers as usize + 1];
    for &level in levels {
        starts[level as usize] += 1;
    }
    let mut total = 0;
    for start in &mut starts {
        total += std::mem::replace(start, total);
    }
    let mut sorted = vec![Vertex::default(); placed.len()];
    let ranks = placed.iter().zip(levels).map(|(vertex, &level)| {
        let rank = starts[level as usize];
        starts[level as usize] += 1;
        sorted[rank as usize] = *vertex;
        rank
    });
    let ranks = ranks.collect();
    (sorted, ranks)
}

/// The half-edges of the triangles that cross a plane, under the new numbers.
fn renumber(
    mesh: &Mesh,
    topology: &Topology,
    numbers: &[u32],
    ranks: &[u32],
    index: &LayerIndex,
    progress: &Progress,
) -> Result<Vec<HalfEdge>, Cancelled> {
    let none = HalfEdge { start: 0, partner: NO_PARTNER };
    let mut half_edges = vec![none; 3 * index.triangle_count() as usize];
    let mut first_half_edges = (0_u32..).step_by(3);
    for chunk in mesh.triangles.chunks(CHUNK) {
        for (&corners, h) in chunk.iter().zip(&mut first_half_edges) {
            let number = numbers[h as usize / 3];
            if number == NOWHERE {
                continue;
            }
            let renumbered = &mut half_edges[3 * number as usize..][..3];
            for (half_edge, (vertex, h)) in renumbered.iter_mut().zip(corners.into_iter().zip(h..))
            {
                half_edge.start = ranks[vertex as usize];
                if let Some(partner) = topology.partner(h)
                    && numbers[partner as usize / 3] != NOWHERE
                {
                    half_edge.partner = 4 * numbers[partner as usize / 3] + partner % 3;
                }
            }
        }
        progress.advance(chunk.len() as u64)?;
    }
    Ok(half_edges)
}

/// Six times the signed volume between a triangle and the plane at a height, nm²·mm.
/// Over a closed mesh they add up to six times its volume (divergence theorem).
#[inline]
fn volume_below([a, b, c]: [Vertex; 3], plane_mm: f64) -> f64 {
    let (ux, uy) = (b.x_nm - a.x_nm, b.y_nm - a.y_nm);
    let (vx, vy) = (c.x_nm - a.x_nm, c.y_nm - a.y_nm);
    (ux * vy - uy * vx) * (a.z_mm + b.z_mm + c.z_mm - 3.0 * plane_mm)
}

/// Smallest and largest of each field; of no vertices, zeros.
fn bounds(vertices: &[Vertex]) -> (Vertex, Vertex) {
    let Some(&first) = vertices.first() else { return Default::default() };
    vertices.iter().fold((first, first), |(lo, hi), v| {
        let pick = |of: fn(f64, f64) -> f64, w: Vertex| Vertex {
            x_nm: of(w.x_nm, v.x_nm),
            y_nm: of(w.y_nm, v.y_nm),
            z_mm: of(w.z_mm, v.z_mm),
        };
        (pick(f64::min, lo), pick(f64::max, hi))
    })
}

#[expect(clippy::cast_possible_truncation, reason = "placed vertices are on the grid")]
fn floor(v: Vertex) -> Point {
    Point::new(v.x_nm.floor() as i32, v.y_nm.floor() as i32)
}

#[expect(clippy::cast_possible_truncation, reason = "placed vertices are on the grid")]
fn ceil(v: Vertex) -> Point {
    Point::new(v.x_nm.ceil() as i32, v.y_nm.ceil() as i32)
}
