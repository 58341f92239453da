//! What laser energy every spot of a layer gets, and what will melt: one answer for whoever asks.
//!
//! The vectors are those of a vector file; a job beside it adds the section that they should make.

mod answer;
mod assumed;
mod basics;
mod canvas;
mod error;
mod hatch;
mod inside;
mod lettering;
mod look;
mod lost;
mod over_layers;
mod picture;
mod spread;
mod sums;

pub use answer::{
    DoseDrawing, DoseRange, Gap, HatchMean, Histogram, LayerDose, OutlineDeviation, PlaceDose,
    PowderDepth, Prediction, ProposedOffset, Raster, SectionDose, Spot, Threshold,
};
pub use assumed::{Assumed, Stated};
pub use error::DoseError;
pub use look::Closed;
pub use over_layers::{BuildDose, BuildPrediction, LayerChoice, PartBoundary, build_dose};
pub use picture::{Picture, write_dose_picture};
pub use spread::{Spread, TRUE_TO_MM};

use crate::build::Build;
use crate::strokes::strokes;
use base::Progress;
use basics::{SAMPLES_MM, bounds, exposed, proposals, same_layers, section_of_row};
use estimate::outline::Deviation;
use estimate::{Beam, DoseField, Ring, compare, melted};
use region::{Region, union_all};
use scan_path::{Header, Layer};
use slicing::Scratch;

/// Bins of the histogram of deviations in a millimetre, and how many there are to either side of 0.
const BINS_PER_MM: f64 = 50.0;
const BINS_EACH_SIDE: i32 = 10;

/// What is asked of a layer.
#[derive(Clone, Copy)]
pub struct DoseQuestion<'a> {
    /// The tables that the layer refers to.
    pub header: &'a Header,
    /// The vectors.
    pub layer: &'a Layer,
    /// The beam, and what melts.
    pub assumed: &'a Assumed,
    /// The job, which knows the section; `None` where it is not at hand.
    pub build: Option<&'a Build>,
    /// Distance of the points of the grid over which doses are summed up and drawn, mm.
    pub pitch_mm: f64,
    /// Places at which the dose is wanted, mm.
    pub places_mm: &'a [[f64; 2]],
}

/// The dose of a layer, in numbers and as what a picture shows.
///
/// Outlines, deviations and the doses at places are exact, as far as `estimate` is; the range of the
/// doses and the picture are those of the points of a grid.
///
/// # Errors
/// [`DoseError`]; a grid with too many points is one.
pub fn layer_dose(
    question: &DoseQuestion<'_>,
    progress: &Progress,
) -> Result<(LayerDose, DoseDrawing), DoseError> {
    let DoseQuestion { header, layer, assumed, build, pitch_mm, places_mm } = *question;
    let exposures = exposed(header, assumed);
    let beam = Beam::new(assumed.beam_radius_mm)?;
    let field = DoseField::new(&strokes(&layer.blocks, &exposures), beam)?;
    let section = match build {
        Some(build) => Some(section_of(build, header, layer.index, assumed, progress)?),
        None => None,
    };
    let bounds = bounds(&field, section.as_ref());
    let mut outlines = Vec::with_capacity(assumed.thresholds.len());
    for threshold in &assumed.thresholds {
        outlines.push(melted(&field, threshold.j_mm2, bounds, progress)?);
    }
    let thresholds: Vec<f64> = assumed.thresholds.iter().map(|threshold| threshold.j_mm2).collect();
    let sums = sums::sum_up(&field, bounds, pitch_mm, &thresholds, section.as_ref(), progress)?;
    let mut predictions = Vec::with_capacity(outlines.len());
    for ((threshold, outline), dose) in assumed.thresholds.iter().zip(&outlines).zip(sums.melted) {
        let deviation = match &section {
            Some(section) => Some(compare(outline, section, SAMPLES_MM, progress)?),
            None => None,
        };
        predictions.push(Prediction {
            powder_depth: threshold.powder_depth,
            threshold_j_mm2: threshold.j_mm2,
            curves: outline.len(),
            outline_mm: outline.iter().map(Ring::length_mm).sum(),
            melted_mm2: outline.iter().map(|ring| ring.area_mm2).sum(),
            dose,
            deviation: deviation.as_ref().map(stated),
            proposed_offsets: build.map_or(Vec::new(), |build| {
                proposals(build, field.beam(), assumed, threshold.j_mm2)
            }),
        });
    }
    // a sum of nothing is −0
    let at = |&at_mm: &[f64; 2]| PlaceDose { at_mm, dose_j_mm2: field.at(at_mm) + 0.0 };
    let numbers = LayerDose {
        layer: layer.index,
        beam_radius_mm: assumed.beam_radius_mm,
        recipe: assumed.recipe.clone(),
        pitch_mm,
        most_j_mm2: sums.most,
        hatches: hatch::hatch_means(&exposures, layer),
        predictions,
        section: section.as_ref().map(|region| {
            let (area_mm2, dose) = (region.area_mm2(), sums.section);
            SectionDose { area_mm2, dose }
        }),
        places: places_mm.iter().map(at).collect(),
    };
    let raster = sums.raster;
    Ok((numbers, DoseDrawing { raster, outlines, section: section.unwrap_or_default() }))
}

/// What is to be fused in a layer, of all placements that count.
fn section_of(
    build: &Build,
    header: &Header,
    layer: u32,
    assumed: &Assumed,
    progress: &Progress,
) -> Result<Region, DoseError> {
    same_layers(build, header)?;
    let mut scratch = Scratch::default();
    let mut regions = Vec::with_capacity(build.placed.len());
    for (row, placed) in build.placed.iter().enumerate() {
        progress.check()?;
        if assumed.counts(&build.recipe(placed).name) {
            regions.push(section_of_row(build, row, layer, &mut scratch));
        }
    }
    Ok(union_all(&regions))
}

/// A deviation as numbers alone.
fn stated(deviation: &Deviation) -> OutlineDeviation {
    let edges_mm: Vec<f64> =
        (-BINS_EACH_SIDE..=BINS_EACH_SIDE).map(|bin| f64::from(bin) / BINS_PER_MM).collect();
    let counts = deviation.histogram(&edges_mm);
    let Deviation { vanished, filled, merged, .. } = deviation;
    let spot = |at_mm, width_mm| Spot { at_mm, width_mm };
    OutlineDeviation {
        mean_mm: deviation.mean_mm(),
        p95_mm: deviation.p95_mm(),
        histogram: Histogram { edges_mm, counts },
        vanished: vanished.iter().map(|of| spot(of.at, of.width_mm)).collect(),
        filled: filled.iter().map(|of| spot(of.at, of.width_mm)).collect(),
        merged: merged.iter().map(|of| Gap { at_mm: of.at, gap_mm: of.gap_mm }).collect(),
    }
}
