//! Files that an earlier version of the program wrote.

use crate::load::LoadedRecipe;
use base::Finding;
use base::finding::JobProblem;
use job::{Job, Machine, Recipe};

/// A note for each such file, with what is assumed because it does not say it.
pub(crate) fn earlier_versions(
    job: &Job,
    machine: &Machine,
    recipes: &[LoadedRecipe],
) -> Vec<Finding> {
    let note = |document: &'static str, version: u32, newest: u32, assumed| {
        let problem = JobProblem::EarlierVersion { document, version, newest, assumed };
        (version < newest).then(|| Finding::new(problem))
    };
    let of_job = note("job", job.version, Job::VERSION, None);
    let of_machine = note("machine", machine.version, Machine::VERSION, machine.assumed());
    let of_recipes = recipes.iter().filter_map(|recipe| {
        let found = note("recipe", recipe.recipe.version, Recipe::VERSION, recipe.recipe.assumed());
        found.map(|finding| finding.at_part(&recipe.file))
    });
    let of_machine = of_machine.map(|finding| finding.at_part(&job.machine));
    of_job.into_iter().chain(of_machine).chain(of_recipes).collect()
}
