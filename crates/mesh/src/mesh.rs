//! The one mesh type.

/// An indexed triangle mesh.
///
/// | field       | shape, unit                                                |
/// |-------------|------------------------------------------------------------|
/// | `vertices`  | `n × 3`, mm, part frame (Z up), finite                     |
/// | `triangles` | `m × 3` indices into `vertices`, counter-clockwise outside |
///
/// Importers guarantee indices in range and finite coordinates; nothing else is promised about
/// soundness (see the health report).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mesh {
    /// Corner positions, mm.
    pub vertices: Vec<[f64; 3]>,
    /// Corner indices, counter-clockwise seen from outside.
    pub triangles: Vec<[u32; 3]>,
}

impl Mesh {
    /// The three corner positions of a triangle, mm.
    pub fn corners(&self, triangle: usize) -> [[f64; 3]; 3] {
        self.triangles[triangle].map(|v| self.vertices[v as usize])
    }

    /// Smallest and largest coordinate of the vertices, mm; `None` for a mesh without vertices.
    pub fn bounds(&self) -> Option<([f64; 3], [f64; 3])> {
        let first = *self.vertices.first()?;
        Some(self.vertices.iter().fold((first, first), |(mut lo, mut hi), v| {
            for k in 0..3 {
                lo[k] = lo[k].min(v[k]);
                hi[k] = hi[k].max(v[k]);
            }
            (lo, hi)
        }))
    }
}
