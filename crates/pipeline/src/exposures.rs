//! The exposure table of a build's vector file, and which row a placement uses.

use crate::load::LoadedRecipe;
use base::PlacementId;
use job::recipe::Exposure;
use job::{Job, free_name};
use scan_path::ExposureRow;
use std::collections::BTreeMap;

/// The exposures of each recipe in turn, then what placements have otherwise: a row for each power and
/// speed that an exposure of a recipe has somewhere.
pub(crate) struct Exposures {
    pub(crate) rows: Vec<ExposureRow>,
    /// By recipe: the row of its first exposure.
    first: Vec<usize>,
    /// Names of exposures that a placement has otherwise than its recipe, and their rows.
    changed: BTreeMap<PlacementId, Vec<(String, usize)>>,
}

impl Exposures {
    /// `recipe_of` gives the index of a part's recipe.
    pub(crate) fn new(
        job: &Job,
        recipes: &[LoadedRecipe],
        recipe_of: impl Fn(usize) -> usize,
    ) -> Self {
        let mut table = Self { rows: Vec::new(), first: Vec::new(), changed: BTreeMap::new() };
        for entry in recipes {
            table.first.push(table.rows.len());
            let rows = entry.recipe.exposures.iter();
            table.rows.extend(rows.map(|exposure| row(&entry.recipe.name, exposure)));
        }
        let mut known: BTreeMap<(usize, String, u64, u64), usize> = BTreeMap::new();
        for (id, _) in job.placements() {
            let index = recipe_of(id.part);
            let recipe = &recipes[index].recipe;
            for change in job.parts[id.part].changes_of(id.copy) {
                let Some(mut exposure) = change.of(recipe) else { continue };
                let bits = (exposure.power_w.to_bits(), exposure.speed_mm_s.to_bits());
                let key = (index, change.name.clone(), bits.0, bits.1);
                let at = *known.entry(key).or_insert_with(|| {
                    exposure.name = free_name(&change.label(), |name| {
                        let of =
                            |row: &ExposureRow| (&*row.name, &*row.recipe) == (name, &recipe.name);
                        table.rows.iter().any(of)
                    });
                    table.rows.push(row(&recipe.name, &exposure));
                    table.rows.len() - 1
                });
                table.changed.entry(id).or_default().push((change.name.clone(), at));
            }
        }
        table
    }

    /// The row of an exposure that the recipe of a placement names.
    pub(crate) fn index(
        &self,
        recipes: &[LoadedRecipe],
        recipe: usize,
        placement: PlacementId,
        name: &str,
    ) -> Option<u16> {
        let changed = self.changed.get(&placement).into_iter().flatten();
        let changed = changed.filter(|(of, _)| of == name).map(|(_, row)| *row).next();
        let own = || recipes[recipe].recipe.exposures.iter().position(|e| e.name == name);
        let row = changed.or_else(|| Some(self.first[recipe] + own()?))?;
        u16::try_from(row).ok()
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
