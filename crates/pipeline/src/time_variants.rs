//! What a build would take if a few things were otherwise.

use crate::build::{Build, BuildError};
use crate::layers::LayerError;
use crate::load::{Loaded, LoadedRecipe};
use crate::sampled_time::{Sample, TimeEstimate, estimate_time};
use base::Progress;
use job::recipe::{Hatch, PathOrder, Strategy, Travel};
use job::{NextPart, Recipe};

/// A build with one thing changed.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeVariant {
    /// What is changed, in words.
    pub change: String,
    /// What it takes.
    pub estimate: TimeEstimate,
}

/// Why the time of a variant is not known.
#[derive(Debug, thiserror::Error)]
pub enum TimeError {
    /// It cannot be made ready.
    #[error(transparent)]
    Build(#[from] BuildError),
    /// A layer cannot be computed.
    #[error(transparent)]
    Layer(#[from] LayerError),
}

/// How much wider the hatch is in a variant.
const WIDER: f64 = 1.1;

/// A change of a loaded job.
type Change = fn(&mut Loaded);

/// The time of a build as it is, then with one thing changed at a time: a wider hatch, lines in one direction or
/// there and back, another order of the parts. The same layers are computed for each, so that what they differ by is
/// better known than either.
///
/// # Errors
/// If a variant cannot be built, or on cancellation.
pub fn time_variants(
    build: &Build,
    sample: Sample,
    progress: &Progress,
) -> Result<Vec<TimeVariant>, TimeError> {
    let estimate = |build: &Build| estimate_time(build, sample, progress);
    let mut all = vec![TimeVariant { change: "as it is".to_owned(), estimate: estimate(build)? }];
    for (change, apply) in changes(&build.loaded) {
        let mut loaded = copied(&build.loaded);
        apply(&mut loaded);
        let other = Build::after(Some(build), loaded, progress)?;
        all.push(TimeVariant { change, estimate: estimate(&other)? });
    }
    Ok(all)
}

/// What there is to change in a job, in words, and how.
fn changes(loaded: &Loaded) -> Vec<(String, Change)> {
    let mut found: Vec<(String, Change)> = Vec::new();
    let mut recipes = loaded.recipes.iter().map(|entry| entry.recipe.clone());
    let travels: Vec<Travel> =
        recipes.by_ref().flat_map(|mut recipe| travels(&mut recipe)).collect();
    if !travels.is_empty() {
        found.push((format!("hatch {:.0} % wider apart", 100.0 * (WIDER - 1.0)), |loaded| {
            each_hatch(loaded, |hatch| {
                hatch.spacing_mm *= WIDER;
                hatch.further_passes.iter_mut().for_each(|pass| pass.spacing_mm *= WIDER);
            });
        }));
    }
    if travels.contains(&Travel::Serpentine) {
        found.push(("all hatch one way".to_owned(), |loaded| {
            each_hatch(loaded, |hatch| hatch.travel = Travel::OneWay);
        }));
    }
    if travels.contains(&Travel::OneWay) {
        found.push(("all hatch there and back".to_owned(), |loaded| {
            each_hatch(loaded, |hatch| hatch.travel = Travel::Serpentine);
        }));
    }
    if loaded.recipes.iter().any(|entry| entry.recipe.path_order == PathOrder::ShortJumps) {
        found.push(("always the nearest next".to_owned(), |loaded| {
            let recipes = loaded.recipes.iter_mut().map(|entry| &mut entry.recipe);
            recipes.for_each(|recipe| recipe.path_order = PathOrder::NearestNext);
        }));
    }
    let several = loaded.job.placements().count() > 1;
    match loaded.job.part_order.next {
        NextPart::Nearest if several => {
            let listed: Change = |loaded| loaded.job.part_order.next = NextPart::AsListed;
            found.push(("parts as the job lists them".to_owned(), listed));
        }
        NextPart::AsListed | NextPart::Rotating if several => {
            let nearest: Change = |loaded| loaded.job.part_order.next = NextPart::Nearest;
            found.push(("the nearest part next".to_owned(), nearest));
        }
        _ => {}
    }
    found
}

fn travels(recipe: &mut Recipe) -> Vec<Travel> {
    strategies(recipe).filter_map(|strategy| Some(strategy.hatch.as_ref()?.travel)).collect()
}

fn each_hatch(loaded: &mut Loaded, change: impl Fn(&mut Hatch)) {
    for entry in &mut loaded.recipes {
        let hatches = strategies(&mut entry.recipe).filter_map(|strategy| strategy.hatch.as_mut());
        hatches.for_each(&change);
    }
}

fn strategies(recipe: &mut Recipe) -> impl Iterator<Item = &mut Strategy> {
    let facing = [&mut recipe.up_facing, &mut recipe.down_facing];
    let facing = facing.into_iter().flatten().map(|facing| &mut facing.strategy);
    std::iter::once(&mut recipe.core).chain(facing)
}

/// The same job, with the meshes shared.
fn copied(loaded: &Loaded) -> Loaded {
    let recipe = |entry: &LoadedRecipe| LoadedRecipe {
        file: entry.file.clone(),
        recipe: entry.recipe.clone(),
    };
    Loaded {
        job: loaded.job.clone(),
        machine: loaded.machine.clone(),
        recipes: loaded.recipes.iter().map(recipe).collect(),
        meshes: loaded.meshes.clone(),
        parts: loaded.parts.clone(),
        findings: Vec::new(),
        inputs: loaded.inputs.clone(),
    }
}
