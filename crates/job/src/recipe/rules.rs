//! What a recipe may contain: the range of every number, and what must agree with what.

use super::ranges::{
    ANGLE_DEG, BEAM_OFFSET_MM, CHORD_TOLERANCE_UM, CONTOURS, CROSSED_WITHIN_DEG, DEEPER_MM,
    EVERY_NTH_LAYER, FACING_LAYERS, GAP_MM, LAYER_THICKNESS_MM, MITRE_LIMIT, RETURN_MS, RUN_MM,
    SHORTEST_MM, SHRINKAGE_PERCENT, SPACING_MM, TILE_MM, Z_GROWTH_MM, power_w, speed_mm_s,
};
use super::{Contours, Hatch, Joins, Pattern, Recipe, StartPoint, Strategy, ThinWalls};
use crate::Invalid;
use crate::check::{Checker, Number};

pub(super) fn check(recipe: &Recipe) -> Result<(), Vec<Invalid>> {
    let mut c = Checker::default();
    c.count("version", recipe.version, 1..=Recipe::VERSION);
    c.text("name", &recipe.name);
    c.number("layer_thickness_mm", recipe.layer_thickness_mm, LAYER_THICKNESS_MM);
    c.within("material", |c| recipe.material.check(c));
    c.numbers("shrinkage_percent", recipe.shrinkage_percent, &SHRINKAGE_PERCENT);
    c.number("z_growth_mm", recipe.z_growth_mm, Z_GROWTH_MM);
    c.number("beam_offset_mm", recipe.beam_offset_mm, BEAM_OFFSET_MM);
    if let Some(hole_offset_mm) = recipe.hole_offset_mm {
        c.number("hole_offset_mm", hole_offset_mm, BEAM_OFFSET_MM);
    }
    if let Some(shortest_return_ms) = recipe.shortest_return_ms {
        c.number("shortest_return_ms", shortest_return_ms, RETURN_MS);
    }
    c.within("joins", |c| match recipe.joins {
        Joins::Round { chord_tolerance_um } => {
            c.number("chord_tolerance_um", chord_tolerance_um, CHORD_TOLERANCE_UM);
        }
        Joins::Mitre { limit } => c.number("limit", limit, MITRE_LIMIT),
    });
    c.within("thin_walls", |c| match &recipe.thin_walls {
        ThinWalls::Expose { exposure, min_length_mm, min_width_mm } => {
            recipe.check_exposure_name(c, "exposure", exposure);
            c.number("min_length_mm", *min_length_mm, SHORTEST_MM);
            // Wider walls have contours; a larger number would mean nothing. An offset that is not
            // allowed has been named above, and says nothing about widths.
            let offset = recipe.beam_offset_mm;
            let widest = if offset >= 0.0 { (2.0 * offset).min(4.0) } else { 4.0 };
            c.number("min_width_mm", *min_width_mm, 0.0..=widest);
        }
        ThinWalls::Skip => {}
    });
    c.within("limits", |c| recipe.limits.check(c));
    c.not_empty("exposures", &recipe.exposures);
    c.each("exposures", &recipe.exposures, |c, exposure| {
        c.text("name", &exposure.name);
        c.number("power_w", exposure.power_w, power_w());
        c.number("speed_mm_s", exposure.speed_mm_s, speed_mm_s());
        c.number("path_run_in_mm", exposure.path_run_in_mm, RUN_MM);
        c.number("path_run_out_mm", exposure.path_run_out_mm, RUN_MM);
    });
    let names = recipe.exposures.iter().map(|e| (&e.name, format!("{:?}", e.name)));
    c.distinct("exposures", ".name", names);
    c.within("core", |c| check_strategy(c, recipe, &recipe.core));
    for (field, facing) in [("up_facing", &recipe.up_facing), ("down_facing", &recipe.down_facing)]
    {
        if let Some(facing) = facing {
            c.within(field, |c| {
                c.count("layers", facing.layers, FACING_LAYERS);
                c.within("strategy", |c| check_strategy(c, recipe, &facing.strategy));
            });
        }
    }
    c.finish()
}

fn check_strategy(c: &mut Checker, recipe: &Recipe, strategy: &Strategy) {
    if strategy.contours.is_none() && strategy.hatch.is_none() {
        c.report("", "without contours and hatch", "given at least one of the two");
    }
    if let Some(contours) = &strategy.contours {
        c.within("contours", |c| check_contours(c, recipe, contours));
    }
    if let Some(hatch) = &strategy.hatch {
        c.within("hatch", |c| check_hatch(c, recipe, hatch));
    }
}

