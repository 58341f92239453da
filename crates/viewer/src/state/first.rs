//! What a job starts with when nothing says otherwise; part of the program, so that it starts anywhere.

use crate::state::content::Content;
use job::{Job, Machine, PartEntry, Recipe};
use std::collections::BTreeMap;

/// Text of the first machine.
pub(crate) const MACHINE: &str = include_str!("../../../../assets/machines/bench_co2_30w.ron");
/// Text of the first recipe.
pub(crate) const RECIPE: &str = include_str!("../../../../assets/recipes/pa12.ron");

/// What a new job calls its machine until it is saved: there is no such file.
pub(crate) const MACHINE_NAME: &str = "the machine of a new job";
/// The same for its recipe.
pub(crate) const RECIPE_NAME: &str = "the recipe of a new job";

/// The content of a new job.
pub(crate) fn content() -> Result<Content, String> {
    let machine = Machine::from_ron(MACHINE).map_err(|error| error.to_string())?;
    let recipe = Recipe::from_ron(RECIPE).map_err(|error| error.to_string())?;
    let job = Job {
        version: Job::VERSION,
        name: "New job".to_owned(),
        machine: MACHINE_NAME.to_owned(),
        recipe: RECIPE_NAME.to_owned(),
        clearances: job::Clearances::default(),
        part_order: job::PartOrder::default(),
        accepted: Vec::new(),
        parts: Vec::new(),
    };
    Ok(Content { job, machine, recipes: BTreeMap::from([(RECIPE_NAME.to_owned(), recipe)]) })
}

/// A part of a mesh file, as the job names it, without placements.
pub(crate) fn part(name: String, mesh: String) -> PartEntry {
    let (object, unit, recipe, nest) = (None, None, None, None);
    let (placements, exposure_changes, accepted) = (Vec::new(), BTreeMap::new(), Vec::new());
    PartEntry { name, mesh, object, unit, recipe, nest, placements, exposure_changes, accepted }
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_first_machine_and_recipe_are_valid_and_fit() {
        let content = super::content().expect("embedded files are valid");
        let recipe = content.recipe().expect("named by the job");
        assert_eq!(recipe.check_on(&content.machine), Ok(()));
    }
}
