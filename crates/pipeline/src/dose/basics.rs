//! What the dose of one layer and that of many are worked out from.

use super::answer::ProposedOffset;
use super::assumed::Assumed;
use super::error::DoseError;
use crate::build::Build;
use crate::offsets::proposed_offset;
use crate::sections::Sections;
use estimate::{Beam, DoseField};
use region::Region;
use scan_path::{ExposureRow, Header};
use slicing::Scratch;

/// Distance of the places on a predicted outline that are compared with the section, mm: a fifth of a
/// narrow beam's radius.
pub(super) const SAMPLES_MM: f64 = 0.05;

/// The exposure table; what does not count has no power.
pub(super) fn exposed(header: &Header, assumed: &Assumed) -> Vec<ExposureRow> {
    let counts = |row: &ExposureRow| assumed.counts(&row.recipe);
    let without_power = |row: &ExposureRow| ExposureRow { power_w: 0.0, ..row.clone() };
    let rows = header.exposures.iter();
    rows.map(|row| if counts(row) { row.clone() } else { without_power(row) }).collect()
}

/// The box in which there is any dose, or anything that should be fused.
pub(super) fn bounds(field: &DoseField, section: Option<&Region>) -> [[f64; 2]; 2] {
    let of_section = section.and_then(Region::bounds_mm);
    let boxes = field.bounds().into_iter().chain(of_section);
    let both = boxes.reduce(|[lo, hi], [low, high]| {
        [[0, 1].map(|k| lo[k].min(low[k])), [0, 1].map(|k| hi[k].max(high[k]))]
    });
    both.unwrap_or_default()
}

/// What is to be fused of one placement in a layer.
pub(super) fn section_of_row(
    build: &Build,
    row: usize,
    layer: u32,
    scratch: &mut Scratch,
) -> Region {
    let sections = Sections::of(&build.placed[row], layer..layer + 1, scratch);
    sections.region(i64::from(layer))
}

/// Whether a job makes the layers and placements of a file.
pub(super) fn same_layers(build: &Build, header: &Header) -> Result<(), DoseError> {
    let words = |header: &Header| {
        format!(
            "{} placements in {} layers of {} mm",
            header.placements.len(),
            header.layer_count,
            header.layer_thickness_mm
        )
    };
    let (job, file) = (words(&build.header), words(header));
    if job == file { Ok(()) } else { Err(DoseError::OtherJob { job, file }) }
}

/// The beam offset that would make a straight boundary of the core come out true, for each recipe.
pub(super) fn proposals(
    build: &Build,
    beam: Beam,
    assumed: &Assumed,
    threshold_j_mm2: f64,
) -> Vec<ProposedOffset> {
    let recipes = build.loaded.recipes.iter().map(|entry| &entry.recipe);
    let counting = recipes.filter(|recipe| assumed.counts(&recipe.name));
    let proposed = counting.map(|recipe| ProposedOffset {
        recipe: recipe.name.clone(),
        proposed_mm: proposed_offset(recipe, beam, threshold_j_mm2),
        of_recipe_mm: recipe.beam_offset_mm,
    });
    proposed.collect()
}