fn check_contours(c: &mut Checker, recipe: &Recipe, contours: &Contours) {
    c.count("count", contours.count, CONTOURS);
    c.number("spacing_mm", contours.spacing_mm, SPACING_MM);
    if let StartPoint::Towards(direction_deg) = contours.start {
        c.number("start", direction_deg, ANGLE_DEG);
    }
    check_exposures(c, recipe, &contours.exposures);
    c.each("further_passes", &contours.further_passes, |c, pass| {
        recipe.check_exposure_name(c, "exposure", &pass.exposure);
        // not beyond the boundary; an offset that is not allowed has been named already
        let nearest = (-recipe.beam_offset_mm).clamp(*DEEPER_MM.start(), 0.0);
        c.number("deeper_by_mm", pass.deeper_by_mm, nearest..=*DEEPER_MM.end());
    });
}

fn check_hatch(c: &mut Checker, recipe: &Recipe, hatch: &Hatch) {
    c.number("spacing_mm", hatch.spacing_mm, SPACING_MM);
    c.number("gap_mm", hatch.gap_mm, GAP_MM);
    c.number("angle_deg", hatch.angle_deg, ANGLE_DEG);
    c.number("rotation_per_layer_deg", hatch.rotation_per_layer_deg, ANGLE_DEG);
    if let Some(forbidden) = hatch.forbidden {
        match hatch.pattern {
            Pattern::Lines | Pattern::Stripes { .. } => {
                c.number("forbidden.within_deg", forbidden.within_deg, 0.0..90.0);
            }
            Pattern::Cells { .. } => check_crossed(c, forbidden.within_deg),
        }
    }
    c.within("pattern", |c| match hatch.pattern {
        Pattern::Lines => {}
        Pattern::Stripes { width_mm, overlap_mm } => {
            check_tiles(c, "width_mm", width_mm, overlap_mm);
        }
        Pattern::Cells { size_mm, overlap_mm, order: _ } => {
            check_tiles(c, "size_mm", size_mm, overlap_mm);
        }
    });
    c.number("min_length_mm", hatch.min_length_mm, SHORTEST_MM);
    c.count("every_nth_layer", hatch.every_nth_layer, EVERY_NTH_LAYER);
    check_exposures(c, recipe, &hatch.exposures);
    c.each("further_passes", &hatch.further_passes, |c, pass| {
        recipe.check_exposure_name(c, "exposure", &pass.exposure);
        c.number("spacing_mm", pass.spacing_mm, SPACING_MM);
        c.number("rotated_by_deg", pass.rotated_by_deg, ANGLE_DEG);
    });
}

fn check_crossed(c: &mut Checker, within_deg: f64) {
    if !CROSSED_WITHIN_DEG.contains(&within_deg) {
        let (low, high) = (CROSSED_WITHIN_DEG.start(), CROSSED_WITHIN_DEG.end());
        let allowed = format!(
            "at least {low} and at most {high} with cells: every other one is hatched a quarter turn on"
        );
        c.report("forbidden.within_deg", Number(within_deg), &allowed);
    }
}

/// A tile may reach into its neighbour by half at most: beyond, it would reach the one after.
fn check_tiles(c: &mut Checker, field: &str, size_mm: f64, overlap_mm: f64) {
    c.number(field, size_mm, TILE_MM);
    let most = if size_mm.is_finite() { (size_mm / 2.0).clamp(0.0, 500.0) } else { 500.0 };
    c.number("overlap_mm", overlap_mm, 0.0..=most);
}

/// Most exposures that are run one after the other over the same lines: each melts the spot again, and more
/// than two or three are a slip of copying lines.
const MOST_PASSES: usize = 10;

fn check_exposures(c: &mut Checker, recipe: &Recipe, names: &[String]) {
    c.not_empty("exposures", names);
    if names.len() > MOST_PASSES {
        let (value, allowed) = (format!("{} names", names.len()), format!("at most {MOST_PASSES}"));
        c.report("exposures", value, allowed);
        return;
    }
    for (i, name) in names.iter().enumerate() {
        recipe.check_exposure_name(c, &format!("exposures[{i}]"), name);
    }
}

impl Recipe {
    /// An exposure that is named must exist.
    pub(crate) fn check_exposure_name(&self, c: &mut Checker, field: &str, name: &str) {
        if self.exposure(name).is_some() {
            return;
        }
        let names: Vec<_> = self.exposures.iter().map(|e| format!("{:?}", e.name)).collect();
        let allowed = if names.is_empty() {
            "the name of an exposure, and there are none".to_owned()
        } else {
            format!("one of the exposures {}", names.join(", "))
        };
        c.report(field, format_args!("{name:?}"), allowed);
    }
}
