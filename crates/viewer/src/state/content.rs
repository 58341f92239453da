//! What can be edited, as a value.

use base::PlacementId;
use job::{Job, Machine, Placement, Recipe};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

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

    /// Recipe files that the job names, each once.
    pub(crate) fn used_recipes(&self) -> BTreeSet<&String> {
        let own = self.job.parts.iter().filter_map(|part| part.recipe.as_ref());
        std::iter::once(&self.job.recipe).chain(own).collect()
    }

    /// Makes every path of the job start from another folder.
    pub(crate) fn rebase(&mut self, from: &Path, to: &Path) {
        if from == to {
            return;
        }
        let moved = |(file, recipe): (String, Recipe)| (pipeline::rebased(&file, from, to), recipe);
        self.recipes = std::mem::take(&mut self.recipes).into_iter().map(moved).collect();
        pipeline::rebase_job(&mut self.job, from, to);
    }

    /// Two names of one recipe file, as seen from another folder, under which the job has different recipes.
    pub(crate) fn clash(&self, from: &Path, to: &Path) -> Option<[&str; 2]> {
        let mut seen: BTreeMap<String, (&String, &Recipe)> = BTreeMap::new();
        self.recipes.iter().find_map(|(file, recipe)| {
            let earlier = seen.insert(pipeline::rebased(file, from, to), (file, recipe));
            let (other, _) = earlier.filter(|(_, other)| *other != recipe)?;
            Some([other.as_str(), file.as_str()])
        })
    }

    /// Whether the job, the machine and the recipes have the same form as those of `other`.
    pub(crate) fn has_versions_of(&self, other: &Self) -> bool {
        let same = |(file, mine): (&String, &Recipe)| {
            other.recipes.get(file).is_none_or(|theirs| mine.version == theirs.version)
        };
        self.job.version == other.job.version
            && self.machine.version == other.machine.version
            && self.recipes.iter().all(same)
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

/// What a save did to the names of files in a job.
#[derive(Clone, Debug, Default)]
pub(crate) struct Moved {
    /// The folder from which paths started, and that from which they do now.
    pub(crate) folders: [PathBuf; 2],
    /// What the machine's file is called now, if it got one of its own: old, new.
    pub(crate) machine: Option<[String; 2]>,
    /// The same for recipes; both as seen from the new folder.
    pub(crate) recipes: Vec<[String; 2]>,
}

impl Moved {
    /// Whether every name is what it was.
    pub(crate) fn is_nothing(&self) -> bool {
        self.folders[0] == self.folders[1] && self.machine.is_none() && self.recipes.is_empty()
    }

    /// Gives the files of a job their new names.
    pub(crate) fn rename_in(&self, job: &mut Job) {
        pipeline::rebase_job(job, &self.folders[0], &self.folders[1]);
        self.rename(job);
    }

    fn rename(&self, job: &mut Job) {
        let machine = self.machine.iter().find(|[old, _]| *old == job.machine);
        if let Some([_, new]) = machine {
            job.machine.clone_from(new);
        }
        let own = job.parts.iter_mut().filter_map(|part| part.recipe.as_mut());
        for file in std::iter::once(&mut job.recipe).chain(own) {
            if let Some([_, new]) = self.recipes.iter().find(|[old, _]| old == file) {
                file.clone_from(new);
            }
        }
    }

    /// The same, where the recipes are at hand. What has a recipe of the new name already stays.
    pub(crate) fn apply_to(&self, content: &mut Content) {
        content.rebase(&self.folders[0], &self.folders[1]);
        let mut free = self.clone();
        free.recipes.retain(|[_, new]| !content.recipes.contains_key(new));
        for [old, new] in &free.recipes {
            if let Some(recipe) = content.recipes.remove(old) {
                content.recipes.insert(new.clone(), recipe);
            }
        }
        free.rename(&mut content.job);
    }
}
