//! How soon the spots of a layer are heated again, and what is left of the heat at some places.

use crate::build::Build;
use crate::head::head;
use crate::layers::{ComputedLayer, LayerError};
use base::Progress;
use job::Recipe;
use motion::heat::{Conductor, rises_k};
use motion::returns::{Spot, returns};
use scan_path::{ExposureKind, Layer, RegionKind};
use serde::Serialize;
use std::collections::BTreeMap;

/// Ends of the classes of the histogram, ms; the last class is open, and what is not heated again stands apart.
const CLASSES_MS: [f64; 9] = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 1000.0];

/// J/(cm³·K) in J/(m³·K).
const PER_M3: f64 = 1e6;

/// How soon the beam comes back in a layer.
#[derive(Clone, Debug, Serialize)]
pub struct LayerHeat {
    /// Within which distance a mark heats a spot again, mm.
    pub reach_mm: f64,
    /// For each class its end, ms, and how many spots are in it; the last one has no end.
    pub histogram: Vec<(Option<f64>, u64)>,
    /// Spots that are not heated again.
    pub never: u64,
    /// The soonest of each placement, kind of mark and region, in order of the layer.
    pub soonest: Vec<Soonest>,
    /// Asked places, mm, and how much hotter they are than the bed at the end of the layer, K.
    pub rises: Vec<([f64; 2], f64)>,
}

/// The spots of one kind that are heated again.
#[derive(Clone, Debug, Serialize)]
pub struct Soonest {
    /// Of which placement.
    pub placement: String,
    /// Along what, and where.
    pub kind: String,
    /// The least time until it is heated again, ms.
    pub after_ms: f64,
    /// Where, mm.
    pub at_mm: [f64; 2],
    /// How many spots come below the limit of the recipe, if it has one.
    pub below_limit: Option<u64>,
    /// That limit, ms.
    pub limit_ms: Option<f64>,
}

/// How soon spots of a layer are heated again by marks within the beam's radius, and the rise at some places when
/// the layer ends, in a bed of a conductivity, W/(m·K), with capacity and density of the job's own recipe.
///
/// # Errors
/// If the layer cannot be computed.
pub fn layer_heat(
    build: &Build,
    index: u32,
    (places_mm, conductivity_w_m_k): (&[[f64; 2]], f64),
    progress: &Progress,
) -> Result<LayerHeat, LayerError> {
    let layer = build.layer(index, progress)?.layer;
    let head = head(&build.loaded.machine);
    let reach_mm = build.loaded.machine.laser.spot_radius_mm;
    let spots = returns(&layer, &build.header, head.as_ref(), reach_mm);
    let mut counts = [0; CLASSES_MS.len() + 1];
    let again: Vec<(f64, &Spot)> =
        spots.iter().filter_map(|spot| Some((spot.again_after_s? * 1e3, spot))).collect();
    for (after_ms, _) in &again {
        counts[CLASSES_MS.partition_point(|end| end <= after_ms)] += 1;
    }
    let ends = CLASSES_MS.iter().copied().map(Some).chain([None]);
    let end_s = motion::layer_time(&layer, &build.header, head.as_ref()).total_s();
    let bed = bed(&build.loaded.recipes[0].recipe, conductivity_w_m_k);
    let absorbed = build.loaded.recipes[0].recipe.material.absorbed_fraction;
    let of = (&layer, &build.header, head.as_ref());
    let rises = rises_k(of, (bed, absorbed, reach_mm), places_mm, end_s);
    Ok(LayerHeat {
        reach_mm,
        histogram: ends.zip(counts).collect(),
        never: (spots.len() - again.len()) as u64,
        soonest: soonest(build, &layer, &again),
        rises: places_mm.iter().copied().zip(rises).collect(),
    })
}

impl Build {
    /// Reports the spots of a layer that are heated again sooner than their recipe wants. Costs nothing where no
    /// recipe names a time; else several times as much as to compute the layer, some 3 µs a spot.
    pub(crate) fn watch_returns(&self, computed: &mut ComputedLayer) {
        let limits_ms: Vec<Option<f64>> =
            self.placed.iter().map(|placed| self.recipe(placed).shortest_return_ms).collect();
        if limits_ms.iter().all(Option::is_none) {
            return;
        }
        let ComputedLayer { layer, report } = computed;
        let reach_mm = self.loaded.machine.laser.spot_radius_mm;
        let head = head(&self.loaded.machine);
        let z_mm = self.height_mm(layer.index);
        for spot in returns(layer, &self.header, head.as_ref(), reach_mm) {
            let Some(block) = layer.blocks.get(spot.block as usize) else { continue };
            let limit_ms = limits_ms.get(block.placement as usize).copied().flatten();
            let after_ms = spot.again_after_s.map(|s| s * 1e3);
            let Some((after_ms, limit_ms)) = after_ms.zip(limit_ms) else { continue };
            if after_ms < limit_ms {
                let [x, y] = spot.at_mm;
                let at = (block.placement, layer.index);
                report.add_reheated(at, (after_ms, reach_mm), [x, y, z_mm]);
            }
        }
    }
}

fn bed(recipe: &Recipe, conductivity_w_m_k: f64) -> Conductor {
    let material = &recipe.material;
    let capacity = material.bed_density_g_cm3 * material.heat_capacity_j_g_k * PER_M3;
    Conductor { conductivity_w_m_k, diffusivity_m2_s: conductivity_w_m_k / capacity }
}

fn soonest(build: &Build, layer: &Layer, again: &[(f64, &Spot)]) -> Vec<Soonest> {
    let mut found: BTreeMap<(u32, ExposureKind, RegionKind), Soonest> = BTreeMap::new();
    for (after_ms, spot) in again {
        let Some(block) = layer.blocks.get(spot.block as usize) else { continue };
        let limit_ms = build.recipe(&build.placed[block.placement as usize]).shortest_return_ms;
        let entry = found.entry((block.placement, block.kind, block.region)).or_insert_with(|| {
            let kind = match block.kind {
                ExposureKind::Contour => "contours",
                ExposureKind::Hatch => "hatch",
                ExposureKind::Centreline => "lines along walls",
            };
            let region = match block.region {
                RegionKind::Core => "core",
                RegionKind::UpFacing => "up-facing",
                RegionKind::DownFacing => "down-facing",
            };
            Soonest {
                placement: build.header.placement_name(block.placement),
                kind: format!("{kind}, {region}"),
                after_ms: f64::INFINITY,
                at_mm: spot.at_mm,
                below_limit: limit_ms.map(|_| 0),
                limit_ms,
            }
        });
        if *after_ms < entry.after_ms {
            (entry.after_ms, entry.at_mm) = (*after_ms, spot.at_mm);
        }
        if let Some((count, limit_ms)) = entry.below_limit.as_mut().zip(limit_ms) {
            *count += u64::from(*after_ms < limit_ms);
        }
    }
    found.into_values().collect()
}
