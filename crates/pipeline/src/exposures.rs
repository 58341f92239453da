//! The exposure table of a build's vector file, and which rows a placement uses.

use crate::load::LoadedRecipe;
use base::{NM_PER_MM, PlacementId};
use estimate::{Beam, EstimateError, Powder};
use job::recipe::{Exposure, Material, ThinWalls};
use job::{Job, Machine, Recipe, free_name};
use scan_path::ExposureRow;
use scan_strategy::{ExposeError, Melt, energy_factor, energy_steps};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;

/// The exposures of each recipe in turn, then what placements have otherwise, a row for each power and
/// speed that an exposure of a recipe has somewhere; at last those that walls need, which are one
/// of the others with the energy changed in steps.
#[derive(Debug, Default)]
pub(crate) struct Exposures {
    pub(crate) rows: Vec<ExposureRow>,
    /// The recipes as they are, in order, then as placements change them.
    variants: Vec<Variant>,
    /// Placements that change their recipe, and to which variant.
    changed: BTreeMap<PlacementId, usize>,
}

/// A recipe as some placements use it.
#[derive(Debug)]
pub(crate) struct Variant {
    /// Which of the job's recipes it is.
    of: usize,
    /// The recipe, with the exposures that these placements change.
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
            table.variants.push(Variant { of, recipe, melt, rows, walls: None });
        }
        for (id, _) in job.placements() {
            table.add_changes(job, id, recipe_of(id.part));
        }
        table.add_walls(machine.laser.max_power_w)?;
        Ok(table)
    }

    /// Adds what a placement has otherwise than its recipe.
    fn add_changes(&mut self, job: &Job, id: PlacementId, recipe: usize) {
        let changes = job.parts[id.part].changes_of(id.copy);
        if changes.is_empty() {
            return;
        }
        let Variant { recipe: own, melt, rows, .. } = &self.variants[recipe];
        let (own, melt, mut rows) = (own.clone(), *melt, rows.clone());
        let mut changed = own.clone();
        for change in changes {
            let number = own.exposures.iter().position(|e| e.name == change.name);
            let Some((number, exposure)) = number.zip(change.of(&own)) else { continue };
            rows[number] = self.row_of(recipe, number, &change.label(), &exposure);
            changed.exposures[number] = exposure;
        }
        let known = self.variants.iter().position(|v| v.of == recipe && v.rows == rows);
        let variant = known.unwrap_or_else(|| {
            self.variants.push(Variant { of: recipe, recipe: changed, melt, rows, walls: None });
            self.variants.len() - 1
        });
        self.changed.insert(id, variant);
    }

    /// The row of an exposure of a recipe with another power or speed: the one that some placement before
    /// has, or a new one.
    fn row_of(&mut self, recipe: usize, number: usize, label: &str, exposure: &Exposure) -> usize {
        let own = &self.variants[recipe].recipe;
        let is_same = |row: usize| {
            let known = &self.rows[row];
            known.power_w.to_bits() == exposure.power_w.to_bits()
                && known.speed_mm_s.to_bits() == exposure.speed_mm_s.to_bits()
        };
        let of_recipe = self.variants.iter().filter(|v| v.of == recipe);
        let mut used = of_recipe.filter_map(|v| v.rows.get(number).copied());
        if let Some(row) = used.find(|&row| is_same(row)) {
            return row;
        }
        let name = free_name(label, |name| {
            self.rows.iter().any(|row| (&*row.name, &*row.recipe) == (name, &own.name))
        });
        let new = ExposureRow { name, ..row(&own.name, exposure) };
        self.rows.push(new);
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
                    self.rows.push(with_energy(&self.rows[named], step, most_w));
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

/// The powder that a recipe describes.
pub fn powder(material: &Material) -> Powder {
    let Material { bed_temperature_c, melting_temperature_c, .. } = *material;
    let Material { heat_capacity_j_g_k, latent_heat_j_g, absorbed_fraction, .. } = *material;
    let Material { bed_density_g_cm3, part_density_g_cm3, .. } = *material;
    Powder {
        bed_temperature_c,
        melting_temperature_c,
        heat_capacity_j_g_k,
        latent_heat_j_g,
        bed_density_g_cm3,
        part_density_g_cm3,
        absorbed_fraction,
    }
}

fn row(recipe: &str, exposure: &Exposure) -> ExposureRow {
    ExposureRow {
        name: exposure.name.clone(),
        recipe: recipe.to_owned(),
        power_w: exposure.power_w,
        speed_mm_s: exposure.speed_mm_s,
        path_run_in_mm: exposure.path_run_in_mm,
        path_run_out_mm: exposure.path_run_out_mm,
    }
}

/// An exposure with another energy per length: more or less power, or, where the machine has no more
/// of it, all of it and a lower speed.
fn with_energy(named: &ExposureRow, step: i32, most_w: f64) -> ExposureRow {
    let factor = energy_factor(step);
    let power_w = to_nano(named.power_w * factor).min(most_w);
    let speed_mm_s = to_nano(named.speed_mm_s * (power_w / (named.power_w * factor)));
    let name = format!("{} × {factor:.2}", named.name);
    ExposureRow { name, power_w, speed_mm_s, ..named.clone() }
}

/// Rounded to nine decimals: shorter to read in a file, and nothing here needs more.
fn to_nano(value: f64) -> f64 {
    (value * NM_PER_MM * 1e3).round() / (NM_PER_MM * 1e3)
}
