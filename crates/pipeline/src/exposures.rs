//! The exposure table of a build: each recipe's named exposures in turn, followed by those that its
//! walls need, which are one of the named ones with the energy changed in steps.

use crate::load::Loaded;
use base::NM_PER_MM;
use job::recipe::{Exposure, ThinWalls};
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

/// Where the rows of one recipe stand.
#[derive(Debug)]
struct Rows {
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
    pub(crate) fn of(loaded: &Loaded) -> Result<Self, ExposeError> {
        let mut table = Self::default();
        for entry in &loaded.recipes {
            table.add(&entry.recipe, &loaded.machine)?;
        }
        Ok(table)
    }

    fn add(&mut self, recipe: &Recipe, machine: &Machine) -> Result<(), ExposeError> {
        let named = self.rows.len();
        self.rows.extend(recipe.exposures.iter().map(|exposure| row(recipe, exposure)));
        let mut walls = None;
        if let ThinWalls::Expose { exposure: name, .. } = &recipe.thin_walls
            && let Some(steps) = energy_steps(recipe, melt(recipe, machine))?
            && let Some(number) = recipe.exposures.iter().position(|e| e.name == *name)
        {
            let (exposure, first) = (&recipe.exposures[number], self.rows.len());
            let changed = steps.clone().filter(|step| *step != 0);
            let power = machine.laser.max_power_w;
            self.rows.extend(changed.map(|step| wall_row(recipe, exposure, step, power)));
            walls = Some(WallRows { steps, named: named + number, first });
        }
        self.recipes.push(Rows { named, walls });
        Ok(())
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
pub(crate) fn melt(recipe: &Recipe, machine: &Machine) -> Melt {
    let _ = machine;
    Melt {
        beam: estimate::Beam::new(0.25).unwrap(),
        threshold_j_mm2: 0.064_766_25 * recipe.layer_thickness_mm,
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
