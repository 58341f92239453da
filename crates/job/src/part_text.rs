//! How a part stands in the job file: what a placement changes of the recipe stands beside its location,
//! while in memory placements are plain poses.

use crate::{Acceptance, ExposureChange, NestRules, PartEntry, Placement};
use base::Unit;
use serde::{Deserialize, Serialize};

/// A part, field by field as [`PartEntry`] has it.
#[derive(Serialize, Deserialize)]
#[serde(rename = "PartEntry", deny_unknown_fields)]
pub(crate) struct PartText {
    name: String,
    mesh: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    object: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    unit: Option<Unit>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    recipe: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    nest: Option<NestRules>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    accepted: Vec<Acceptance>,
    #[serde(default)]
    placements: Vec<PlacementText>,
}

/// A placement with what it changes of the recipe.
#[derive(Serialize, Deserialize)]
#[serde(rename = "Placement", deny_unknown_fields)]
struct PlacementText {
    location_mm: [f64; 3],
    #[serde(default)]
    rotation_deg: [f64; 3],
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    exposures: Vec<ExposureChange>,
}

impl From<PartText> for PartEntry {
    fn from(text: PartText) -> Self {
        let PartText { name, mesh, object, unit, recipe, nest, accepted, placements } = text;
        let poses = placements.iter().map(|placement| Placement {
            location_mm: placement.location_mm,
            rotation_deg: placement.rotation_deg,
        });
        let poses = poses.collect();
        let changes = placements.into_iter().map(|placement| placement.exposures);
        let changes = changes.enumerate().filter(|(_, changes)| !changes.is_empty()).collect();
        Self {
            name,
            mesh,
            object,
            unit,
            recipe,
            nest,
            placements: poses,
            exposure_changes: changes,
            accepted,
        }
    }
}

impl From<PartEntry> for PartText {
    fn from(part: PartEntry) -> Self {
        let PartEntry {
            name,
            mesh,
            object,
            unit,
            recipe,
            nest,
            placements,
            mut exposure_changes,
            accepted,
        } = part;
        let with_changes = |(copy, placement): (usize, Placement)| PlacementText {
            location_mm: placement.location_mm,
            rotation_deg: placement.rotation_deg,
            exposures: exposure_changes.remove(&copy).unwrap_or_default(),
        };
        let placements = placements.into_iter().enumerate().map(with_changes).collect();
        Self { name, mesh, object, unit, recipe, nest, accepted, placements }
    }
}
