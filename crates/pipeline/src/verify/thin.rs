//! Walls too thin for contours, found at the points of a lattice: those that no disc of the beam
//! offset's radius inside the section holds.
//!
//! What has to be exposed in walls that are narrow, but not that thin, is a matter of its own; a rule
//! for them belongs beside this one, and [`super::hatch`] would have to leave their lines alone.

use super::around::Around;
use super::expected::{Required, TOLERANCE_NM};
use super::grid::Xy;
use super::lattice::{Bits, Lattice, edges};
use super::outcome::{Check, Marks};
use super::pieces::pieces;
use super::walls::Walls;
use base::NM_PER_MM;
use base::finding::VectorsProblem;
use scan_path::ExposureKind;

/// Every thin wall that is long and wide enough has a centreline.
pub(super) fn check(
    check: &mut Check,
    required: &Required,
    around: &Around,
    walls: &Walls,
    marks: &Marks,
) {
    let offset = required.offset;
    let Some(bounds) = around.own.first().and_then(|section| section.region.bounds()) else {
        return;
    };
    if offset <= TOLERANCE_NM {
        return; // nothing is too thin
    }
    let lattice = Lattice::new(bounds, offset / 3.0);
    let mut sections = around.own.iter().map(|section| lattice.inside(&section.region));
    let Some(first) = sections.next() else { return };
    let inside = sections.fold(first, |all, section| all.and(&section));
    check.outcome.points_tested += inside.count();
    let shallow = |depth: f64| {
        let mut bits = lattice.empty();
        for (a, b) in around.own.iter().flat_map(|s| s.region.rings()).flat_map(edges) {
            lattice.add_stadium(&mut bits, a, b, depth);
        }
        bits
    };
    let rim = inside.clone().and(&shallow(offset));
    let body = inside.without(&rim);
    let mut thin = rim.without(&near_marks(&lattice, marks, required.corners.reach(offset)));
    for (column, row) in thin.clone().points() {
        // Some disc of the offset's radius holds the point: it is no thin wall.
        if lattice.any_within(&body, column, row, offset) {
            thin.clear(column, row);
        }
    }
    let point_mm2 = (lattice.pitch_nm() / NM_PER_MM).powi(2);
    check.outcome.thin_unexposed_mm2 += thin.count() as f64 * point_mm2;
    let Some(rule) = &required.centrelines else { return };
    // What lies deeper than half the least width belongs to a wall that is wide enough.
    let wide = thin.without(&shallow(rule.min_width / 2.0 + TOLERANCE_NM));
    for piece in pieces(&lattice, wide) {
        let least = rule.min_length + 2.0 * lattice.pitch_nm();
        if piece.extent_nm <= least {
            continue;
        }
        // The line along a wall ends its half width before both ends, and across its corners a piece
        // measures its width more than the wall's length.
        let depth = |p: &Xy| walls.nearest(*p, offset).map_or(offset, |near| near.distance);
        let half_width =
            piece.points.iter().map(depth).fold(0.0, f64::max) + lattice.pitch_nm() / 2.0;
        if piece.extent_nm > least + 4.0 * half_width.min(offset) {
            let reach_mm = piece.extent_nm / NM_PER_MM;
            let at = piece.points.first().copied().unwrap_or_default();
            check.fault(at, VectorsProblem::CentrelineMissing { reach_mm });
        }
    }
}

/// The points within a reach of contours and centrelines, nm.
fn near_marks(lattice: &Lattice, marks: &Marks, reach: f64) -> Bits {
    let mut bits = lattice.empty();
    let blocks = marks.blocks.iter().filter(|block| block.kind != ExposureKind::Hatch);
    for mark in blocks.flat_map(|block| block.paths.iter()).flat_map(|path| path.windows(2)) {
        lattice.add_stadium(&mut bits, mark[0], mark[1], reach);
    }
    bits
}
