//! Further passes over the hatch, each on lines of its own.

use super::exposures;
use crate::views::traveller::recipe_editor::{RecipeEditor, part_of};
use crate::widgets::field::choice;
use egui::Ui;
use job::Recipe;
use job::recipe::{Hatch, HatchPass, ranges};

/// Shows the further passes of the hatch that `of` finds in a recipe.
pub(super) fn show(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    hatch: &Hatch,
    of: impl Fn(&mut Recipe) -> Option<&mut Hatch> + Copy + Send + 'static,
) {
    let all = exposures::words(editor.recipe);
    for (index, pass) in hatch.further_passes.iter().enumerate() {
        let this = part_of(move |recipe| of(recipe)?.further_passes.get_mut(index));
        let number = hatch.exposures.len() + index + 1;
        let name = format!("Pass {number} exposure");
        let hint = "The laser setting of this pass.";
        if let Some(new) = choice(ui, &name, &pass.exposure, &all, hint) {
            editor.edit(&name, None, move |recipe| {
                if let Some(pass) = this(recipe) {
                    pass.exposure = new;
                }
            });
        }
        let name = format!("Pass {number} spacing");
        let hint = "Distance of the lines of this pass.";
        editor.number(ui, &name, " mm", ranges::SPACING_MM, 0.002, hint, move |recipe| {
            this(recipe).map(|pass| &mut pass.spacing_mm)
        });
        let name = format!("Pass {number} rotated by");
        let hint = "How far the lines of this pass are rotated from those of the first. Cells are the same \
                    again after 90°.";
        editor.number(ui, &name, "°", ranges::ANGLE_DEG, 0.5, hint, move |recipe| {
            this(recipe).map(|pass| &mut pass.rotated_by_deg)
        });
    }
    ui.horizontal(|ui| {
        let add = ui.small_button("Add a pass");
        if add.on_hover_text("Fill once more, on lines of its own").clicked() {
            editor.edit("add a pass", None, move |recipe| {
                if let Some(hatch) = of(recipe)
                    && let Some(last) = hatch.passes().last()
                {
                    let rotated_by_deg = (last.rotated_by_deg + 90.0).rem_euclid(180.0);
                    hatch.further_passes.push(HatchPass { rotated_by_deg, ..last });
                }
            });
        }
        if !hatch.further_passes.is_empty() && ui.small_button("Remove the last pass").clicked() {
            editor.edit("remove a pass", None, move |recipe| {
                of(recipe).map(|hatch| hatch.further_passes.pop());
            });
        }
    });
}
