//! Dose in narrow walls, where it is not decided which lines they are to have.

use super::across::Undecided;
use super::expected::Required;
use super::grid::Xy;
use super::outcome::{Check, Marks, Tally};
use super::wall_rules::WallRule;
use crate::strokes::strokes;
use base::NM_PER_MM;
use base::finding::VectorsProblem;
use estimate::DoseField;
use scan_path::RegionKind;

/// Nowhere is more than this, as a multiple of the mean dose of the hatch that brings most.
const MOST: f64 = 3.0;

/// In the middle of a wall that may lack a line, it is not less than this multiple of the mean of the own kind of region;
/// the least that walls of the campaign have is 0.22.
const LEAST: f64 = 0.2;

/// A point in a narrow wall, and the kind of region it lies in.
pub(super) type Place = (Xy, RegionKind);

/// Compares the dose at places in narrow walls with what is too much anywhere.
pub(super) fn check(check: &mut Check, required: &Required, marks: &Marks, places: &Undecided) {
    if places.any.is_empty() && places.lacking.is_empty() {
        return;
    }
    let recipe = check.build.placed[check.row].recipe;
    let beam = check.build.melt(recipe).beam;
    let strokes = strokes(marks.blocks.iter().copied(), &check.build.header.exposures);
    let Ok(field) = DoseField::new(&strokes, beam) else {
        return; // numbers that are none were found in the tables
    };
    let rules = required.kinds.iter().filter_map(|kind| kind.walls.as_ref());
    let most = MOST * rules.map(WallRule::mean_j_mm2).fold(0.0, f64::max);
    check.outcome.points_tested += places.any.len() as u64 + places.lacking.len() as u64;
    let mut off = Tally::default();
    let at = |p: &Xy| field.at(p.map(|c| c / NM_PER_MM));
    for (p, _) in places.any.iter().filter(|(p, _)| at(p) > most) {
        off.add(*p, 0.0);
    }
    for (p, region) in &places.lacking {
        let Some(rule) = required.walls(*region) else { continue };
        let dose = at(p);
        if dose < LEAST * rule.mean_j_mm2() || dose > most {
            off.add(*p, 0.0);
        }
    }
    off.report(check, |t| VectorsProblem::DoseDiffers { places: t.count });
}
