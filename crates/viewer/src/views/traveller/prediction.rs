//! What the prediction says of a recipe: the beam offset to take, and how much energy melts.

use super::recipe_editor::RecipeEditor;
use crate::widgets::field::to_column;
use crate::widgets::theme::CAPTION;
use egui::{RichText, Ui};
use job::recipe::ranges;
use job::{Machine, Recipe};

/// A depth of the powder that predictions are made for.
struct Depth {
    name: &'static str,
    mm: f64,
    meaning: &'static str,
    threshold_j_mm2: f64,
}

/// Both depths, the nominal one first.
fn depths(recipe: &Recipe) -> [Depth; 2] {
    let (powder, layer_mm) = (pipeline::powder(&recipe.material), recipe.layer_thickness_mm);
    [
        Depth {
            name: "nominal depth",
            mm: layer_mm,
            meaning: "powder as deep as one layer",
            threshold_j_mm2: powder.threshold_nominal(layer_mm),
        },
        Depth {
            name: "steady depth",
            mm: powder.powder_depth(u32::MAX, layer_mm),
            meaning: "powder as deep as it lies on fused layers once a build is under way: each layer \
                      sinks as it densifies, and the next one fills the hollow",
            threshold_j_mm2: powder.threshold_steady(layer_mm),
        },
    ]
}

/// Beam offsets with which the melt ends on the boundary, each to be taken over.
pub(super) fn offsets(ui: &mut Ui, editor: &mut RecipeEditor<'_>) {
    let Some(machine) = editor.model.content().map(|content| &content.machine) else { return };
    let soft = editor.model.ink.soft;
    let proposed = match pipeline::proposed_offsets(editor.recipe, machine) {
        Ok(proposed) => [proposed.nominal_mm, proposed.steady_mm],
        Err(error) => {
            ui.label(RichText::new(format!("No offset is predicted: {error}.")).color(soft));
            return;
        }
    };
    let caption = |text: String| RichText::new(text).size(CAPTION).color(soft);
    ui.label(caption("Predicted offset, by the depth of the powder:".to_owned()));
    for (depth, offset_mm) in depths(editor.recipe).iter().zip(proposed) {
        ui.horizontal(|ui| {
            let left = ui.min_rect().left();
            let hint = format!(
                "The offset with which the melt of the core's contours and hatch ends on a straight \
                 boundary, over {}.",
                depth.meaning
            );
            let says = format!("{} {:.2} mm", depth.name, depth.mm);
            ui.label(caption(says)).on_hover_text(hint);
            to_column(ui, left);
            match offset_mm.map(to_micrometre) {
                None => drop(ui.label(caption("nothing melts".to_owned()))),
                Some(offset_mm) if ranges::BEAM_OFFSET_MM.contains(&offset_mm) => {
                    take_over(ui, editor, offset_mm);
                }
                Some(offset_mm) => {
                    let short = format!("the melt ends {:.3} mm inside", -offset_mm);
                    ui.label(caption(short));
                }
            }
        });
    }
}

/// The button that takes an offset over.
fn take_over(ui: &mut Ui, editor: &mut RecipeEditor<'_>, offset_mm: f64) {
    let holes = if editor.recipe.hole_offset_mm.is_some() { ", for holes as well" } else { "" };
    let button = ui.small_button(format!("Use {offset_mm:.3} mm"));
    let hint = format!("Take it over as the beam offset{holes}. Undo brings back the old one.");
    if button.on_hover_text(hint).clicked() {
        editor.edit("predicted beam offset", None, move |recipe| take(recipe, offset_mm));
    }
}

/// The offset with which the melt ends on the boundary over powder as deep as one layer, if it can be taken.
pub(super) fn proposed(recipe: &Recipe, machine: &Machine) -> Option<f64> {
    let offset_mm =
        pipeline::proposed_offsets(recipe, machine).ok()?.nominal_mm.map(to_micrometre)?;
    ranges::BEAM_OFFSET_MM.contains(&offset_mm).then_some(offset_mm)
}

/// Makes an offset that of all boundaries.
pub(super) fn take(recipe: &mut Recipe, offset_mm: f64) {
    recipe.beam_offset_mm = offset_mm;
    recipe.hole_offset_mm = recipe.hole_offset_mm.map(|_| offset_mm);
}

/// Finer than this no offset can be told from another.
fn to_micrometre(mm: f64) -> f64 {
    (mm * 1000.0).round() / 1000.0
}

/// How much energy melts the powder, and how many times that the core's hatch brings.
pub(super) fn thresholds(ui: &mut Ui, editor: &RecipeEditor<'_>) {
    let (recipe, soft) = (editor.recipe, editor.model.ink.soft);
    let hatch = recipe.area_energy_j_mm2(&recipe.core);
    for depth in depths(recipe) {
        let melts = depth.threshold_j_mm2;
        let times = hatch.map_or(String::new(), |mean| {
            format!("; the core's hatch brings {} times that", two_digits(mean / melts))
        });
        let says = format!("{}: melts from {melts:.4} J/mm²{times}", depth.name);
        let hint = format!(
            "Laser energy per area that heats and melts {} ({:.3} mm). An energy balance: heat that \
             flows away is not counted.",
            depth.meaning, depth.mm
        );
        ui.label(RichText::new(says).size(CAPTION).color(soft)).on_hover_text(hint);
    }
}

/// A number with the two digits that count.
fn two_digits(value: f64) -> String {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 4")]
    let decimals = (1.0 - value.max(1e-3).log10().floor()).clamp(0.0, 4.0) as usize;
    format!("{value:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::two_digits;

    #[test]
    fn multiples_have_two_digits() {
        assert_eq!([0.46, 4.62, 12.3, 0.0].map(two_digits), ["0.46", "4.6", "12", "0.0000"]);
    }
}
