//! How one kind of region is exposed: contours and hatch, every parameter.

mod contours;
pub(super) mod exposures;
mod hatch;
mod passes;
mod pattern;

use super::recipe_editor::RecipeEditor;
use crate::widgets::field::choice;
use egui::{CollapsingHeader, Ui};
use job::Recipe;
use job::recipe::{Hatch, Sequence, Strategy, ThinWalls};

/// Shows the strategy that `lens` finds in a recipe.
pub(super) fn show(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    name: &str,
    lens: impl Fn(&mut Recipe) -> Option<&mut Strategy> + Copy + Send + 'static,
) {
    let mut recipe = editor.recipe.clone();
    let Some(strategy) = lens(&mut recipe).cloned() else { return };
    ui.push_id(("strategy", name), |ui| {
        CollapsingHeader::new(format!("{name}: {}", in_words(&strategy)))
            .id_salt(name)
            .default_open(name == "Core")
            .show(ui, |ui| {
                let words = [
                    (Sequence::ContoursFirst, "contours first"),
                    (Sequence::HatchFirst, "hatch first"),
                ];
                let hint = "Whether contours or hatch come first in a layer of a part.";
                if let Some(new) = choice(ui, "Sequence", &strategy.sequence, &words, hint) {
                    editor.edit("sequence", None, move |recipe| {
                        if let Some(strategy) = lens(recipe) {
                            strategy.sequence = new;
                        }
                    });
                }
                contours::show(ui, editor, strategy.contours.as_ref(), lens);
                hatch::show(ui, editor, strategy.hatch.as_ref(), lens);
            });
    });
}

fn in_words(strategy: &Strategy) -> String {
    let contours = strategy.contours.as_ref().map(|c| match c.count {
        1 => "1 contour".to_owned(),
        many => format!("{many} contours"),
    });
    let hatch = strategy.hatch.as_ref().map(|hatch| {
        let further = hatch.further_passes.iter().map(|pass| pass.spacing_mm);
        let spacings = std::iter::once(hatch.spacing_mm).chain(further).map(|mm| mm.to_string());
        format!("hatch {} mm", spacings.collect::<Vec<_>>().join(" + "))
    });
    contours.into_iter().chain(hatch).collect::<Vec<_>>().join(", ")
}

/// Whether nothing in a recipe refers to an exposure.
pub(super) fn is_unused(recipe: &Recipe, name: &str) -> bool {
    let in_strategies = recipe.strategies().any(|strategy| {
        let mut contours = strategy.contours.iter().flat_map(|c| &c.exposures);
        let mut passes = strategy.hatch.iter().flat_map(Hatch::passes);
        contours.any(|used| used == name) || passes.any(|pass| pass.exposure == name)
    });
    let in_walls = match &recipe.thin_walls {
        ThinWalls::Expose { exposure, .. } => exposure == name,
        ThinWalls::Skip => false,
    };
    !in_strategies && !in_walls
}
