//! The hatch: spacing, scan angle, travel, how the region is divided.

use super::{exposures, passes, pattern};
use crate::views::traveller::recipe_editor::{RecipeEditor, part_of};
use crate::widgets::field::{choice, count};
use egui::Ui;
use job::Recipe;
use job::recipe::{ForbiddenAngles, Hatch, Pattern, Strategy, Travel, ranges};

/// Shows the hatch of the strategy that `lens` finds in a recipe.
pub(super) fn show(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    hatch: Option<&Hatch>,
    lens: impl Fn(&mut Recipe) -> Option<&mut Strategy> + Copy + Send + 'static,
) {
    let of = part_of(move |recipe| lens(recipe)?.hatch.as_mut());
    let words = [(true, "parallel lines"), (false, "none")];
    if let Some(on) = choice(ui, "Hatch", &hatch.is_some(), &words, "Lines that fill the region.") {
        editor.edit("hatch", None, move |recipe| {
            let exposure = recipe.exposures.first().map(|e| e.name.clone());
            if let Some(strategy) = lens(recipe) {
                strategy.hatch = on.then(|| first_hatch(exposure));
            }
        });
    }
    let Some(hatch) = hatch else { return };
    spacing(ui, editor, hatch, of);
    scan_angle(ui, editor, hatch, of);
    let words = [(Travel::Serpentine, "to and fro"), (Travel::OneWay, "one way")];
    let hint = "Whether every other line runs back.";
    if let Some(new) = choice(ui, "Travel", &hatch.travel, &words, hint) {
        editor.edit("travel", None, move |recipe| {
            if let Some(hatch) = of(recipe) {
                hatch.travel = new;
            }
        });
    }
    pattern::show(ui, editor, hatch.pattern, of);
    let hint = "Lines shorter than this are left out.";
    editor.number(ui, "Shortest mark", " mm", ranges::SHORTEST_MM, 0.01, hint, move |recipe| {
        of(recipe).map(|hatch| &mut hatch.min_length_mm)
    });
    let hint = "The region is filled in every n-th layer only, counted from layer 0.";
    let (n, range) = (hatch.every_nth_layer, ranges::EVERY_NTH_LAYER);
    if let Some(new) = count(ui, "Every n-th layer", n, range, hint) {
        editor.edit("every n-th layer", new.merge, move |recipe| {
            if let Some(hatch) = of(recipe) {
                hatch.every_nth_layer = new.value;
            }
        });
    }
    exposures::show(ui, editor, "Hatch", &hatch.exposures, move |recipe| {
        of(recipe).map(|hatch| &mut hatch.exposures)
    });
    passes::of_hatch(ui, editor, hatch, of);
}

/// A hatch to start from; common practice, no source.
fn first_hatch(exposure: Option<String>) -> Hatch {
    Hatch {
        spacing_mm: 0.2,
        gap_mm: 0.2,
        angle_deg: 45.0,
        rotation_per_layer_deg: 67.0,
        forbidden: None,
        travel: Travel::Serpentine,
        pattern: Pattern::Lines,
        min_length_mm: 0.3,
        every_nth_layer: 1,
        exposures: exposure.into_iter().collect(),
        further_passes: Vec::new(),
    }
}

/// Distance of the lines from each other and from the contour.
fn spacing(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    hatch: &Hatch,
    of: impl Fn(&mut Recipe) -> Option<&mut Hatch> + Copy + Send + 'static,
) {
    let energy = editor.recipe.exposures.iter().find(|e| Some(&e.name) == hatch.exposures.first());
    let spacing_hint = energy.map_or(String::new(), |e| {
        let energy = job::energy::area_energy_j_mm2(e.power_w, e.speed_mm_s, hatch.spacing_mm);
        format!(
            "Distance of the lines. Now {energy:.4} J/mm² for one exposure; about 0.01 to 0.03 \
             J/mm² makes dense polyamide 12 (from memory of Caulfield et al. 2007, J. Mater. \
             Process. Technol. 182)."
        )
    });
    editor.number(ui, "Hatch spacing", " mm", ranges::SPACING_MM, 0.002, &spacing_hint, move |r| {
        of(r).map(|hatch| &mut hatch.spacing_mm)
    });
    let hint = "Distance from the innermost contour's centre to the ends of the hatch.";
    editor.number(ui, "Gap to contour", " mm", ranges::GAP_MM, 0.002, hint, move |recipe| {
        of(recipe).map(|hatch| &mut hatch.gap_mm)
    });
}

/// The scan angle, how far it is rotated from layer to layer, and which angles are not allowed.
fn scan_angle(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    hatch: &Hatch,
    of: impl Fn(&mut Recipe) -> Option<&mut Hatch> + Copy + Send + 'static,
) {
    let hint = "Scan angle of layer 0, from +X.";
    editor.number(ui, "Scan angle", "°", ranges::ANGLE_DEG, 0.5, hint, move |recipe| {
        of(recipe).map(|hatch| &mut hatch.angle_deg)
    });
    let hint = "How far the scan angle is rotated from each layer to the next. Common practice: 67° \
                or 90°.";
    editor.number(ui, "Rotation per layer", "°", ranges::ANGLE_DEG, 0.5, hint, move |recipe| {
        of(recipe).map(|hatch| &mut hatch.rotation_per_layer_deg)
    });
    let words = [(false, "all allowed"), (true, "keep off the spreading direction")];
    let hint = "Whether scan angles near the spreading direction are rotated away from it.";
    if let Some(on) = choice(ui, "Scan angles", &hatch.forbidden.is_some(), &words, hint) {
        editor.edit("scan angles", None, move |recipe| {
            if let Some(hatch) = of(recipe) {
                hatch.forbidden = on.then_some(ForbiddenAngles { within_deg: 15.0 });
            }
        });
    }
    let hint = "Scan angles closer than this to the spreading direction are rotated until they are \
                this far from it. In cells both directions keep away.";
    let range = match hatch.pattern {
        Pattern::Lines | Pattern::Stripes { .. } => 0.0..=89.9,
        Pattern::Cells { .. } => ranges::CROSSED_WITHIN_DEG,
    };
    editor.number(ui, "Forbidden within", "°", range, 0.5, hint, move |recipe| {
        of(recipe)?.forbidden.as_mut().map(|forbidden| &mut forbidden.within_deg)
    });
}
