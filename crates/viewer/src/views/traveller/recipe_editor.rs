//! What the fields of one recipe share: where values come from and where changes go.

use crate::state::actions::{Action, Edit};
use crate::state::model::Model;
use crate::widgets::field::{Changed, Number};
use egui::Ui;
use job::Recipe;
use std::ops::RangeInclusive;

/// What fields of one recipe need: where they come from and where changes go.
pub(super) struct RecipeEditor<'a> {
    pub(super) model: &'a Model,
    /// Path of the recipe as the job names it.
    pub(super) file: &'a str,
    pub(super) recipe: &'a Recipe,
    /// What the recipe's file holds.
    pub(super) saved: Option<&'a Recipe>,
    pub(super) actions: &'a mut Vec<Action>,
}

impl RecipeEditor<'_> {
    /// Asks for a change of the recipe.
    pub(super) fn edit(
        &mut self,
        what: &str,
        merge: Option<u64>,
        change: impl FnOnce(&mut Recipe) + Send + 'static,
    ) {
        let file = self.file.to_owned();
        let mut edit = Edit::new(format!("recipe: {}", what.to_lowercase()), move |content| {
            content.recipes.get_mut(&file).map(change);
        });
        if let Some(key) = merge {
            edit = edit.within(key);
        }
        self.actions.push(edit.into());
    }

    /// A number of the recipe, with the file's value as its default. `lens` says where it lies;
    /// `None` where this recipe has no such field.
    #[expect(clippy::too_many_arguments, reason = "a field has that many sides")]
    pub(super) fn number(
        &mut self,
        ui: &mut Ui,
        name: &str,
        unit: &str,
        range: RangeInclusive<f64>,
        step: f64,
        hint: &str,
        lens: impl Fn(&mut Recipe) -> Option<&mut f64> + Send + 'static,
    ) {
        let Some(value) = lens(&mut self.recipe.clone()).copied() else { return };
        let default = self.saved.and_then(|saved| lens(&mut saved.clone()).copied());
        let field = Number { name, unit, range, step, default, hint };
        if let Some(Changed { value, merge }) = field.show(ui, value, &self.model.ink) {
            self.edit(name, merge, move |recipe| {
                if let Some(place) = lens(recipe) {
                    *place = value;
                }
            });
        }
    }
}

/// Tells the compiler that a closure borrows from the recipe that it is given.
pub(super) fn part_of<T, F: Fn(&mut Recipe) -> Option<&mut T> + Copy>(of: F) -> F {
    of
}
