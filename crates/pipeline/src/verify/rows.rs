//! What the exposure table has for placements that have an exposure otherwise than their recipe, and which
//! row is whose: worked out anew from recipe, job and machine.

use super::by_place::ByPlace;
use crate::build::Build;
use crate::posed::Placed;
use base::PlacementId;
use job::Recipe;
use job::recipe::Exposure;
use scan_path::ExposureRow;

/// An exposure of a recipe as one placement has it.
#[derive(Clone, Debug)]
pub(super) struct OwnExposure<'a> {
    pub(super) recipe: &'a Recipe,
    /// Its number in the recipe.
    number: usize,
    /// With its name in the table, but for a number behind that where another row has it, too.
    pub(super) exposure: Exposure,
    /// How many times the power that is to arrive is commanded, if the place asks for another.
    pub(super) power_factor: Option<f64>,
}

impl<'a> OwnExposure<'a> {
    /// Exposure `number` of the recipe of a placement.
    fn new(build: &'a Build, id: PlacementId, number: usize) -> Self {
        let loaded = &build.loaded;
        let recipe = &loaded.recipes[loaded.parts[id.part].1].recipe;
        let own = &recipe.exposures[number];
        let changes = loaded.job.parts[id.part].changes_of(id.copy);
        let change = changes.iter().find(|change| change.name == own.name);
        let mut exposure = own.clone();
        if let Some(change) = change {
            exposure.name = change.label();
            exposure.power_w = change.power_w.unwrap_or(own.power_w);
            exposure.speed_mm_s = change.speed_mm_s.unwrap_or(own.speed_mm_s);
        }
        let percent = ByPlace::of(build, id).percent;
        let is_corrected = (percent - 100.0).abs() > 0.5;
        if is_corrected {
            exposure.name = format!("{}, {percent} % power", exposure.name);
            let wanted_w = exposure.power_w * percent / 100.0;
            exposure.power_w = wanted_w.min(loaded.machine.laser.max_power_w);
            exposure.speed_mm_s *= exposure.power_w / wanted_w;
        }
        let power_factor = is_corrected.then_some(percent / 100.0);
        Self { recipe, number, exposure, power_factor }
    }

    /// Whether a row has these numbers, which the writer rounds to nine decimals.
    pub(super) fn has_numbers_of(&self, row: &ExposureRow) -> bool {
        let factors = [row.power_factor, self.power_factor].map(|factor| factor.unwrap_or(1.0));
        is_near(row.power_w, self.exposure.power_w)
            && is_near(row.speed_mm_s, self.exposure.speed_mm_s)
            && is_near(factors[0], factors[1])
    }

    /// Whether another placement needs no row of its own for it.
    fn is_as(&self, other: &Self) -> bool {
        let numbers = |of: &Self| {
            [of.exposure.power_w, of.exposure.speed_mm_s, of.power_factor.unwrap_or(1.0)]
        };
        std::ptr::eq(self.recipe, other.recipe)
            && self.number == other.number
            && numbers(self).iter().zip(numbers(other)).all(|(a, b)| is_near(*a, b))
    }

    /// Whether it is just as in the recipe.
    fn is_of_recipe(&self) -> bool {
        let plain = &self.recipe.exposures[self.number];
        self.power_factor.is_none()
            && is_near(self.exposure.power_w, plain.power_w)
            && is_near(self.exposure.speed_mm_s, plain.speed_mm_s)
    }
}

/// The same but for the writer's rounding.
pub(super) fn is_near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-8 * b.abs().max(1.0)
}

/// What placements have otherwise than their recipes, in the order of the job, nothing twice: first what
/// each changes, then the rest of what its place asks for.
pub(super) fn own_exposures(build: &Build) -> Vec<OwnExposure<'_>> {
    let loaded = &build.loaded;
    let mut found: Vec<OwnExposure<'_>> = Vec::new();
    for (id, _) in loaded.job.placements() {
        let recipe = &loaded.recipes[loaded.parts[id.part].1].recipe;
        let changes = loaded.job.parts[id.part].changes_of(id.copy);
        let number = |name: &str| recipe.exposures.iter().position(|e| e.name == name);
        let changed = changes.iter().filter_map(|change| number(&change.name));
        for number in changed.chain(0..recipe.exposures.len()) {
            let own = OwnExposure::new(build, id, number);
            if !own.is_of_recipe() && !found.iter().any(|known| known.is_as(&own)) {
                found.push(own);
            }
        }
    }
    found
}

/// The row of an exposure in the table, which lists those of each recipe in turn, then what placements
/// have otherwise.
pub(super) fn exposure_row(build: &Build, placed: &Placed, name: &str) -> u16 {
    let recipes = &build.loaded.recipes;
    let of_recipes = |recipes: &[crate::load::LoadedRecipe]| -> usize {
        recipes.iter().map(|entry| entry.recipe.exposures.len()).sum()
    };
    let (before, all) = (of_recipes(&recipes[..placed.recipe]), of_recipes(recipes));
    let recipe = &recipes[placed.recipe].recipe;
    // no valid recipe names what it lacks; no block fits this row
    let Some(number) = recipe.exposures.iter().position(|e| e.name == name) else {
        return u16::MAX;
    };
    let own = OwnExposure::new(build, placed.id, number);
    let rows = &build.header.exposures;
    let begins = format!("{name}, ");
    let is_it = |row: usize| {
        let row = &rows[row];
        row.recipe == recipe.name && row.name.starts_with(&begins) && own.has_numbers_of(row)
    };
    let row = if own.is_of_recipe() {
        Some(before + number)
    } else {
        (all..rows.len()).find(|row| is_it(*row))
    };
    row.and_then(|row| u16::try_from(row).ok()).unwrap_or(u16::MAX)
}

/// The rows of an exposure in other energies: named by it and a factor.
pub(super) fn steps_of(build: &Build, named: u16) -> Vec<u16> {
    let rows = &build.header.exposures;
    let Some(of) = rows.get(usize::from(named)) else { return Vec::new() };
    let prefix = format!("{} × ", of.name);
    let is_step = |row: &ExposureRow| row.recipe == of.recipe && row.name.starts_with(&prefix);
    let steps = (0_u16..).zip(rows).filter(|(_, row)| is_step(row));
    steps.map(|(number, _)| number).collect()
}
