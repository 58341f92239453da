//! A mesh made ready to draw, away from the window's thread: levels of detail with normals and edges.

use super::creases::{Shaded, shade};
use glam::{DVec3, Vec3};
use meshopt::{SimplifyOptions, VertexDataAdapter};
use std::collections::HashMap;
use std::hash::BuildHasherDefault;

/// Normals of neighbours may differ by this much within one smooth face, degrees. Tessellations of
/// round things stay below it, and what a person calls an edge is above it.
const CREASE_DEG: f32 = 30.0;
/// Coarser levels bend more from triangle to triangle without meaning an edge.
const COARSE_CREASE_DEG: f32 = 62.0;
/// Triangles of a level against those of the next finer one.
const STEP: usize = 4;
/// No level is made below this number of triangles: drawing it would cost as much as its overhead.
const FEWEST: usize = 120;
/// A level farther from the mesh than this part of its size is not worth keeping.
const LARGEST_ERROR: f32 = 0.06;

/// A corner as the graphics adapter gets it: 16 bytes.
#[repr(C)]
#[derive(Clone, Copy, Debug, PartialEq, bytemuck::Pod, bytemuck::Zeroable)]
pub(super) struct Vertex {
    /// Relative to [`PreparedMesh::origin`], mm.
    pub position: [f32; 3],
    /// Unit normal in signed bytes; the last is padding.
    normal: [i8; 4],
}

impl Vertex {
    pub(super) fn new(position: Vec3, normal: Vec3) -> Self {
        #[expect(clippy::cast_possible_truncation, reason = "a unit vector fits signed bytes")]
        let normal = (normal * 127.0).round().to_array().map(|c| c as i8);
        Self { position: position.to_array(), normal: [normal[0], normal[1], normal[2], 0] }
    }

    #[cfg(test)]
    pub(super) fn normal(self) -> Vec3 {
        let [x, y, z, _] = self.normal.map(f32::from);
        Vec3::new(x, y, z) / 127.0
    }
}

/// One level of detail.
#[derive(Clone, Debug)]
pub(super) struct Level {
    pub shaded: Shaded,
    /// How far this level may lie from the mesh itself, mm.
    pub error_mm: f32,
    /// Whether it closes wherever the mesh does, so that a cut through it can be filled.
    pub keeps_closed: bool,
}

/// A mesh ready to be uploaded, finest level first. Made by [`prepare_mesh`].
#[derive(Clone, Debug)]
pub struct PreparedMesh {
    /// Point of the part frame to which vertices are relative, mm: the middle of the bounding box.
    pub(super) origin: DVec3,
    /// Half the extent of the bounding box, mm.
    pub(super) half_extent: Vec3,
    /// Never empty unless the mesh has no usable triangle.
    pub(super) levels: Vec<Level>,
}

impl PreparedMesh {
    /// Number of triangles of each level, finest first.
    pub fn triangle_counts(&self) -> Vec<usize> {
        self.levels.iter().map(|level| level.shaded.faces.len() / 3).collect()
    }

    /// Memory that the mesh takes on the graphics adapter, bytes.
    pub fn byte_count(&self) -> usize {
        let bytes = |s: &Shaded| s.vertices.len() * 16 + (s.faces.len() + s.edges.len()) * 4;
        self.levels.iter().map(|level| bytes(&level.shaded)).sum()
    }
}

/// Makes a mesh ready to draw: creased normals, feature edges, and a chain of coarser levels.
///
/// | argument    | shape, unit                                                       |
/// |-------------|-------------------------------------------------------------------|
/// | `vertices`  | `n × 3`, mm, part frame                                           |
/// | `triangles` | `m × 3` indices into `vertices`, counter-clockwise outside        |
/// | `cancelled` | asked between levels; `None` is returned once it says yes         |
///
/// Triangles that name a vertex that is missing or not finite are left out. Vertices at one place
/// (bit for bit) are taken as one. About 0.5 s for 200,000 triangles on one core.
pub fn prepare_mesh(
    vertices: &[[f64; 3]],
    triangles: &[[u32; 3]],
    cancelled: &dyn Fn() -> bool,
) -> Option<PreparedMesh> {
    let (origin, half_extent) = middle(vertices);
    let (positions, mut triangles) = welded(vertices, triangles, origin);
    let mut mesh = PreparedMesh { origin, half_extent, levels: Vec::new() };
    if triangles.is_empty() {
        return Some(mesh);
    }
    let places: Vec<[f32; 3]> = positions.iter().map(Vec3::to_array).collect();
    let (mut error_mm, mut keeps_closed) = (0.0, true);
    loop {
        if cancelled() {
            return None;
        }
        let crease = if mesh.levels.is_empty() { CREASE_DEG } else { COARSE_CREASE_DEG };
        mesh.levels.push(Level {
            shaded: ordered(shade(&positions, &triangles, crease)),
            error_mm,
            keeps_closed,
        });
        let Some(coarser) = coarser(&places, &triangles, half_extent.length() * 2.0) else {
            return Some(mesh);
        };
        error_mm += coarser.error_mm;
        keeps_closed &= coarser.keeps_closed;
        triangles = coarser.triangles;
    }
}

