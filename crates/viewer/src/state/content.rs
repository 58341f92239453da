//! What can be edited, as a value.

use base::PlacementId;
use job::{Job, Machine, Placement, Recipe};
use std::collections::BTreeMap;
use std::path::Path;

/// Everything that can be edited: the job and the files it names, meshes aside.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Content {
    /// The job.
    pub(crate) job: Job,
    /// Its machine.
    pub(crate) machine: Machine,
    /// Its recipes, by their path as the job names them.
    pub(crate) recipes: BTreeMap<String, Recipe>,
}

impl Content {
    /// Path of the recipe that a part uses.
    pub(crate) fn recipe_file(&self, part: usize) -> &str {
        let own = self.job.parts.get(part).and_then(|part| part.recipe.as_ref());
        own.unwrap_or(&self.job.recipe)
    }

    /// The recipe that a part uses.
    pub(crate) fn recipe_of(&self, part: usize) -> Option<&Recipe> {
        self.recipes.get(self.recipe_file(part))
    }

    /// The recipe of the job.
    pub(crate) fn recipe(&self) -> Option<&Recipe> {
        self.recipes.get(&self.job.recipe)
    }

    /// One placement of the job.
    pub(crate) fn placement(&self, at: PlacementId) -> Option<&Placement> {
        self.job.parts.get(at.part)?.placements.get(at.copy)
    }

    /// Makes every path of the job start from another folder.
    pub(crate) fn rebase(&mut self, from: &Path, to: &Path) {
        let moved = |(file, recipe): (String, Recipe)| (pipeline::rebased(&file, from, to), recipe);
        self.recipes = std::mem::take(&mut self.recipes).into_iter().map(moved).collect();
        pipeline::rebase_job(&mut self.job, from, to);
    }

    /// Whether the job, the machine and the recipes have the same form as those of `other`.
    pub(crate) fn has_versions_of(&self, other: &Self) -> bool {
        let recipes =
            self.recipes.iter().filter_map(|(file, r)| Some((r, other.recipes.get(file)?)));
        self.job.version == other.job.version
            && self.machine.version == other.machine.version
            && recipes.into_iter().all(|(mine, theirs)| mine.version == theirs.version)
    }

    /// Gives them the form of those of `other`.
    pub(crate) fn take_versions(&mut self, other: &Self) {
        self.job.version = other.job.version;
        self.machine.version = other.machine.version;
        for (file, recipe) in &mut self.recipes {
            recipe.version = other.recipes.get(file).map_or(recipe.version, |other| other.version);
        }
    }
}
