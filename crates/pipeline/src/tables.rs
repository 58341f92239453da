//! The tables of a build's vector file.

use crate::exposures::Exposures;
use crate::load::Loaded;
use crate::posed::Placed;
use job::Placement;
use scan_path::{Header, PartRow, PlacementRow};

/// The tables of a job, still without placements and layers.
pub(crate) fn header(loaded: &Loaded, exposures: &Exposures) -> Header {
    let recipe = &loaded.recipes[0].recipe;
    let parts = loaded.job.parts.iter().map(|part| PartRow { name: part.name.clone() });
    Header {
        generator: concat!("Hatchwright ", env!("CARGO_PKG_VERSION")).to_owned(),
        job_name: loaded.job.name.clone(),
        machine_name: loaded.machine.name.clone(),
        build_space_mm: loaded.machine.build_space_mm,
        spreading_direction_deg: Some(loaded.machine.spreading_direction_deg),
        jump_speed_mm_s: loaded.machine.scan_head.jump_speed_mm_s,
        layer_thickness_mm: recipe.layer_thickness_mm,
        layer_count: 0,
        parts: parts.collect(),
        placements: Vec::new(),
        exposures: exposures.rows.clone(),
    }
}

/// The row of a placement that stands where the job says.
#[expect(clippy::cast_possible_truncation, reason = "parts and copies come from a file")]
pub(crate) fn placement_row(placed: &Placed, placement: &Placement) -> PlacementRow {
    let (low, high) = placed.posed.bounds_mm;
    PlacementRow {
        part: placed.id.part as u32,
        copy: Some(placed.id.copy as u32 + 1),
        location_mm: placement.location_mm,
        rotation_deg: placement.rotation_deg,
        bounds_mm: Some([low, high]),
    }
}
