//! The exposure table of a build's vector file, and which rows a placement uses.

use crate::load::LoadedRecipe;
use crate::powder::powder;
use base::{NM_PER_MM, PlacementId};
use estimate::{Beam, EstimateError};
use job::machine::StepCorrection;
use job::recipe::{Exposure, Runs, ThinWalls};
use job::{ExposureChange, Job, Machine, Recipe, free_name};
use scan_path::ExposureRow;
use scan_strategy::{ExposeError, Melt, energy_factor, energy_steps};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;

/// The exposures of each recipe in turn, then what placements have otherwise, by changes of their own or by
/// their place, a row for each power and speed that an exposure of a recipe has somewhere; at last those
/// that walls need, which are one of the others with the energy changed in steps.
#[derive(Debug, Default)]
pub(crate) struct Exposures {
    pub(crate) rows: Vec<ExposureRow>,
    /// The recipes as they are, in order, then as some placements have them.
    variants: Vec<Variant>,
    /// Placements that have their recipe otherwise, and which variant.
    changed: BTreeMap<PlacementId, usize>,
}

/// A recipe as some placements use it.
#[derive(Debug)]
pub(crate) struct Variant {
    /// Which of the job's recipes it is.
    of: usize,
    /// Number of the first variant with the same recipe: places and order of marks do not differ, whatever
    /// their rows are.
    pub(crate) marks: usize,
    /// The recipe, with the exposures that these placements change and their beam offsets. Powers are
    /// those that are to arrive: what the place loses is added in the rows alone.
    pub(crate) recipe: Recipe,
    /// What the beam melts.
    pub(crate) melt: Melt,
    /// Row of each exposure of the recipe.
    rows: Vec<usize>,
    /// Rows of the exposure of thin walls by the step of its energy; none if there is no such
    /// exposure.
    walls: Option<(RangeInclusive<i32>, Vec<usize>)>,
}

