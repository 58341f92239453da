//! The exposure table of a build: each recipe's named exposures in turn, followed by those that its
//! walls need, which are one of the named ones with the energy changed in steps.

use crate::load::Loaded;
use base::NM_PER_MM;
use estimate::{Beam, EstimateError, Powder};
use job::recipe::{Exposure, Material, ThinWalls};
use job::{Machine, Recipe};
use scan_path::ExposureRow;
use scan_strategy::{ExposeError, Melt, energy_factor, energy_steps};
use std::ops::RangeInclusive;

/// The rows, and where each recipe's stand.
#[derive(Debug, Default)]
pub(crate) struct ExposureTable {
    pub(crate) rows: Vec<ExposureRow>,
    recipes: Vec<Rows>,
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

/// Where the rows of one recipe stand, and what it melts.
#[derive(Debug)]
struct Rows {
    melt: Melt,
    named: usize,
    walls: Option<WallRows>,
}

#[derive(Debug)]
struct WallRows {
    steps: RangeInclusive<i32>,
    /// Row of the exposure that is changed, which is step 0.
    named: usize,
    /// Row of the first step; step 0 has none among these.
    first: usize,
}

impl ExposureTable {
    /// The table of a job.
    ///
    /// # Errors
    /// If a recipe cannot be carried out.
    pub(crate) fn of(loaded: &Loaded) -> Result<Self, ExposuresError> {
        let mut table = Self::default();
        for entry in &loaded.recipes {
            table.add(&entry.recipe, &loaded.machine)?;
        }
        Ok(table)
    }

    fn add(&mut self, recipe: &Recipe, machine: &Machine) -> Result<(), ExposuresError> {
        let melt = melt(recipe, machine)?;
        let named = self.rows.len();
        self.rows.extend(recipe.exposures.iter().map(|exposure| row(recipe, exposure)));
        let mut walls = None;
        if let ThinWalls::Expose { exposure: name, .. } = &recipe.thin_walls
            && let Some(steps) = energy_steps(recipe, melt)?
            && let Some(number) = recipe.exposures.iter().position(|e| e.name == *name)
        {
            let (exposure, first) = (&recipe.exposures[number], self.rows.len());
            let changed = steps.clone().filter(|step| *step != 0);
            let power = machine.laser.max_power_w;
            self.rows.extend(changed.map(|step| wall_row(recipe, exposure, step, power)));
            walls = Some(WallRows { steps, named: named + number, first });
        }
        self.recipes.push(Rows { melt, named, walls });
        Ok(())
    }

    /// What the beam melts with a recipe.
    pub(crate) fn melt(&self, recipe: usize) -> Melt {
        self.recipes[recipe].melt
    }

    /// Row of a named exposure of a recipe.
    pub(crate) fn named(&self, recipe: usize, of: &Recipe, name: &str) -> Option<u16> {
        let number = of.exposures.iter().position(|exposure| exposure.name == name)?;
        u16::try_from(self.recipes[recipe].named + number).ok()
    }

    /// Row of a recipe's exposure of thin walls with its energy changed by a step.
    pub(crate) fn walls(&self, recipe: usize, step: i32) -> Option<u16> {
        let walls = self.recipes[recipe].walls.as_ref()?;
        if step == 0 {
            return u16::try_from(walls.named).ok();
        }
        let before = usize::try_from(step.checked_sub(*walls.steps.start())?).ok()?;
        let is_past_named = step > 0 && *walls.steps.start() <= 0;
        let row = walls.first + before - usize::from(is_past_named);
        walls.steps.contains(&step).then_some(row).and_then(|row| u16::try_from(row).ok())
    }
}

/// What the beam melts with a recipe on a machine: one layer of nominal powder depth.
///
/// # Errors
/// If the machine's beam has no usable radius; a validated machine's has.
pub(crate) fn melt(recipe: &Recipe, machine: &Machine) -> Result<Melt, EstimateError> {
    Ok(Melt {
        beam: Beam::new(machine.laser.spot_radius_mm)?,
        threshold_j_mm2: powder(&recipe.material).threshold_nominal(recipe.layer_thickness_mm),
    })
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

fn row(recipe: &Recipe, exposure: &Exposure) -> ExposureRow {
    ExposureRow {
        name: exposure.name.clone(),
        recipe: recipe.name.clone(),
        power_w: exposure.power_w,
        speed_mm_s: exposure.speed_mm_s,
        path_run_in_mm: exposure.path_run_in_mm,
        path_run_out_mm: exposure.path_run_out_mm,
    }
}

/// An exposure with another energy per length: more or less power, or, where the machine has no more
/// of it, all of it and a lower speed.
fn wall_row(recipe: &Recipe, exposure: &Exposure, step: i32, most_w: f64) -> ExposureRow {
    let factor = energy_factor(step);
    let power_w = to_nano(exposure.power_w * factor).min(most_w);
    let speed_mm_s = to_nano(exposure.speed_mm_s * (power_w / (exposure.power_w * factor)));
    let name = format!("{} × {factor:.2}", exposure.name);
    ExposureRow { name, power_w, speed_mm_s, ..row(recipe, exposure) }
}

/// Rounded to nine decimals, which is how a file tells a number; nothing here needs more.
fn to_nano(value: f64) -> f64 {
    (value * NM_PER_MM * 1e3).round() / (NM_PER_MM * 1e3)
}
