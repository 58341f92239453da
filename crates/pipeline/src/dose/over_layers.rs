//! The dose over many layers: how true the melt comes out on the whole, and what is lost of the part.

use super::answer::{PowderDepth, ProposedOffset};
use super::assumed::{Assumed, Stated};
use super::basics::{exposed, proposals, same_layers};
use super::error::DoseError;
use super::look::{BoundaryDistances, Closed, Looked, Predicted, look};
use super::lost::Tracks;
use super::spread::{Distances, Spread};
use crate::build::Build;
use crate::verify::{VerifyError, open_vector_file};
use base::{Finding, Progress};
use estimate::Beam;
use rayon::prelude::*;
use serde::Serialize;
use slicing::Scratch;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Mutex, PoisonError};

/// Layers for each thread that are worked on or wait for their turn: sums of a few layers, and the outlines
/// of those in work, are all that is held. Not by [`in_order`](mod@crate::in_order): looking at a layer is parallel
/// in itself, a thread that waits for its pieces may take up another layer, and must not sleep there until
/// its own is done.
const LAYERS_EACH: usize = 4;

/// Which layers of a file are meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct LayerChoice {
    /// The first.
    pub first: u32,
    /// The last that may count; the file's last when absent.
    pub last: Option<u32>,
    /// How far it is from each to the next; at least 1.
    pub step: u32,
}

/// The dose of many layers in numbers.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BuildDose {
    /// The layers that were meant.
    pub layers: LayerChoice,
    /// How many were looked at.
    pub looked_at: u32,
    /// How many of these have anything to fuse, or marks that count.
    pub used: u32,
    /// Radius of the beam, to 1/e², mm.
    pub beam_radius_mm: f64,
    /// The one recipe whose marks count; all when absent.
    pub recipe: Option<String>,
    /// Contours of the layers that were looked at, those that count.
    pub contours: Closed,
    /// What melts, for each threshold.
    pub predictions: Vec<BuildPrediction>,
}

/// What melts at a threshold, over all layers that were looked at.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BuildPrediction {
    /// How deep the powder is taken to lie.
    pub powder_depth: PowderDepth,
    /// The dose from which on it melts, J/mm².
    pub threshold_j_mm2: f64,
    /// From places along the predicted outline to the boundary of the section.
    pub outline: Option<Spread>,
    /// From places along the boundary to the predicted outline.
    pub boundary: Option<Spread>,
    /// The same without what lies near a corner sharper than the beam's spot
    /// ([`estimate::outline::along_boundary`]).
    pub boundary_away: Option<Spread>,
    /// That by part, all copies together.
    pub parts: Vec<PartBoundary>,
    /// Beam offsets that follow from the threshold.
    pub proposed_offsets: Vec<ProposedOffset>,
    /// What vanishes, merges and fills.
    pub findings: Vec<Finding>,
}

/// How true the boundary of a part comes out, away from corners sharper than the beam's spot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PartBoundary {
    /// Its name.
    pub part: String,
    /// Over all its copies.
    pub boundary_away: Spread,
    /// The largest distance from the predicted outline, mm, negative where the melt ends short.
    pub worst_mm: Option<f64>,
    /// Where that is, mm.
    pub worst_at_mm: Option<[f64; 3]>,
}

/// Works out the dose of many layers of a vector file, on all threads of the current pool. The result does not
/// depend on their number.
///
/// # Errors
/// [`DoseError`]; the recipes of all layers must melt at the same dose.
pub fn build_dose(
    path: &Path,
    build: &Build,
    layers: LayerChoice,
    stated: &Stated,
    progress: &Progress,
) -> Result<BuildDose, DoseError> {
    let reader = open_vector_file(path)?;
    let header = reader.header().clone();
    same_layers(build, &header)?;
    let numbers = layers.numbers(header.layer_count)?;
    let assumed = Assumed::of(&header, None, Some(build), stated)?;
    let exposures = exposed(&header, &assumed);
    let beam = Beam::new(assumed.beam_radius_mm)?;
    let near_mm = assumed.beam_radius_mm;
    let mut sums = Sums::new(assumed.thresholds.len(), near_mm);
    let reader = Mutex::new(reader);
    let one = |scratch: &mut Scratch, &layer: &u32| -> Result<Looked, DoseError> {
        progress.check()?;
        let read = |source| VerifyError::read(path, source);
        let mut reader = reader.lock().unwrap_or_else(PoisonError::into_inner);
        let bytes = reader.layer_bytes(layer).map_err(read)?;
        drop(reader);
        let layer = bytes.decode(&header).map_err(read)?;
        let looked = look(build, &exposures, (&assumed, beam), &layer, scratch, progress)?;
        progress.advance(1)?;
        Ok(looked)
    };
    progress.add_total(numbers.len() as u64);
    for some in numbers.chunks(LAYERS_EACH * rayon::current_num_threads()) {
        let looked: Vec<Result<Looked, DoseError>> =
            some.par_iter().map_init(Scratch::default, one).collect();
        for looked in looked {
            sums.add(build, &looked?);
        }
    }
    Ok(sums.stated(build, layers, (&assumed, beam)))
}

