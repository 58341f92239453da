//! `dose` over many layers: how true the melt comes out, and what of the part is lost.

use super::said::{alone, failure, show_offsets, show_threshold, stated};
use crate::args::DoseArgs;
use crate::console::{findings, json, line, with_progress};
use crate::outcome::{Failure, Outcome};
use crate::verbs::ready::ready;
use estimate::outline::NEAR_CORNER_IN_RADII;
use pipeline::{
    BuildDose, BuildPrediction, Closed, LayerChoice, PartBoundary, Spread, TRUE_TO_MM, build_dose,
};
use std::path::Path;

pub(super) fn run(args: &DoseArgs, job: &Path) -> Result<Outcome, Failure> {
    let build = ready(job)?;
    let (first, last) = args.layers.unwrap_or_default();
    let layers = LayerChoice { first, last, step: args.step };
    let stated = stated(args);
    let dose = with_progress("Adding up the dose", |progress| {
        build_dose(&args.file, &build, layers, &stated, progress)
    })
    .map_err(|error| failure(&error))?;
    if args.json {
        json(&dose)?;
    } else {
        show(&dose);
    }
    Ok(Outcome::Done)
}

fn show(dose: &BuildDose) {
    let of = alone(dose.recipe.as_deref());
    line(&format!("{} layers looked at, {} of them in use{of}", dose.looked_at, dose.used));
    line(&format!(
        "beam radius {w} mm to 1/e²; corners are places where the boundary is sharper than the beam's spot, \
         and what lies within {} mm of one",
        NEAR_CORNER_IN_RADII * dose.beam_radius_mm,
        w = dose.beam_radius_mm
    ));
    let Closed { closed, contours, closed_mm, contours_mm } = dose.contours;
    line(&format!(
        "contours: {contours}, closed {closed} ({}), {} of their length",
        percent(closed as f64, contours as f64),
        percent(closed_mm, contours_mm)
    ));
    dose.predictions.iter().for_each(show_prediction);
}

fn show_prediction(prediction: &BuildPrediction) {
    let BuildPrediction { outline, boundary, boundary_away, parts, .. } = prediction;
    show_threshold(prediction.powder_depth, prediction.threshold_j_mm2);
    let true_to = format!("within {TRUE_TO_MM} mm");
    line(&format!("  {:<36} {:>9} {:>13} {true_to:>15}", "", "mean, mm", "95 % within"));
    show_spread("outline from the boundary", outline.as_ref());
    show_spread("boundary from the outline", boundary.as_ref());
    let places = |spread: &Option<Spread>| spread.as_ref().map_or(0, |spread| spread.places);
    let share = percent(places(boundary_away) as f64, places(boundary) as f64);
    show_spread(&format!("away from corners, {share} of it"), boundary_away.as_ref());
    for PartBoundary { part, boundary_away, worst_mm, worst_at_mm } in parts {
        show_spread(&format!("  {part}"), Some(boundary_away));
        if let (Some(mm), Some([x, y, z])) = (worst_mm, worst_at_mm) {
            line(&format!("      worst {mm:+.3} mm at ({x:.3}, {y:.3}, {z:.3})"));
        }
    }
    show_offsets(&prediction.proposed_offsets);
    findings(&prediction.findings);
}

fn show_spread(what: &str, spread: Option<&Spread>) {
    let Some(spread) = spread else { return };
    let mean = spread.mean_mm.map_or("–".to_owned(), |mm| format!("{mm:+.4}"));
    let p95 = spread.p95_mm.map_or("–".to_owned(), |mm| format!("{mm:.3}"));
    let share = format!("{:.1} %", 100.0 * spread.true_share);
    line(&format!("  {what:<36} {mean:>9} {p95:>13} {share:>15}"));
}

fn percent(part: f64, whole: f64) -> String {
    if whole > 0.0 { format!("{:.1} %", 100.0 * part / whole) } else { "–".to_owned() }
}
