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
    for (index, pass) in hatch.further_passes.iter().enumerate() {
        let this = part_of(move |recipe| of(recipe)?.further_passes.get_mut(index));
        let number = hatch.exposures.len() + index + 1;
        let name = format!("Pass {number} exposure");
        let hint = "The laser setting of this pass.";
        exposure(ui, editor, &name, &pass.exposure, hint, move |recipe| {
            this(recipe).map(|pass| &mut pass.exposure)
        });
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
    let hint = "Fill once more, on lines of its own";
    let is_any = !hatch.further_passes.is_empty();
    let add = move |recipe: &mut Recipe| {
        if let Some(hatch) = of(recipe)
            && let Some(last) = hatch.passes().last()
        {
            let rotated_by_deg = (last.rotated_by_deg + 90.0).rem_euclid(180.0);
            hatch.further_passes.push(HatchPass { rotated_by_deg, ..last });
        }
    };
    let remove = move |recipe: &mut Recipe| {
        of(recipe).map(|hatch| hatch.further_passes.pop());
    };
    add_and_remove(ui, editor, ("pass", hint), is_any, add, remove);
}

/// Shows the further passes along the boundary of the contours that `of` finds in a recipe.
pub(super) fn of_contours(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    contours: &Contours,
    of: impl Fn(&mut Recipe) -> Option<&mut Contours> + Copy + Send + 'static,
) {
    for (index, pass) in contours.further_passes.iter().enumerate() {
        let this = part_of(move |recipe| of(recipe)?.further_passes.get_mut(index));
        let number = contours.exposures.len() + index + 1;
        let name = format!("Contour pass {number} exposure");
        let hint = "The laser setting of this run around the boundary.";
        exposure(ui, editor, &name, &pass.exposure, hint, move |recipe| {
            this(recipe).map(|pass| &mut pass.exposure)
        });
        let name = format!("Contour pass {number} deeper by");
        let hint = "How much deeper in the part it lies than the outermost contour.";
        editor.number(ui, &name, " mm", ranges::DEEPER_MM, 0.005, hint, move |recipe| {
            this(recipe).map(|pass| &mut pass.deeper_by_mm)
        });
    }
    let hint = "Run around once more, at a depth of its own";
    let is_any = !contours.further_passes.is_empty();
    let add = move |recipe: &mut Recipe| {
        if let Some(contours) = of(recipe)
            && let Some(exposure) = contours.exposures.last().cloned()
        {
            let deeper_by_mm = contours.spacing_mm / 2.0;
            contours.further_passes.push(ContourPass { exposure, deeper_by_mm });
        }
    };
    let remove = move |recipe: &mut Recipe| {
        of(recipe).map(|contours| contours.further_passes.pop());
    };
    add_and_remove(ui, editor, ("contour pass", hint), is_any, add, remove);
}

/// Which exposure a pass has; `of` finds its name in a recipe.
fn exposure(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    name: &str,
    now: &String,
    hint: &str,
    of: impl Fn(&mut Recipe) -> Option<&mut String> + Send + 'static,
) {
    let all = exposures::words(editor.recipe);
    if let Some(new) = choice(ui, name, now, &all, hint) {
        editor.edit(name, None, move |recipe| {
            if let Some(exposure) = of(recipe) {
                *exposure = new;
            }
        });
    }
}

/// Buttons for one pass more, and for one less if there is any; with what a pass is called and what it does.
fn add_and_remove(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    (pass, hint): (&str, &str),
    is_any: bool,
    add: impl FnOnce(&mut Recipe) + Send + 'static,
    remove: impl FnOnce(&mut Recipe) + Send + 'static,
) {
    ui.horizontal(|ui| {
        if ui.small_button(format!("Add a {pass}")).on_hover_text(hint).clicked() {
            editor.edit(&format!("add a {pass}"), None, add);
        }
        if is_any && ui.small_button(format!("Remove the last {pass}")).clicked() {
            editor.edit(&format!("remove a {pass}"), None, remove);
        }
    });
}
