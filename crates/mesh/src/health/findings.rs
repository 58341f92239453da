//! The report in sentences: one finding per kind, with the first place.

use super::HealthReport;
use super::places::{EdgePlace, Faults, TrianglePlace, triangle_point};
use super::shells::{Shell, ShellRole};
use crate::{Mesh, Topology};
use base::{Finding, Severity};

/// All findings, in the order of the table in the module's documentation.
pub(super) fn all(report: &HealthReport, topology: &Topology, mesh: &Mesh) -> Vec<Finding> {
    if report.triangle_count == 0 {
        let sentence = "The mesh has no triangles. Check the file and its export settings.";
        return vec![Finding::new(Severity::Stop, "empty_mesh", sentence)];
    }
    let with_role = |role: ShellRole| -> Vec<&Shell> {
        report.shells.iter().filter(|shell| shell.role == role).collect()
    };
    [
        unusable(report),
        no_volume(report),
        open_edges(&report.open_edges),
        over_shared_edges(&report.over_shared_edges, topology),
        inconsistent_edges(&report.inconsistent_edges),
        inside_out(report, &with_role(ShellRole::InsideOut), mesh),
        degenerate_triangles(&report.degenerate_triangles),
        duplicate_triangles(&report.duplicate_triangles),
        cavities(&with_role(ShellRole::Cavity), mesh),
        nested_shells(&with_role(ShellRole::Nested), mesh),
        self_intersections(report),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn unusable(report: &HealthReport) -> Option<Finding> {
    let n = report.unusable_triangles;
    (n > 0).then(|| {
        let what = counted(n, "triangle has", "triangles have");
        Finding::new(
            Severity::Stop,
            "unusable_triangles",
            format!(
                "{what} a corner that does not exist or is not a finite number, and cannot be \
                 built. Export the file anew."
            ),
        )
    })
}

fn no_volume(report: &HealthReport) -> Option<Finding> {
    let finding = Finding::new(
        Severity::Caution,
        "no_volume",
        "The mesh encloses no volume: sections of surfaces without thickness are empty. Give the \
         surfaces a thickness.",
    );
    let middle = report.measures.bounds_mm.map(|(lo, hi)| base::vec3::midpoint(lo, hi));
    (report.measures.centre_of_mass_mm.is_none() && report.unusable_triangles == 0)
        .then(|| finding.at_point(middle.unwrap_or_default()))
}

fn open_edges(faults: &Faults<EdgePlace>) -> Option<Finding> {
    let first = faults.first.first()?;
    let what = counted(faults.count, "edge has", "edges have");
    let sentence = format!(
        "{what} a triangle on one side only: the surface has a hole or a gap there. Contours that \
         end at it are closed by a straight line; check the layers around it, or close the \
         surface."
    );
    Some(Finding::new(Severity::Caution, "open_edges", sentence).at_point(first.point_mm))
}

fn over_shared_edges(faults: &Faults<EdgePlace>, topology: &Topology) -> Option<Finding> {
    let first = faults.first.first()?;
    let what = counted(faults.count, "edge has", "edges have");
    let mut unbalanced = topology.over_shared().iter().filter(|edge| !edge.is_balanced());
    let (severity, meaning) = if unbalanced.next().is_some() {
        (
            Severity::Caution,
            "a surface ends on another there, and contours may end with it. Remove the extra \
             surface, or check the layers around it.",
        )
    } else {
        (
            Severity::Note,
            "solids touch along a line there. They are sliced as separate solids; the bond \
             between them is weak.",
        )
    };
    let sentence = format!("{what} more than two triangles: {meaning}");
    Some(Finding::new(severity, "over_shared_edges", sentence).at_point(first.point_mm))
}

fn inconsistent_edges(faults: &Faults<EdgePlace>) -> Option<Finding> {
    let first = faults.first.first()?;
    let what = counted(faults.count, "edge lies", "edges lie");
    let sentence = format!(
        "{what} between triangles that disagree on which side is outside: some of them face the \
         wrong way, and material may be missing or added there. Make the orientation of the mesh \
         consistent."
    );
    Some(
        Finding::new(Severity::Caution, "inconsistent_orientation", sentence)
            .at_point(first.point_mm),
    )
}

fn inside_out(report: &HealthReport, shells: &[&Shell], mesh: &Mesh) -> Option<Finding> {
    let first = shells.first()?;
    let volume: f64 = shells.iter().map(|shell| shell.volume_mm3.abs()).sum();
    let sentence = if report.is_inside_out() {
        format!(
            "The whole mesh is inside out: its triangles face inwards around {volume:.3} mm³. \
             Turn all of them around."
        )
    } else {
        let what = counted(shells.len(), "closed shell is", "closed shells are");
        format!(
            "{what} inside out: the triangles face inwards around {volume:.3} mm³ though no solid \
             surrounds them. Turn them around if they are solids; remove them if they are \
             leftovers of cavities."
        )
    };
    Some(
        Finding::new(Severity::Caution, "inside_out", sentence)
            .at_point(triangle_point(mesh, first.first_triangle as usize)),
    )
}

fn degenerate_triangles(faults: &Faults<TrianglePlace>) -> Option<Finding> {
    let first = faults.first.first()?;
    let what = counted(faults.count, "triangle has", "triangles have");
    let sentence =
        format!("{what} no area, the corners lie on one line. Sections are not affected.");
    Some(Finding::new(Severity::Note, "degenerate_triangles", sentence).at_point(first.point_mm))
}

fn duplicate_triangles(faults: &Faults<TrianglePlace>) -> Option<Finding> {
    let first = faults.first.first()?;
    let what = counted(faults.count, "triangle has", "triangles have");
    let sentence = format!(
        "{what} the same three vertices as another: a surface lies there twice, or is a wall \
         without thickness. Remove the copies."
    );
    Some(Finding::new(Severity::Caution, "duplicate_triangles", sentence).at_point(first.point_mm))
}

fn cavities(shells: &[&Shell], mesh: &Mesh) -> Option<Finding> {
    let first = shells.first()?;
    let volume: f64 = shells.iter().map(|shell| shell.volume_mm3.abs()).sum();
    let what = counted(shells.len(), "closed cavity", "closed cavities");
    let sentence = format!(
        "The part has {what} of {volume:.3} mm³ in all: powder stays locked inside. Add an opening \
         to let it out, or fill the cavity if it is not meant."
    );
    Some(
        Finding::new(Severity::Caution, "cavities", sentence)
            .at_point(triangle_point(mesh, first.first_triangle as usize)),
    )
}

fn nested_shells(shells: &[&Shell], mesh: &Mesh) -> Option<Finding> {
    let first = shells.first()?;
    let volume: f64 = shells.iter().map(|shell| shell.volume_mm3).sum();
    let what = counted(shells.len(), "solid lies", "solids lie");
    let sentence = format!(
        "{what} wholly inside another solid, {volume:.3} mm³ in all: overlapping material is built \
         once. If a cavity is meant, turn the inner shell around."
    );
    Some(
        Finding::new(Severity::Note, "nested_shells", sentence)
            .at_point(triangle_point(mesh, first.first_triangle as usize)),
    )
}

fn self_intersections(report: &HealthReport) -> Option<Finding> {
    let found = &report.self_intersections;
    let first = found.first.first()?;
    let what = counted(
        found.count,
        "pair of triangles touches or crosses",
        "pairs of triangles touch or cross",
    );
    let whose = match found.between_shells {
        0 => "all within one shell".to_owned(),
        n if n == found.count => "all between different shells".to_owned(),
        n => format!("{n} of them between different shells"),
    };
    let sentence = format!(
        "{what}, {whose}. Overlapping solids are merged in every section; where a single surface \
         crosses itself, check the layers around it."
    );
    Some(Finding::new(Severity::Caution, "self_intersections", sentence).at_point(first.point_mm))
}

/// "1 edge has" or "3 edges have".
fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}
