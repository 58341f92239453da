//! Further passes over the hatch and along the boundary, each on lines of its own.

use super::exposures;
use crate::views::traveller::recipe_editor::{RecipeEditor, part_of};
use crate::widgets::field::choice;
use egui::Ui;
use job::Recipe;
use job::recipe::{ContourPass, Contours, Hatch, HatchPass, ranges};

/// Shows the further passes of the hatch that `of` finds in a recipe.
pub(super) fn of_hatch(
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

/// Shows the further passes along the boundary of the contours that `of` finds in a recipe.
pub(super) fn of_contours(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    contours: &Contours,
    of: impl Fn(&mut Recipe) -> Option<&mut Contours> + Copy + Send + 'static,
) {
    let all = exposures::words(editor.recipe);
    for (index, pass) in contours.further_passes.iter().enumerate() {
        let this = part_of(move |recipe| of(recipe)?.further_passes.get_mut(index));
        let number = contours.exposures.len() + index + 1;
        let name = format!("Contour pass {number} exposure");
        let hint = "The laser setting of this run around the boundary.";
        if let Some(new) = choice(ui, &name, &pass.exposure, &all, hint) {
            editor.edit(&name, None, move |recipe| {
                if let Some(pass) = this(recipe) {
                    pass.exposure = new;
                }
            });
        }
        let name = format!("Contour pass {number} deeper by");
        let hint = "How much deeper in the part it lies than the outermost contour.";
        editor.number(ui, &name, " mm", ranges::DEEPER_MM, 0.005, hint, move |recipe| {
            this(recipe).map(|pass| &mut pass.deeper_by_mm)
        });
    }
    ui.horizontal(|ui| {
        let add = ui.small_button("Add a contour pass");
        if add.on_hover_text("Run around once more, at a depth of its own").clicked() {
            editor.edit("add a contour pass", None, move |recipe| {
                if let Some(contours) = of(recipe)
                    && let Some(exposure) = contours.exposures.last().cloned()
                {
                    let deeper_by_mm = contours.spacing_mm / 2.0;
                    contours.further_passes.push(ContourPass { exposure, deeper_by_mm });
                }
            });
        }
        let is_any = !contours.further_passes.is_empty();
        if is_any && ui.small_button("Remove the last contour pass").clicked() {
            editor.edit("remove a contour pass", None, move |recipe| {
                of(recipe).map(|contours| contours.further_passes.pop());
            });
        }
    });
}
