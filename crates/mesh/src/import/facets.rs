//! From a stream of facets, each with its own corners, to a welded mesh.

use super::error::ImportError;
use super::weld::{BATCH, Welder};
use crate::Mesh;
use base::Finding;
use base::finding::FileProblem;

/// As many as give a batch of corners.
const PENDING: usize = BATCH / 3;

/// A triangle as the file has it.
#[derive(Clone, Copy)]
struct Facet {
    normal: [f32; 3],
    corners: [[f32; 3]; 3],
    place: u64,
}

/// A mesh under construction, fed facet by facet in the order of the file.
pub(super) struct Facets {
    welder: Welder<[f32; 3]>,
    triangles: Vec<[u32; 3]>,
    /// Facets that wait for the batch to be full.
    pending: Vec<Facet>,
    tally: Tally,
    /// Millimetres in the unit of the corners.
    scale: f64,
}

impl Facets {
    /// An empty mesh. `expected` is the likely number of triangles, from the length of the data;
    /// `scale` is mm in the unit of the corners.
    pub(super) fn new(expected: usize, scale: f64) -> Self {
        Self {
            // A closed surface has half as many vertices as triangles.
            welder: Welder::new(expected / 2 + 2),
            triangles: Vec::with_capacity(expected),
            pending: Vec::with_capacity(PENDING),
            tally: Tally::default(),
            scale,
        }
    }

    /// Adds a facet that stands at `place` (byte or line) of the file. Facets with corners that
    /// are not finite are counted and left out.
    #[inline]
    pub(super) fn push(
        &mut self,
        normal: [f32; 3],
        corners: [[f32; 3]; 3],
        place: u64,
    ) -> Result<(), ImportError> {
        self.pending.push(Facet { normal, corners, place });
        if self.pending.len() == PENDING { self.flush() } else { Ok(()) }
    }

    fn flush(&mut self) -> Result<(), ImportError> {
        let mut corners = [[[0.0; 3]; 3]; PENDING];
        let mut count = 0;
        for facet in self.pending.drain(..) {
            if !facet.corners.as_flattened().iter().fold(true, |all, c| all & c.is_finite()) {
                Tally::count(&mut self.tally.not_finite, facet.place);
                continue;
            }
            if is_against(facet.normal, facet.corners) {
                Tally::count(&mut self.tally.against_normal, facet.place);
            }
            corners[count] = facet.corners;
            count += 1;
        }
        let from = self.triangles.len();
        self.triangles.resize(from + count, [0; 3]);
        let indices = self.triangles[from..].as_flattened_mut();
        self.welder.weld(corners[..count].as_flattened(), indices)
    }

    /// The mesh; what was odd goes to `findings`, with `place_name` (`byte` or `line`) naming what
    /// the places count.
    pub(super) fn finish(
        mut self,
        place_name: &'static str,
        findings: &mut Vec<Finding>,
    ) -> Result<Mesh, ImportError> {
        self.flush()?;
        self.tally.report(place_name, findings);
        self.triangles.shrink_to_fit();
        Ok(Mesh { vertices: self.welder.finish(self.scale), triangles: self.triangles })
    }
}

/// How many facets were odd in which way, and where the first was.
#[derive(Default)]
pub(super) struct Tally {
    /// Left out because a corner is not finite.
    pub(super) not_finite: (u64, u64),
    /// Stored normal against the order of the corners.
    against_normal: (u64, u64),
}

impl Tally {
    /// Counts one more at `place`.
    pub(super) fn count(entry: &mut (u64, u64), place: u64) {
        if entry.0 == 0 {
            entry.1 = place;
        }
        entry.0 += 1;
    }

    /// Turns the counts into findings.
    pub(super) fn report(&self, place_name: &'static str, findings: &mut Vec<Finding>) {
        let (count, first) = self.not_finite;
        if count > 0 {
            let problem = FileProblem::CornersNotFinite { count, place_name, first };
            findings.push(Finding::new(problem));
        }
        let (count, first) = self.against_normal;
        if count > 0 {
            let problem = FileProblem::NormalsDisagree { count, place_name, first };
            findings.push(Finding::new(problem));
        }
    }
}

/// Whether a stored normal clearly (by more than 120°) points against the order of the corners.
/// Neither a missing normal (zeros) nor one that is not a number does.
fn is_against(normal: [f32; 3], [a, b, c]: [[f32; 3]; 3]) -> bool {
    let sub = |p: [f32; 3], q: [f32; 3]| [p[0] - q[0], p[1] - q[1], p[2] - q[2]];
    let dot = |p: [f32; 3], q: [f32; 3]| p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
    let (u, v) = (sub(b, a), sub(c, a));
    let cross = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
    let along = dot(normal, cross);
    along < 0.0 && along * along > 0.25 * dot(normal, normal) * dot(cross, cross)
}
