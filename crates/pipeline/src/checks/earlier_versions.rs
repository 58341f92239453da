//! Files that an earlier version of the program wrote.

use crate::load::LoadedRecipe;
use base::Finding;
use base::finding::JobProblem;
use job::{Job, Machine, Recipe};

/// A note for each such file.
pub(crate) fn earlier_versions(
    job: &Job,
    machine: &Machine,
    recipes: &[LoadedRecipe],
) -> Vec<Finding> {
    let note = |document: &'static str, version: u32, newest: u32| {
        let problem = JobProblem::EarlierVersion { document, version, newest };
        (version < newest).then(|| Finding::new(problem))
    };
    let of_job = note("job", job.version, Job::VERSION);
    let of_machine = note("machine", machine.version, Machine::VERSION);
    let of_recipes = recipes.iter().filter_map(|recipe| {
        let found = note("recipe", recipe.recipe.version, Recipe::VERSION);
        found.map(|finding| finding.at_part(&recipe.file))
    });
    let of_machine = of_machine.map(|finding| finding.at_part(&job.machine));
    of_job.into_iter().chain(of_machine).chain(of_recipes).collect()
}
