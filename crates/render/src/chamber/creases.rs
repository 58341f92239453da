//! Normals that are smooth within a face and break at its creases, and the creases as lines.

use super::prepare::Vertex;
use glam::Vec3;

/// A triangle mesh ready to draw: corners split where the normal breaks.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Shaded {
    /// Corners with their normals.
    pub vertices: Vec<Vertex>,
    /// `3 × m` indices into `vertices`.
    pub faces: Vec<u32>,
    /// `2 × k` indices into `vertices`: creases and open borders.
    pub edges: Vec<u32>,
}

/// Splits the corners of a mesh into groups with one normal each.
///
/// Two triangles at an edge belong to one smooth face if exactly these two meet there, run the same
/// way round, and their normals differ by less than `crease_deg`. Corners joined through such edges
/// share the mean of their triangles' normals, weighted by area. Every other edge becomes a line.
/// O(m log m) time.
pub(super) fn shade(positions: &[Vec3], triangles: &[[u32; 3]], crease_deg: f32) -> Shaded {
    let area_normals: Vec<Vec3> = triangles
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|v| positions[v as usize]);
            (b - a).cross(c - a)
        })
        .collect();
    let unit = |t: usize| area_normals[t].normalize_or_zero();
    let cos_crease = crease_deg.to_radians().cos();

    let mut corners = Groups::new(triangles.len() * 3);
    let mut lines: Vec<[u32; 2]> = Vec::new(); // corner numbers
    for edge in by_edge(triangles).chunk_by(|a, b| a.0 == b.0) {
        let ends = |half: u32| {
            let t = half / 3 * 3;
            [half, t + (half + 1) % 3]
        };
        if let [(_, p), (_, q)] = *edge {
            let [[p0, p1], [q0, q1]] = [ends(p), ends(q)];
            let corner = |c: u32| triangles[c as usize / 3][c as usize % 3];
            let opposed = corner(p0) == corner(q1) && corner(p1) == corner(q0);
            if opposed && unit(p as usize / 3).dot(unit(q as usize / 3)) >= cos_crease {
                corners.join(p0, q1);
                corners.join(p1, q0);
                continue;
            }
        }
        lines.push(ends(edge[0].1));
    }

    let mut sums = vec![Vec3::ZERO; triangles.len() * 3];
    for corner in 0..corners.len() {
        sums[corners.root(corner) as usize] += area_normals[corner as usize / 3];
    }
    let mut shaded = Shaded::default();
    let mut vertex_of_root = vec![u32::MAX; triangles.len() * 3];
    shaded.faces.reserve_exact(triangles.len() * 3);
    for corner in 0..corners.len() {
        let root = corners.root(corner) as usize;
        if vertex_of_root[root] == u32::MAX {
            vertex_of_root[root] = u32::try_from(shaded.vertices.len()).unwrap_or(u32::MAX);
            let position = positions[triangles[corner as usize / 3][corner as usize % 3] as usize];
            shaded.vertices.push(Vertex::new(position, sums[root].normalize_or(Vec3::Z)));
        }
        shaded.faces.push(vertex_of_root[root]);
    }
    shaded.edges =
        lines.into_iter().flatten().map(|corner| shaded.faces[corner as usize]).collect();
    shaded
}

/// Every half edge beside the sorted ends of its edge; equal edges stand together.
fn by_edge(triangles: &[[u32; 3]]) -> Vec<(u64, u32)> {
    let mut halves = Vec::with_capacity(triangles.len() * 3);
    for (t, corners) in (0_u32..).zip(triangles) {
        for k in 0..3 {
            let (a, b) = (corners[k as usize], corners[(k as usize + 1) % 3]);
            halves.push((u64::from(a.min(b)) << 32 | u64::from(a.max(b)), t * 3 + k));
        }
    }
    halves.sort_unstable();
    halves
}

/// Disjoint sets of corners.
struct Groups(Vec<u32>);

impl Groups {
    fn new(count: usize) -> Self {
        Self((0..u32::try_from(count).unwrap_or(u32::MAX)).collect())
    }

    fn len(&self) -> u32 {
        u32::try_from(self.0.len()).unwrap_or(u32::MAX)
    }

    fn root(&mut self, mut corner: u32) -> u32 {
        while self.0[corner as usize] != corner {
            let above = self.0[self.0[corner as usize] as usize];
            self.0[corner as usize] = above;
            corner = above;
        }
        corner
    }

    fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b) as usize] = a.min(b);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cube() -> (Vec<Vec3>, Vec<[u32; 3]>) {
        let positions = crate::camera::corners(Vec3::ZERO, Vec3::ONE).to_vec();
        let quads =
            [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let triangles = quads.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
        (positions, triangles)
    }

    #[test]
    fn a_cube_has_twelve_creases_and_flat_faces() {
        let (positions, triangles) = cube();
        let shaded = shade(&positions, &triangles, 30.0);
        assert_eq!(shaded.edges.len() / 2, 12); // no diagonals
        assert_eq!(shaded.vertices.len(), 24);
        for face in shaded.faces.chunks(3) {
            let normals: Vec<Vec3> =
                face.iter().map(|&v| shaded.vertices[v as usize].normal()).collect();
            assert!(normals.iter().all(|n| n.distance(normals[0]) < 1e-6));
            assert!((normals[0].abs().max_element() - 1.0).abs() < 1e-2);
        }
    }

    #[test]
    fn a_smooth_ring_has_no_creases_but_borders_when_open() {
        let sides = 36_u32; // 10° each
        let positions: Vec<Vec3> = (0..sides * 2)
            .map(|i| {
                let angle = (i / 2) as f32 * std::f32::consts::TAU / sides as f32;
                Vec3::new(angle.cos(), angle.sin(), (i % 2) as f32)
            })
            .collect();
        let triangles: Vec<[u32; 3]> = (0..sides)
            .flat_map(|s| {
                let [a, b] = [s * 2, (s + 1) % sides * 2];
                [[a, b, b + 1], [a, b + 1, a + 1]]
            })
            .collect();
        let shaded = shade(&positions, &triangles, 30.0);
        assert_eq!(shaded.vertices.len(), positions.len());
        assert_eq!(shaded.edges.len() / 2, sides as usize * 2); // the two open rims alone
        let creased = shade(&positions, &triangles, 5.0);
        assert_eq!(creased.edges.len() / 2, sides as usize * 3);
    }

    #[test]
    fn edges_shared_by_three_or_run_the_wrong_way_are_lines() {
        let positions = [Vec3::ZERO, Vec3::X, Vec3::Y, -Vec3::Y, Vec3::Z];
        let fan = [[0, 1, 2], [1, 0, 3], [0, 1, 4]];
        assert_eq!(shade(&positions, &fan, 30.0).edges.len() / 2, 7);
        let turned = [[0, 1, 2], [0, 1, 3]];
        assert_eq!(shade(&positions, &turned, 30.0).edges.len() / 2, 5);
    }
}
