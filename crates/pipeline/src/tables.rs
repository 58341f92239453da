//! The tables of a build's vector file.

use crate::exposures::{Exposures, thresholds};
use crate::load::Loaded;
use crate::posed::Placed;
use job::machine::{BuildTimes, Head, Lens};
use job::{Machine, Placement, Recipe};
use scan_path::{
    HeadRow, Header, MadeFrom, MeltRow, PartRow, PlacementRow, SourceRow, TimesRow, sha256,
};

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
        beam_radius_mm: Some(loaded.machine.laser.spot_radius_mm),
        melt: loaded.recipes.iter().map(|entry| melt_row(&entry.recipe)).collect(),
        times: Some(times_row(&loaded.machine)),
        head: loaded.machine.head.as_ref().map(head_row),
        layer_thickness_mm: recipe.layer_thickness_mm,
        layer_count: 0,
        parts: parts.collect(),
        placements: Vec::new(),
        exposures: exposures.rows.clone(),
        left_out: Vec::new(),
        made_from: Some(made_from(loaded)),
    }
}

/// What a build is made from, as digests.
pub(crate) fn made_from(loaded: &Loaded) -> MadeFrom {
    let recipes = loaded
        .recipes
        .iter()
        .map(|entry| SourceRow { name: entry.file.clone(), sha256: sha256(entry.recipe.to_ron()) });
    let mut meshes: Vec<SourceRow> = Vec::new();
    for mesh in &loaded.meshes {
        let row = SourceRow { name: mesh.file.clone(), sha256: mesh.sha256.clone() };
        if !meshes.contains(&row) {
            meshes.push(row); // several objects of a file are meshes of their own
        }
    }
    MadeFrom {
        job: sha256(loaded.job.to_ron()),
        machine: sha256(loaded.machine.to_ron()),
        recipes: recipes.collect(),
        meshes,
    }
}

/// What takes time in a build on a machine.
pub(crate) fn times_row(machine: &Machine) -> TimesRow {
    let BuildTimes { warm_up_s, min_layer_s, cooling_s } = machine.times;
    TimesRow { recoat_s: machine.recoat_time_s, warm_up_s, min_layer_s, cooling_s }
}

/// How a machine's head moves.
pub(crate) fn head_row(head: &Head) -> HeadRow {
    HeadRow {
        acceleration_mm_s2: head.acceleration_mm_s2,
        jerk_mm_s3: head.jerk_mm_s3,
        settle_us: head.settle_us,
        lag_us: head.lag_us,
        laser_on_delay_us: head.laser_on_delay_us,
        laser_off_delay_us: head.laser_off_delay_us,
        command_rate_hz: head.command_rate_hz,
        command_bits: head.command_bits,
        distance_mm: head.distance_mm,
        mirror_separation_mm: head.mirror_separation_mm,
        has_flat_field_lens: head.lens == Lens::FlatField,
        field_size_mm: head.field_size_mm,
    }
}

/// What melts the powder of a recipe, rounded to twelve decimals: no measured energy is as exact, and
/// so few digits come back from a file as they were.
pub(crate) fn melt_row(recipe: &Recipe) -> MeltRow {
    let rounded = |j_mm2: f64| (j_mm2 * 1e12).round() / 1e12;
    let [nominal_j_mm2, steady_j_mm2] = thresholds(recipe).map(rounded);
    MeltRow { recipe: recipe.name.clone(), nominal_j_mm2, steady_j_mm2 }
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