/// Why there is no exposure table.
#[derive(Debug, thiserror::Error)]
pub enum ExposuresError {
    /// A recipe that cannot be carried out.
    #[error(transparent)]
    Recipe(#[from] ExposeError),
    /// A beam that cannot be.
    #[error(transparent)]
    Beam(#[from] EstimateError),
}

impl Exposures {
    /// `recipe_of` gives the index of a part's recipe.
    ///
    /// # Errors
    /// If a recipe cannot be carried out.
    pub(crate) fn new(
        job: &Job,
        recipes: &[LoadedRecipe],
        machine: &Machine,
        recipe_of: impl Fn(usize) -> usize,
    ) -> Result<Self, ExposuresError> {
        let mut table = Self::default();
        for (of, LoadedRecipe { recipe, .. }) in recipes.iter().enumerate() {
            let first = table.rows.len();
            table.rows.extend(recipe.exposures.iter().map(|exposure| row(&recipe.name, exposure)));
            let (rows, melt) = ((first..table.rows.len()).collect(), melt(recipe, machine)?);
            let recipe = recipe.clone();
            let marks = table.variants.len();
            table.variants.push(Variant { of, marks, recipe, melt, rows, walls: None });
        }
        for (id, placement) in job.placements() {
            let [x, y, _] = placement.location_mm;
            let correction = machine.correction_at([x, y]).in_steps();
            let changes = job.parts[id.part].changes_of(id.copy);
            if !changes.is_empty() || !correction.is_none() {
                let most_w = machine.laser.max_power_w;
                let variant = table.variant(recipe_of(id.part), changes, correction, most_w);
                table.changed.insert(id, variant);
            }
        }
        table.add_walls(machine.laser.max_power_w)?;
        table.derive_runs(machine);
        Ok(table)
    }

    /// Run-ins and run-outs that follow from the head, each for the speed of its row.
    fn derive_runs(&mut self, machine: &Machine) {
        let Some(head) = &machine.head else { return };
        let Self { rows, variants, .. } = self;
        let mut derive = |row: usize, exposure: &Exposure| {
            if exposure.runs == Runs::Auto {
                let run_mm = to_nano(head.run_in_mm(rows[row].speed_mm_s));
                (rows[row].path_run_in_mm, rows[row].path_run_out_mm) = (run_mm, run_mm);
            }
        };
        for variant in variants {
            for (row, exposure) in variant.rows.iter().zip(&variant.recipe.exposures) {
                derive(*row, exposure);
            }
            let ThinWalls::Expose { exposure: name, .. } = &variant.recipe.thin_walls else {
                continue;
            };
            let named = variant.recipe.exposures.iter().find(|exposure| exposure.name == *name);
            let of_walls = variant.walls.iter().flat_map(|(_, rows)| rows);
            for (row, exposure) in of_walls.zip(named.into_iter().cycle()) {
                derive(*row, exposure);
            }
        }
    }

    /// A recipe with changes of a placement and the correction of its place: one that is known, or a new one.
    fn variant(
        &mut self,
        of: usize,
        changes: &[ExposureChange],
        correction: StepCorrection,
        most_w: f64,
    ) -> usize {
        let Variant { recipe: own, melt, rows, .. } = &self.variants[of];
        let (own, melt, mut rows) = (own.clone(), *melt, rows.clone());
        let mut recipe = own.with_offsets_changed(correction.offset_change_mm());
        for (number, change) in otherwise(&own, changes, correction) {
            if let Some(exposure) = change.and_then(|change| change.of(&own)) {
                recipe.exposures[number] = exposure;
            }
            let exposure = &recipe.exposures[number];
            let name = change.map_or_else(|| exposure.name.clone(), ExposureChange::label);
            let new = ExposureRow { name, ..row(&own.name, exposure) };
            rows[number] = self.row_of(of, number, corrected(new, correction, most_w));
        }
        let is_same = |v: &Variant| v.of == of && v.rows == rows && v.recipe == recipe;
        self.variants.iter().position(is_same).unwrap_or_else(|| {
            let has_same_marks = |v: &Variant| v.of == of && v.recipe == recipe;
            let first = self.variants.iter().position(has_same_marks);
            let marks = first.unwrap_or(self.variants.len());
            self.variants.push(Variant { of, marks, recipe, melt, rows, walls: None });
            self.variants.len() - 1
        })
    }

    /// The row of an exposure of a recipe with another power or speed: the one that some placement before
    /// has, or a new one.
    fn row_of(&mut self, recipe: usize, number: usize, new: ExposureRow) -> usize {
        let numbers = |row: &ExposureRow| {
            [row.power_w, row.speed_mm_s, row.power_factor.unwrap_or(1.0)].map(f64::to_bits)
        };
        let of_recipe = self.variants.iter().filter(|v| v.of == recipe);
        let mut used = of_recipe.filter_map(|v| v.rows.get(number).copied());
        if let Some(row) = used.find(|&row| numbers(&self.rows[row]) == numbers(&new)) {
            return row;
        }
        let name = free_name(&new.name, |name| {
            self.rows.iter().any(|row| (&*row.name, &*row.recipe) == (name, &*new.recipe))
        });
        self.rows.push(ExposureRow { name, ..new });
        self.rows.len() - 1
    }

    /// Adds the exposures of thin walls in all the energies that walls may ask for.
    fn add_walls(&mut self, most_w: f64) -> Result<(), ExposuresError> {
        let mut known: BTreeMap<(usize, i32), usize> = BTreeMap::new();
        for variant in &mut self.variants {
            let ThinWalls::Expose { exposure: name, .. } = &variant.recipe.thin_walls else {
                continue;
            };
            let steps = energy_steps(&variant.recipe, variant.melt)?;
            let number = variant.recipe.exposures.iter().position(|e| e.name == *name);
            let Some((steps, number)) = steps.zip(number) else { continue };
            let named = variant.rows[number];
            let mut row_of = |step: i32| {
                if step == 0 {
                    return named;
                }
                *known.entry((named, step)).or_insert_with(|| {
                    self.rows.push(at_step(&self.rows[named], step, most_w));
                    self.rows.len() - 1
                })
            };
            let rows = steps.clone().map(&mut row_of).collect();
            variant.walls = Some((steps, rows));
        }
        Ok(())
    }

    /// A recipe as a placement uses it.
    pub(crate) fn of(&self, placement: PlacementId, recipe: usize) -> &Variant {
        &self.variants[self.changed.get(&placement).copied().unwrap_or(recipe)]
    }

    /// A recipe as it is.
    pub(crate) fn plain(&self, recipe: usize) -> &Variant {
        &self.variants[recipe]
    }
}

impl Variant {
    /// Row of a named exposure.
    pub(crate) fn row(&self, name: &str) -> Option<u16> {
        let number = self.recipe.exposures.iter().position(|exposure| exposure.name == name)?;
        u16::try_from(self.rows[number]).ok()
    }

    /// Row of the exposure of thin walls with its energy changed by a step.
    pub(crate) fn wall_row(&self, step: i32) -> Option<u16> {
        let (steps, rows) = self.walls.as_ref()?;
        let number = usize::try_from(step.checked_sub(*steps.start())?).ok()?;
        u16::try_from(*rows.get(number)?).ok()
    }
}

/// What the beam melts with a recipe on a machine: one layer of nominal powder depth.
///
/// # Errors
/// If the machine's beam has no usable radius; a validated machine's has.
fn melt(recipe: &Recipe, machine: &Machine) -> Result<Melt, EstimateError> {
    Ok(Melt {
        beam: Beam::new(machine.laser.spot_radius_mm)?,
        threshold_j_mm2: thresholds(recipe)[0],
    })
}

/// Energy per area that melts a layer of a recipe, J/mm²: by nominal and by steady depth of the powder.
pub(crate) fn thresholds(recipe: &Recipe) -> [f64; 2] {
    let (powder, layer_mm) = (powder(&recipe.material), recipe.layer_thickness_mm);
    [powder.threshold_nominal(layer_mm), powder.threshold_steady(layer_mm)]
}

/// Which exposures of a recipe a placement has otherwise, by number, with its changes: those that it changes,
/// then, where the place asks for another power, all the rest.
fn otherwise<'a>(
    recipe: &Recipe,
    changes: &'a [ExposureChange],
    correction: StepCorrection,
) -> Vec<(usize, Option<&'a ExposureChange>)> {
    let number = |name: &str| recipe.exposures.iter().position(|e| e.name == name);
    let changed = changes.iter().filter_map(|change| Some((number(&change.name)?, Some(change))));
    let mut all: Vec<_> = changed.collect();
    if correction.power_percent != 100 {
        let is_changed = |name: &str| changes.iter().any(|change| change.name == name);
        let rest = recipe.exposures.iter().enumerate().filter(|(_, e)| !is_changed(&e.name));
        all.extend(rest.map(|(number, _)| (number, None)));
    }
    all
}

/// An exposure where the place loses power, or brings more than it should: as much as was asked for arrives.
fn corrected(wanted: ExposureRow, correction: StepCorrection, most_w: f64) -> ExposureRow {
    if correction.power_percent == 100 {
        return wanted;
    }
    let factor = correction.power_factor();
    let name = format!("{}, {} % power", wanted.name, correction.power_percent);
    let [power_w, speed_mm_s] = with_energy(&wanted, factor, most_w);
    ExposureRow { name, power_w, speed_mm_s, power_factor: Some(factor), ..wanted }
}

fn row(recipe: &str, exposure: &Exposure) -> ExposureRow {
    ExposureRow {
        name: exposure.name.clone(),
        recipe: recipe.to_owned(),
        power_w: exposure.power_w,
        speed_mm_s: exposure.speed_mm_s,
        path_run_in_mm: exposure.path_run_in_mm,
        path_run_out_mm: exposure.path_run_out_mm,
        power_factor: None,
    }
}

/// An exposure with its energy per length changed by a step of walls.
fn at_step(named: &ExposureRow, step: i32, most_w: f64) -> ExposureRow {
    let factor = energy_factor(step);
    let [power_w, speed_mm_s] = with_energy(named, factor, most_w);
    let name = format!("{} × {factor:.2}", named.name);
    ExposureRow { name, power_w, speed_mm_s, ..named.clone() }
}

/// Power, W, and speed, mm/s, that bring a factor of the energy per length: more or less power, or, where
/// the machine has no more of it, all of it and a lower speed.
fn with_energy(of: &ExposureRow, factor: f64, most_w: f64) -> [f64; 2] {
    let power_w = to_nano(of.power_w * factor).min(most_w);
    let speed_mm_s = to_nano(of.speed_mm_s * (power_w / (of.power_w * factor)));
    [power_w, speed_mm_s]
}

/// Rounded to nine decimals: shorter to read in a file, and nothing here needs more.
fn to_nano(value: f64) -> f64 {
    (value * NM_PER_MM * 1e3).round() / (NM_PER_MM * 1e3)
}
