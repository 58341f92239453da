//! How wide the beam is and what melts: what the person states goes before the file, the file before the
//! job.

use super::answer::{PowderDepth, Threshold};
use super::error::DoseError;
use crate::build::Build;
use crate::tables::melt_row;
use scan_path::{Header, Layer, MeltRow};
use std::collections::BTreeSet;

/// What the person states; the rest is looked up.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stated {
    /// Radius of the beam, to 1/e², mm.
    pub beam_radius_mm: Option<f64>,
    /// The dose that melts, J/mm².
    pub threshold_j_mm2: Option<f64>,
    /// The one recipe whose marks count.
    pub recipe: Option<String>,
}

/// What a dose and what melts are worked out with.
#[derive(Clone, Debug, PartialEq)]
pub struct Assumed {
    /// Radius of the beam, to 1/e², mm.
    pub beam_radius_mm: f64,
    /// The doses that melt.
    pub thresholds: Vec<Threshold>,
    /// The one recipe whose marks and placements count; all when absent. Parts keep clearances far
    /// wider than the beam, so that what is left out brings them nothing.
    pub recipe: Option<String>,
}

impl Assumed {
    /// What holds for a layer, or for all layers of the file when absent.
    ///
    /// # Errors
    /// If nobody says how wide the beam is or what melts, or if the recipes of the layer differ in that.
    pub fn of(
        header: &Header,
        layer: Option<&Layer>,
        build: Option<&Build>,
        stated: &Stated,
    ) -> Result<Self, DoseError> {
        let known: BTreeSet<&str> =
            header.exposures.iter().map(|row| row.recipe.as_str()).collect();
        if let Some(wanted) = stated.recipe.clone().filter(|name| !known.contains(name.as_str())) {
            let known = known.into_iter().map(str::to_owned).collect();
            return Err(DoseError::NoSuchRecipe { wanted, known });
        }
        let of_job = build.map(|build| build.loaded.machine.laser.spot_radius_mm);
        let radius = stated.beam_radius_mm.or(header.beam_radius_mm).or(of_job);
        let thresholds = if let Some(j_mm2) = stated.threshold_j_mm2 {
            vec![Threshold { powder_depth: PowderDepth::Stated, j_mm2 }]
        } else {
            let exposing = exposing(header, layer, stated.recipe.as_deref());
            thresholds(&melt_rows(header, build), &exposing)?
        };
        Ok(Self {
            beam_radius_mm: radius.ok_or(DoseError::BeamUnknown)?,
            thresholds,
            recipe: stated.recipe.clone(),
        })
    }

    /// Whether marks and placements with a recipe of this name count.
    pub(super) fn counts(&self, recipe: &str) -> bool {
        self.recipe.as_deref().is_none_or(|only| only == recipe)
    }
}

/// Names of the recipes that expose a layer; of all recipes in the file if nothing is exposed there.
fn exposing<'a>(
    header: &'a Header,
    layer: Option<&Layer>,
    only: Option<&'a str>,
) -> BTreeSet<&'a str> {
    if let Some(only) = only {
        return BTreeSet::from([only]);
    }
    let row = |exposure: u16| header.exposures.get(usize::from(exposure));
    let blocks = layer.map_or(&[][..], |layer| &layer.blocks);
    let used = blocks.iter().filter_map(|block| row(block.exposure));
    let names: BTreeSet<&str> = used.map(|row| row.recipe.as_str()).collect();
    if names.is_empty() {
        return header.exposures.iter().map(|row| row.recipe.as_str()).collect();
    }
    names
}

fn melt_rows(header: &Header, build: Option<&Build>) -> Vec<MeltRow> {
    match build {
        Some(build) if header.melt.is_empty() => {
            build.loaded.recipes.iter().map(|entry| melt_row(&entry.recipe)).collect()
        }
        _ => header.melt.clone(),
    }
}

/// The thresholds that some recipes have in common. Recipe files may share a name; those must agree, too.
fn thresholds(rows: &[MeltRow], names: &BTreeSet<&str>) -> Result<Vec<Threshold>, DoseError> {
    let is_known = |name: &&str| rows.iter().any(|row| row.recipe == **name);
    if !names.iter().all(is_known) {
        return Err(DoseError::ThresholdUnknown);
    }
    let mut rows = rows.iter().filter(|row| names.contains(row.recipe.as_str()));
    let Some(first) = rows.next() else { return Err(DoseError::ThresholdUnknown) };
    let doses = |row: &MeltRow| [row.nominal_j_mm2, row.steady_j_mm2].map(f64::to_bits);
    if rows.any(|row| doses(row) != doses(first)) {
        let recipes = names.iter().map(|&name| name.to_owned()).collect();
        return Err(DoseError::SeveralThresholds { recipes });
    }
    let threshold = |powder_depth, j_mm2| Threshold { powder_depth, j_mm2 };
    Ok(vec![
        threshold(PowderDepth::Nominal, first.nominal_j_mm2),
        threshold(PowderDepth::Steady, first.steady_j_mm2),
    ])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(recipe: &str, nominal_j_mm2: f64, steady_j_mm2: f64) -> MeltRow {
        MeltRow { recipe: recipe.to_owned(), nominal_j_mm2, steady_j_mm2 }
    }

    #[test]
    fn recipes_of_a_layer_must_agree_in_what_melts() {
        let rows = [row("a", 0.5, 1.0), row("b", 0.5, 1.0), row("c", 0.25, 1.0)];
        let of = |names: &[&'static str]| thresholds(&rows, &names.iter().copied().collect());
        let doses = |names| of(names).ok().map(|both| [both[0].j_mm2, both[1].j_mm2]);
        assert_eq!(doses(&["a", "b"]), Some([0.5, 1.0]));
        assert_eq!(doses(&["c"]), Some([0.25, 1.0]));
        assert!(matches!(of(&["a", "c"]), Err(DoseError::SeveralThresholds { .. })));
        assert!(matches!(of(&["a", "d"]), Err(DoseError::ThresholdUnknown)));
        assert!(matches!(of(&[]), Err(DoseError::ThresholdUnknown)));
    }

    #[test]
    fn what_is_stated_goes_before_the_file() {
        let mut header = Header { beam_radius_mm: Some(0.3), ..Header::default() };
        let layer = Layer { index: 0, blocks: Vec::new() };
        let mut stated = Stated { threshold_j_mm2: Some(0.01), ..Stated::default() };
        let of = |header: &Header, stated: &Stated| Assumed::of(header, Some(&layer), None, stated);
        let radius = |header: &Header, stated: &Stated| {
            of(header, stated).ok().map(|assumed| assumed.beam_radius_mm)
        };
        assert_eq!(radius(&header, &stated), Some(0.3));
        stated.beam_radius_mm = Some(0.2);
        assert_eq!(radius(&header, &stated), Some(0.2));
        stated.recipe = Some("other".to_owned());
        assert!(matches!(of(&header, &stated), Err(DoseError::NoSuchRecipe { .. })));
        header.beam_radius_mm = None;
        stated = Stated { threshold_j_mm2: Some(0.01), ..Stated::default() };
        assert!(matches!(of(&header, &stated), Err(DoseError::BeamUnknown)));
    }
}
