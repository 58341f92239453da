//! The health report: every problem of a mesh, each with its place and what it means.
//!
//! Findings by kind, what follows from them and what to do:
//!
//! | kind                       | severity | consequence                                          |
//! |----------------------------|----------|------------------------------------------------------|
//! | `empty_mesh`               | stop     | nothing to build                                     |
//! | `unusable_triangles`       | stop     | corners missing or not finite; such triangles are left out |
//! | `no_volume`                | caution  | only surfaces without thickness: sections are empty  |
//! | `open_edges`               | caution  | contours end there; slicing closes the gap by a guess |
//! | `over_shared_edges`        | note, caution | solids touch along the edge (as many triangles each way: note), or a sheet ends there |
//! | `inconsistent_orientation` | caution  | neighbours disagree which side is outside            |
//! | `inside_out`               | caution  | a closed shell faces inwards though nothing surrounds it |
//! | `degenerate_triangles`     | note     | no area, no effect on sections                       |
//! | `duplicate_triangles`      | caution  | material counts twice there, or not at all           |
//! | `cavities`                 | caution  | powder stays locked inside                           |
//! | `nested_shells`            | note     | a solid wholly inside a solid adds nothing           |
//! | `self_intersections`       | caution  | surfaces touch or cross; overlaps are merged by winding number |
//!
//! One problem may hide another: an inconsistent shell, for example, has no trustworthy volume and
//! is not judged as a cavity.

mod contacts;
mod findings;
mod places;
mod shells;
mod triangles;

pub use contacts::SelfIntersections;
pub use places::{ContactPlace, EdgePlace, Faults, PLACES_KEPT, TrianglePlace};
pub use shells::{Shell, ShellRole};

use crate::hierarchy::Hierarchy;
use crate::measures::{Measures, measures};
use crate::{Mesh, Topology};
use base::{Cancelled, Finding, Progress};
use places::{edge_place, half_edge_ends};
use serde::Serialize;

/// Everything known about the soundness of one mesh, part frame.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct HealthReport {
    /// Volume, area, centre of mass, bounding box.
    pub measures: Measures,
    /// Triangles of the mesh, all of them.
    pub triangle_count: usize,
    /// Vertices of the mesh, used or not.
    pub vertex_count: usize,
    /// The connected surfaces, in the order of their first triangles.
    pub shells: Vec<Shell>,
    /// Triangles with a corner that does not exist or is not finite; left out of all else.
    pub unusable_triangles: usize,
    /// Edges with a single triangle.
    pub open_edges: Faults<EdgePlace>,
    /// Edges with more than two triangles.
    pub over_shared_edges: Faults<EdgePlace>,
    /// Edges whose two triangles run the same way, so that one of them faces the wrong side.
    pub inconsistent_edges: Faults<EdgePlace>,
    /// Triangles whose corners lie on one line, exactly, so that they have no area.
    pub degenerate_triangles: Faults<TrianglePlace>,
    /// Triangles with the same three vertices as one before them, whichever way they face.
    pub duplicate_triangles: Faults<TrianglePlace>,
    /// Pairs of triangles that touch or cross.
    pub self_intersections: SelfIntersections,
    /// One finding per kind of problem; empty for a sound mesh without cavities.
    pub findings: Vec<Finding>,
}

impl HealthReport {
    /// Whether the triangles are exactly the boundary of solids, facing outwards: all shells
    /// closed and rightly oriented, cavities allowed; no edge of more than two triangles, no
    /// duplicates, no shell nested in a solid, nothing touches or crosses. Degenerate triangles
    /// bound nothing and do not matter.
    pub fn is_sound(&self) -> bool {
        !self.shells.is_empty()
            && self.shells.iter().all(|shell| shell.role.is_boundary())
            && self.unusable_triangles == 0
            && self.open_edges.count == 0
            && self.over_shared_edges.count == 0
            && self.inconsistent_edges.count == 0
            && self.duplicate_triangles.count == 0
            && self.self_intersections.count == 0
            && !self.self_intersections.ended_early
    }

    /// Whether the mesh as a whole faces inwards, so that [`turn_inside_out`] mends it: no edge is
    /// inconsistent and the total volume is negative.
    pub fn is_inside_out(&self) -> bool {
        self.inconsistent_edges.count == 0
            && self.measures.centre_of_mass_mm.is_some()
            && self.measures.volume_mm3 < 0.0
    }
}

/// Makes every triangle face the other way.
pub fn turn_inside_out(mesh: &mut Mesh) {
    for [_, b, c] in &mut mesh.triangles {
        std::mem::swap(b, c);
    }
}

/// Finds all problems of a mesh. O(n log n) and one thread; a sound mesh of 1 M triangles takes a
/// few seconds. Of a mesh in which thousands of triangles meet, not all contacts are looked at, which the
/// report says.
///
/// Whether edges are shared is decided by vertex index, as the slicer does; whether surfaces touch
/// or cross, by position, exactly.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn health(mesh: &Mesh, progress: &Progress) -> Result<HealthReport, Cancelled> {
    let step = mesh.triangles.len() as u64;
    // Adjacency, shells, hierarchy, and as long as these together the search for contacts.
    progress.add_total(4 * step);
    let mut report = HealthReport {
        measures: measures(mesh),
        triangle_count: mesh.triangles.len(),
        vertex_count: mesh.vertices.len(),
        unusable_triangles: triangles::count_unusable(mesh),
        ..HealthReport::default()
    };
    let topology = Topology::new(mesh);
    add_edges(mesh, &topology, &mut report);
    progress.advance(step)?;

    let is_degenerate = triangles::degenerate(mesh);
    report.degenerate_triangles = triangles::places(mesh, &is_degenerate);
    report.duplicate_triangles = triangles::duplicates(mesh, &topology);
    let mut shells = shells::Shells::new(mesh, &topology);
    progress.advance(step)?;

    let hierarchy = Hierarchy::build(mesh);
    progress.advance(step)?;

    let found = contacts::find(mesh, &hierarchy, &is_degenerate, shells.of_triangle(), progress)?;
    progress.advance(step - hierarchy.len() as u64)?; // for the triangles left out
    shells.judge(mesh, &hierarchy, &found.touched_shells(shells.len()), progress)?;
    report.self_intersections = found.into_report();
    report.shells = shells.into_report();
    report.findings = findings::all(&report, &topology, mesh);
    Ok(report)
}

fn add_edges(mesh: &Mesh, topology: &Topology, report: &mut HealthReport) {
    for h in topology.open_half_edges() {
        report.open_edges.push(|| edge_place(mesh, half_edge_ends(mesh, h)));
    }
    for edge in topology.over_shared() {
        report.over_shared_edges.push(|| edge_place(mesh, edge.vertices));
    }
    for [h, _] in topology.inconsistent() {
        report.inconsistent_edges.push(|| edge_place(mesh, half_edge_ends(mesh, *h)));
    }
}