impl LayerChoice {
    /// The layers' numbers.
    fn numbers(self, count: u32) -> Result<Vec<u32>, DoseError> {
        let Self { first, last, step } = self;
        let last = last.unwrap_or(count.saturating_sub(1));
        if first > last || last >= count {
            return Err(DoseError::NoSuchLayers { first, last, count });
        }
        Ok((first..=last).step_by(step.max(1) as usize).collect())
    }
}

/// Sums over layers, from the bottom up.
struct Sums {
    looked_at: u32,
    used: u32,
    contours: Closed,
    predictions: Vec<(Predicted, Tracks)>,
}

impl Sums {
    fn new(thresholds: usize, near_mm: f64) -> Self {
        let prediction = || (Predicted::default(), Tracks::new(near_mm));
        let predictions = std::iter::repeat_with(prediction).take(thresholds).collect();
        Self { looked_at: 0, used: 0, contours: Closed::default(), predictions }
    }

    fn add(&mut self, build: &Build, looked: &Looked) {
        self.looked_at += 1;
        self.used += u32::from(looked.is_used);
        self.contours.add(looked.contours);
        let z_mm = build.height_mm(looked.layer);
        for ((sums, tracks), predicted) in self.predictions.iter_mut().zip(&looked.predictions) {
            sums.outline.add_all(&predicted.outline);
            for (&row, distances) in &predicted.boundaries {
                sums.boundaries.entry(row).or_default().add(distances);
            }
            tracks.add_layer(looked.layer, z_mm, &predicted.lost);
        }
    }

    fn stated(
        self,
        build: &Build,
        layers: LayerChoice,
        (assumed, beam): (&Assumed, Beam),
    ) -> BuildDose {
        let both = assumed.thresholds.iter().zip(self.predictions);
        let predictions = both.map(|(threshold, (sums, tracks))| {
            let total = |of: fn(&BoundaryDistances) -> &Distances| {
                let mut all = Distances::default();
                sums.boundaries.values().for_each(|distances| all.add_all(of(distances)));
                all.stated()
            };
            BuildPrediction {
                powder_depth: threshold.powder_depth,
                threshold_j_mm2: threshold.j_mm2,
                outline: sums.outline.stated(),
                boundary: total(|distances| &distances.all),
                boundary_away: total(|distances| &distances.away),
                parts: parts(build, &sums.boundaries),
                proposed_offsets: proposals(build, beam, assumed, threshold.j_mm2),
                findings: tracks.findings(threshold.powder_depth.word(), |row| build.named(row)),
            }
        });
        BuildDose {
            layers,
            looked_at: self.looked_at,
            used: self.used,
            beam_radius_mm: assumed.beam_radius_mm,
            recipe: assumed.recipe.clone(),
            contours: self.contours,
            predictions: predictions.collect(),
        }
    }
}

/// The boundaries of all copies of each part together, in the order of the job.
fn parts(build: &Build, boundaries: &BTreeMap<usize, BoundaryDistances>) -> Vec<PartBoundary> {
    let mut by_part: BTreeMap<usize, (String, BoundaryDistances)> = BTreeMap::new();
    for (&row, distances) in boundaries {
        let placement = build.named(row);
        let new = || (placement.name.part.clone(), BoundaryDistances::default());
        by_part.entry(placement.id.part).or_insert_with(new).1.add(distances);
    }
    let stated = by_part.into_values().filter_map(|(part, distances)| {
        let (worst_mm, worst_at_mm) = distances.worst.unzip();
        let boundary_away = distances.away.stated()?;
        Some(PartBoundary { part, boundary_away, worst_mm, worst_at_mm })
    });
    stated.collect()
}
