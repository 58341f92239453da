//! The report as findings: one of each kind, with the first place.

use super::HealthReport;
use super::places::{EdgePlace, Faults, TrianglePlace, triangle_point};
use super::shells::{Shell, ShellRole};
use crate::topology::OverSharedEdge;
use crate::{Mesh, Topology};
use base::Finding;
use base::finding::{ShellProblem, SurfaceProblem};

/// All findings, in the order of the table in the module's documentation.
pub(super) fn all(report: &HealthReport, topology: &Topology, mesh: &Mesh) -> Vec<Finding> {
    if report.triangle_count == 0 {
        return vec![Finding::new(SurfaceProblem::EmptyMesh)];
    }
    let with_role = |role: ShellRole| -> Vec<&Shell> {
        report.shells.iter().filter(|shell| shell.role == role).collect()
    };
    let edges = |faults: &Faults<EdgePlace>, problem: fn(u64) -> SurfaceProblem| {
        Some(counted(faults.count, faults.first.first()?.point_mm, problem))
    };
    let triangles = |faults: &Faults<TrianglePlace>, problem: fn(u64) -> SurfaceProblem| {
        Some(counted(faults.count, faults.first.first()?.point_mm, problem))
    };
    [
        unusable(report),
        no_volume(report),
        edges(&report.open_edges, |count| SurfaceProblem::OpenEdges { count }),
        over_shared_edges(&report.over_shared_edges, topology),
        edges(&report.inconsistent_edges, |count| SurfaceProblem::InconsistentOrientation {
            count,
        }),
        inside_out(report, &with_role(ShellRole::InsideOut), mesh),
        triangles(&report.degenerate_triangles, |count| SurfaceProblem::DegenerateTriangles {
            count,
        }),
        triangles(&report.duplicate_triangles, |count| SurfaceProblem::DuplicateTriangles {
            count,
        }),
        cavities(&with_role(ShellRole::Cavity), mesh),
        nested_shells(&with_role(ShellRole::Nested), mesh),
        self_intersections(report),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn counted(count: usize, point_mm: [f64; 3], problem: fn(u64) -> SurfaceProblem) -> Finding {
    Finding::new(problem(count as u64)).at_point(point_mm)
}

/// A problem of shells, at the first of them.
fn at_shell(problem: ShellProblem, first: &Shell, mesh: &Mesh) -> Finding {
    Finding::new(problem).at_point(triangle_point(mesh, first.first_triangle as usize))
}

fn unusable(report: &HealthReport) -> Option<Finding> {
    let count = report.unusable_triangles as u64;
    (count > 0).then(|| Finding::new(SurfaceProblem::UnusableTriangles { count }))
}

fn no_volume(report: &HealthReport) -> Option<Finding> {
    let middle = report.measures.bounds_mm.map(|(lo, hi)| base::vec3::midpoint(lo, hi));
    (report.measures.centre_of_mass_mm.is_none() && report.unusable_triangles == 0)
        .then(|| Finding::new(ShellProblem::NoVolume).at_point(middle.unwrap_or_default()))
}

fn over_shared_edges(faults: &Faults<EdgePlace>, topology: &Topology) -> Option<Finding> {
    let first = faults.first.first()?;
    let balanced = topology.over_shared().iter().all(OverSharedEdge::is_balanced);
    let problem = SurfaceProblem::OverSharedEdges { count: faults.count as u64, balanced };
    Some(Finding::new(problem).at_point(first.point_mm))
}

fn inside_out(report: &HealthReport, shells: &[&Shell], mesh: &Mesh) -> Option<Finding> {
    let first = shells.first()?;
    let problem = ShellProblem::InsideOut {
        shells: shells.len() as u64,
        volume_mm3: shells.iter().map(|shell| shell.volume_mm3.abs()).sum(),
        whole_mesh: report.is_inside_out(),
    };
    Some(at_shell(problem, first, mesh))
}

fn cavities(shells: &[&Shell], mesh: &Mesh) -> Option<Finding> {
    let first = shells.first()?;
    let problem = ShellProblem::Cavities {
        count: shells.len() as u64,
        volume_mm3: shells.iter().map(|shell| shell.volume_mm3.abs()).sum(),
    };
    Some(at_shell(problem, first, mesh))
}

fn nested_shells(shells: &[&Shell], mesh: &Mesh) -> Option<Finding> {
    let first = shells.first()?;
    let problem = ShellProblem::NestedShells {
        count: shells.len() as u64,
        volume_mm3: shells.iter().map(|shell| shell.volume_mm3).sum(),
    };
    Some(at_shell(problem, first, mesh))
}

fn self_intersections(report: &HealthReport) -> Option<Finding> {
    let found = &report.self_intersections;
    let first = found.first.first();
    if first.is_none() && !found.ended_early {
        return None;
    }
    let problem = SurfaceProblem::SelfIntersections {
        count: found.count as u64,
        between_shells: found.between_shells as u64,
        ended_early: found.ended_early,
    };
    let finding = Finding::new(problem);
    Some(match first {
        Some(first) => finding.at_point(first.point_mm),
        None => finding,
    })
}