struct Coarser {
    triangles: Vec<[u32; 3]>,
    error_mm: f32,
    keeps_closed: bool,
}

/// The next coarser level: by collapsing edges, or, where the mesh is too ragged for that, by
/// merging what lies close together. `None` where neither gets much smaller.
fn coarser(places: &[[f32; 3]], triangles: &[[u32; 3]], size_mm: f32) -> Option<Coarser> {
    let target = triangles.len() / STEP;
    if target < FEWEST {
        return None;
    }
    let adapter = VertexDataAdapter::new(bytemuck::cast_slice(places), 12, 0).ok()?;
    let indices: &[u32] = triangles.as_flattened();
    let limit_mm = LARGEST_ERROR * size_mm;
    let mut error_mm = 0.0;
    let mut keeps_closed = true;
    let options = SimplifyOptions::ErrorAbsolute;
    let error = Some(&mut error_mm);
    let mut found = meshopt::simplify(indices, &adapter, target * 3, limit_mm, options, error);
    if found.len() > target * 6 {
        // The sloppy way measures its error against the extent of the mesh.
        let relative = LARGEST_ERROR * 0.5;
        let error = Some(&mut error_mm);
        found = meshopt::simplify_sloppy(indices, &adapter, target * 3, relative, error);
        error_mm *= size_mm;
        keeps_closed = false;
    }
    let worthwhile = !found.is_empty() && found.len() <= target * 9;
    let triangles = found.as_chunks::<3>().0.to_vec();
    worthwhile.then_some(Coarser { triangles, error_mm, keeps_closed })
}

/// Reorders faces and vertices so that the adapter's caches serve them well.
fn ordered(mut shaded: Shaded) -> Shaded {
    meshopt::optimize_vertex_cache_in_place(&mut shaded.faces, shaded.vertices.len());
    let remap = meshopt::optimize_vertex_fetch_remap(&shaded.faces, shaded.vertices.len());
    let mut vertices = shaded.vertices.clone();
    for (vertex, &place) in shaded.vertices.iter().zip(&remap) {
        if let Some(slot) = vertices.get_mut(place as usize) {
            *slot = *vertex;
        }
    }
    shaded.vertices = vertices;
    for index in shaded.faces.iter_mut().chain(&mut shaded.edges) {
        *index = remap[*index as usize];
    }
    shaded
}

