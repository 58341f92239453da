//! What import and health check found of the mesh of a part.

use base::finding::JobProblem;
use base::{Finding, Kind};
use job::PartEntry;

/// For a part whose mesh cannot be had.
pub(crate) fn missing_mesh(part: &PartEntry) -> Finding {
    Finding::new(JobProblem::MissingMesh { part: part.name.clone() }).at_part(&part.name)
}

/// All findings about a mesh file. If the mesh was turned inside out after the first health report,
/// what that one said of the file itself is said too; all else is taken from the last.
pub(crate) fn of_mesh_file(
    file: &str,
    import: Vec<Finding>,
    before_turning: Option<&[Finding]>,
    health: &[Finding],
) -> Vec<Finding> {
    let turned = before_turning.into_iter().flatten();
    let turned = turned.filter(|finding| finding.kind() == Kind::InsideOut);
    let all = import.into_iter().chain(turned.chain(health).cloned());
    all.map(|finding| finding.at_part(file)).collect()
}
