//! Σ hatch length × spacing against the hatched area, measured on a lattice.

use super::expected::hatch_depth;
use super::lattice::edges;
use super::looked::Looked;
use super::outcome::Check;
use base::NM_PER_MM;
use base::finding::VectorsProblem;
use job::recipe::{Hatch, Pattern};
use scan_path::ExposureKind;

/// The sum of the marks agrees with the area within the bound of a sum of chords.
pub(super) fn check(check: &mut Check, looked: &Looked) {
    let recipe = check.recipe();
    if recipe.up_facing.is_some() || recipe.down_facing.is_some() {
        return; // several spacings; coverage has the say
    }
    let Some(hatch) = &recipe.core.hatch else { return };
    let depth = hatch_depth(recipe, &recipe.core, hatch);
    let hatched = looked.inside.clone().without(&looked.shallower_than(depth));
    let Looked { lattice, region, marks, .. } = looked;
    let boundary_nm = region.rings().flat_map(edges).fold(0.0, |sum, (a, b)| sum + a.distance(b));
    let pitch = lattice.pitch_nm();
    let area = hatched.count() as f64 * pitch * pitch;
    let passes = hatch.exposures.len() as f64;
    let length: f64 = marks.segments(Some(ExposureKind::Hatch)).map(|(a, b)| a.distance(b)).sum();
    let spacing = hatch.spacing_mm * NM_PER_MM;
    let covered = length / passes * spacing;
    // The bound of a sum of chords, the lattice's own error, short lines left out.
    let short = hatch.min_length_mm * NM_PER_MM;
    let slack = boundary_nm * (spacing / 2.0 + pitch + short) + area * 1e-3;
    if covered > area * (1.0 + overlap(hatch)) + slack || covered < area - slack {
        let mm2 = NM_PER_MM * NM_PER_MM;
        let at = region.points().first().map_or([0.0; 2], |p| [f64::from(p.x), f64::from(p.y)]);
        let (covered_mm2, area_mm2) = (covered / mm2, area / mm2);
        check.fault(at, VectorsProblem::HatchSum { covered_mm2, area_mm2 });
    }
}

/// How much of the area stripes or cells that reach into each other fill twice, as a part of it.
fn overlap(hatch: &Hatch) -> f64 {
    match hatch.pattern {
        Pattern::Lines => 0.0,
        Pattern::Stripes { width_mm, overlap_mm } => overlap_mm / width_mm,
        Pattern::Cells { size_mm, overlap_mm, .. } => (1.0 + overlap_mm / size_mm).powi(2) - 1.0,
    }
}