/// Middle and half extent of the bounding box of the finite vertices, mm.
fn middle(vertices: &[[f64; 3]]) -> (DVec3, Vec3) {
    let finite = vertices.iter().map(|&v| DVec3::from(v)).filter(|v| v.is_finite());
    let (low, high) = finite
        .fold((DVec3::INFINITY, DVec3::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
    if low.cmple(high).all() {
        (low.midpoint(high), ((high - low) * 0.5).as_vec3())
    } else {
        (DVec3::ZERO, Vec3::ZERO)
    }
}

/// Vertices relative to `origin` in single precision, those at one place merged, and the triangles
/// that are usable and do not vanish by it.
fn welded(
    vertices: &[[f64; 3]],
    triangles: &[[u32; 3]],
    origin: DVec3,
) -> (Vec<Vec3>, Vec<[u32; 3]>) {
    type Places = HashMap<[u32; 3], u32, BuildHasherDefault<PlaceHasher>>;
    let mut places =
        Places::with_capacity_and_hasher(vertices.len(), BuildHasherDefault::default());
    let mut positions: Vec<Vec3> = Vec::with_capacity(vertices.len());
    let new_index: Vec<Option<u32>> = vertices
        .iter()
        .map(|&vertex| {
            let position = (DVec3::from(vertex) - origin).as_vec3() + Vec3::ZERO; // −0 is 0
            position.is_finite().then(|| {
                *places.entry(position.to_array().map(f32::to_bits)).or_insert_with(|| {
                    positions.push(position);
                    u32::try_from(positions.len() - 1).unwrap_or(u32::MAX)
                })
            })
        })
        .collect();
    let usable = triangles.iter().filter_map(|corners| {
        let at = |k: usize| new_index.get(corners[k] as usize).copied().flatten();
        let [a, b, c] = [at(0)?, at(1)?, at(2)?];
        (a != b && b != c && c != a).then_some([a, b, c])
    });
    let triangles = usable.collect();
    (positions, triangles)
}

/// Mixes the bits of a place; the map is only asked, never walked, so that order does not matter.
#[derive(Default)]
struct PlaceHasher(u64);

impl std::hash::Hasher for PlaceHasher {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(4) {
            let mut word = [0; 4];
            word[..chunk.len()].copy_from_slice(chunk);
            self.write_u32(u32::from_le_bytes(word));
        }
    }

    fn write_u32(&mut self, word: u32) {
        self.0 = (self.0.rotate_left(21) ^ u64::from(word)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        self.0 ^= self.0 >> 29;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A ball of `2 · n · n` triangles and so, closed.
    pub(in crate::chamber) fn ball(n: u32, radius: f64) -> (Vec<[f64; 3]>, Vec<[u32; 3]>) {
        use std::f64::consts::{PI, TAU};
        let mut vertices = Vec::new();
        for row in 0..=n {
            let polar = f64::from(row) / f64::from(n) * PI;
            for column in 0..n {
                let angle = f64::from(column) / f64::from(n) * TAU;
                // Poles bit for bit in one place.
                let ring = if row == 0 || row == n { 0.0 } else { polar.sin() * radius };
                vertices.push([ring * angle.cos(), ring * angle.sin(), polar.cos() * radius]);
            }
        }
        let mut triangles = Vec::new();
        for row in 0..n {
            for column in 0..n {
                let [a, b] = [row * n + column, row * n + (column + 1) % n];
                triangles.extend([[a, a + n, b + n], [a, b + n, b]]);
            }
        }
        (vertices, triangles)
    }

    #[test]
    fn a_ball_gets_a_chain_of_levels_each_close_to_it() {
        let (vertices, triangles) = ball(64, 20.0);
        let mesh = prepare_mesh(&vertices, &triangles, &|| false).unwrap();
        let counts = mesh.triangle_counts();
        assert!(counts.len() >= 3, "{counts:?}");
        assert!(counts.windows(2).all(|w| w[1] * 4 <= w[0] * 3), "{counts:?}");
        for level in &mesh.levels {
            let allowed = level.error_mm * 1.5 + 0.1;
            let off = |v: &Vertex| (Vec3::from(v.position).length() - 20.0).abs();
            assert!(level.shaded.vertices.iter().all(|v| off(v) < allowed));
            assert!(level.keeps_closed && level.shaded.edges.is_empty());
            // Vertices stay on the ball; it is the middles of triangles that show the error.
            for face in level.shaded.faces.as_chunks::<3>().0 {
                let [a, b, c] =
                    face.map(|v| Vec3::from(level.shaded.vertices[v as usize].position));
                let dent = 20.0 - ((a + b + c) / 3.0).length();
                assert!(dent < allowed * 2.0 + 0.1, "dent {dent} where {allowed} is claimed");
            }
        }
    }

    #[test]
    fn what_cannot_be_drawn_is_left_out_and_nothing_panics() {
        let vertices = [[0.0; 3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [f64::NAN, 0.0, 0.0]];
        let triangles = [[0, 1, 2], [0, 1, 3], [0, 1, 9], [1, 1, 2]];
        let mesh = prepare_mesh(&vertices, &triangles, &|| false).unwrap();
        assert_eq!(mesh.triangle_counts(), [1]);
        assert!(prepare_mesh(&[], &[], &|| false).unwrap().levels.is_empty());
        assert!(prepare_mesh(&vertices, &triangles, &|| true).is_none());
    }

    #[test]
    fn vertices_far_from_the_origin_keep_their_precision() {
        let far = 1000.0;
        let vertices = [[far, 0.0, 0.0], [far + 0.001, 0.0, 0.0], [far, 0.001, 0.0]];
        let mesh = prepare_mesh(&vertices, &[[0, 1, 2]], &|| false).unwrap();
        let xs = mesh.levels[0].shaded.vertices.iter().map(|v| v.position[0]);
        let (low, high) = xs.fold((f32::MAX, f32::MIN), |(l, h), x| (l.min(x), h.max(x)));
        assert!((high - low - 0.001).abs() < 1e-6);
    }

    #[test]
    fn reordering_moves_no_triangle() {
        let (vertices, triangles) = ball(12, 1.0);
        let (positions, triangles) = welded(&vertices, &triangles, DVec3::ZERO);
        let before = shade(&positions, &triangles, 10.0);
        let after = ordered(before.clone());
        let places = |s: &Shaded, indices: &[u32]| -> Vec<[u32; 3]> {
            let place = |&i: &u32| s.vertices[i as usize].position.map(f32::to_bits);
            let mut all: Vec<_> = indices.iter().map(place).collect();
            all.sort_unstable();
            all
        };
        assert_eq!(places(&before, &before.faces), places(&after, &after.faces));
        assert_eq!(places(&before, &before.edges), places(&after, &after.edges));
    }
}
