//! What there is to say about the dose of a layer: numbers that can be written to a file, and what a
//! picture is drawn from.

use estimate::Ring;
use region::Region;
use serde::Serialize;

/// The dose of a layer in numbers.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LayerDose {
    /// The layer.
    pub layer: u32,
    /// Radius of the beam, to 1/e², mm.
    pub beam_radius_mm: f64,
    /// The one recipe whose marks count; all when absent.
    pub recipe: Option<String>,
    /// Distance of the points of the grid that the ranges below are taken over, mm.
    pub pitch_mm: f64,
    /// The most on the grid, J/mm².
    pub most_j_mm2: f64,
    /// What the layer's hatches bring, one entry an exposure.
    pub hatches: Vec<HatchMean>,
    /// What melts, for each threshold.
    pub predictions: Vec<Prediction>,
    /// What should melt; only known with a job.
    pub section: Option<SectionDose>,
    /// The dose at the places asked for.
    pub places: Vec<PlaceDose>,
}

/// What the powder's depth is taken to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PowderDepth {
    /// One layer thickness, as on the platform or over loose powder.
    Nominal,
    /// That over fused layers once the build is under way: deeper, since each layer sinks as it melts.
    Steady,
    /// Whatever the person had in mind who stated the threshold.
    Stated,
}

impl PowderDepth {
    /// What it is called.
    pub fn word(self) -> &'static str {
        match self {
            Self::Nominal => "nominal",
            Self::Steady => "steady",
            Self::Stated => "stated",
        }
    }
}

/// The dose from which on powder melts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Threshold {
    /// How deep the powder lies.
    pub powder_depth: PowderDepth,
    /// The dose, J/mm².
    pub j_mm2: f64,
}

/// What the hatch of one exposure brings where it runs, told from its marks.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HatchMean {
    /// Name of the exposure.
    pub exposure: String,
    /// Name of its recipe.
    pub recipe: String,
    /// From line to line, mm: the median distance of neighbouring lines.
    pub spacing_mm: f64,
    /// Mean dose, J/mm²: energy per length over spacing.
    pub mean_j_mm2: f64,
}

/// Least, mean and most dose over points of a grid, J/mm².
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DoseRange {
    /// The least.
    pub least_j_mm2: f64,
    /// The mean.
    pub mean_j_mm2: f64,
    /// The most.
    pub most_j_mm2: f64,
}

/// What melts at a threshold.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Prediction {
    /// How deep the powder is taken to lie.
    pub powder_depth: PowderDepth,
    /// The dose from which on it melts, J/mm².
    pub threshold_j_mm2: f64,
    /// Closed curves that the predicted outline is made of.
    pub curves: usize,
    /// Their length, mm.
    pub outline_mm: f64,
    /// The area within them, mm².
    pub melted_mm2: f64,
    /// The dose there; absent if nothing melts.
    pub dose: Option<DoseRange>,
    /// How far the outline lies from the section; only known with a job.
    pub deviation: Option<OutlineDeviation>,
    /// Beam offsets that follow from it; only known with a job.
    pub proposed_offsets: Vec<ProposedOffset>,
}

/// How the predicted outline differs from the section.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OutlineDeviation {
    /// Mean distance from the section's boundary, mm, positive where the part gets too large; absent if
    /// nothing melts.
    pub mean_mm: Option<f64>,
    /// The distance, either way, that 95 % of the outline does not exceed, mm.
    pub p95_mm: Option<f64>,
    /// How the distances are spread over places evenly spaced along the outline.
    pub histogram: Histogram,
    /// Islands of the section in which nothing melts.
    pub vanished: Vec<Spot>,
    /// Holes of the section that melt over.
    pub filled: Vec<Spot>,
    /// Islands of the section that melt into one.
    pub merged: Vec<Gap>,
}

/// How many values lie in each of some bins.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Histogram {
    /// Where bins begin and end, rising, mm: one more than there are bins. What lies beyond counts in
    /// the outermost.
    pub edges_mm: Vec<f64>,
    /// How many values, bin by bin.
    pub counts: Vec<usize>,
}

/// An island or a hole.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Spot {
    /// Where it is widest, mm.
    pub at_mm: [f64; 2],
    /// Its width there, mm.
    pub width_mm: f64,
}

/// A gap between two islands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Gap {
    /// Where it is narrowest, mm.
    pub at_mm: [f64; 2],
    /// Its width there, mm.
    pub gap_mm: f64,
}

/// A beam offset that would make a straight boundary come out true.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProposedOffset {
    /// Name of the recipe.
    pub recipe: String,
    /// The proposal, mm; absent if nothing melts.
    pub proposed_mm: Option<f64>,
    /// What the recipe has, mm.
    pub of_recipe_mm: f64,
}

/// The section, and the dose in it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SectionDose {
    /// Its area, mm².
    pub area_mm2: f64,
    /// The dose there; absent where no point of the grid lies in it.
    pub dose: Option<DoseRange>,
}

/// The dose at a place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PlaceDose {
    /// The place, mm.
    pub at_mm: [f64; 2],
    /// The dose, J/mm².
    pub dose_j_mm2: f64,
}

/// What a picture of the dose is drawn from.
#[derive(Clone, Debug)]
pub struct DoseDrawing {
    /// The dose.
    pub raster: Raster,
    /// The predicted outline for each threshold.
    pub outlines: Vec<Vec<Ring>>,
    /// What should melt; empty where it is not known.
    pub section: Region,
}

/// Doses pixel by pixel, row by row upwards.
#[derive(Clone, Debug, PartialEq)]
pub struct Raster {
    /// Pixels along X.
    pub columns: usize,
    /// Pixels along Y.
    pub rows: usize,
    /// Side of a pixel, mm.
    pub pixel_mm: f64,
    /// Lower left corner of the first pixel, mm.
    pub corner_mm: [f64; 2],
    /// The mean dose of the grid's points in each pixel, J/mm².
    pub dose: Vec<f64>,
}
