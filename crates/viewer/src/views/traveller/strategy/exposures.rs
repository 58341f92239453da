//! The list of exposures that run one after the other along the same paths.

use crate::views::traveller::recipe_editor::RecipeEditor;
use crate::widgets::field::choice;
use egui::Ui;
use job::Recipe;

/// The exposures of a recipe as the words of a choice.
pub(crate) fn words(recipe: &Recipe) -> Vec<(String, &str)> {
    recipe.exposures.iter().map(|e| (e.name.clone(), e.name.as_str())).collect()
}

/// Shows the list that `lens` finds in a recipe; `what` is exposed with it.
pub(super) fn show(
    ui: &mut Ui,
    editor: &mut RecipeEditor<'_>,
    what: &str,
    list: &[String],
    lens: impl Fn(&mut Recipe) -> Option<&mut Vec<String>> + Copy + Send + 'static,
) {
    let all = words(editor.recipe);
    for (index, used) in list.iter().enumerate() {
        let name = match list.len() {
            1 => format!("{what} exposure"),
            _ => format!("{what} exposure {}", index + 1),
        };
        let hint = "The laser setting; several run one after the other.";
        if let Some(new) = choice(ui, &name, used, &all, hint) {
            editor.edit(&name, None, move |recipe| {
                if let Some(place) = lens(recipe).and_then(|list| list.get_mut(index)) {
                    *place = new;
                }
            });
        }
    }
    ui.horizontal(|ui| {
        let again = ui.small_button("Expose again");
        if again.on_hover_text("Run another exposure after these").clicked() {
            editor.edit("add an exposure", None, move |recipe| {
                if let Some(list) = lens(recipe)
                    && let Some(last) = list.last().cloned()
                {
                    list.push(last);
                }
            });
        }
        if list.len() > 1 && ui.small_button("Remove the last").clicked() {
            editor.edit("remove an exposure", None, move |recipe| {
                lens(recipe).map(Vec::pop);
            });
        }
    });
}
