//! The tables of the file against the job: compared with what the job, the machine and the recipes
//! say, not with the tables that a writer would make of them.

use crate::build::Build;
use crate::posed::Placed;
use crate::tables::melt_row;
use base::Finding;
use base::finding::VectorsProblem;
use job::Placement;
use job::recipe::Exposure;
use scan_path::{ExposureRow, Header, MeltRow, PlacementRow};
use std::fmt::Debug;

/// Differences between the file's tables and the job.
pub(super) fn header_faults(file: &Header, build: &Build) -> Vec<Finding> {
    let mut faults = Faults::default();
    let (machine, recipes) = (&build.loaded.machine, &build.loaded.recipes);
    let thickness = recipes[0].recipe.layer_thickness_mm;
    let exposures: Vec<(&str, &Exposure)> = recipes
        .iter()
        .flat_map(|entry| entry.recipe.exposures.iter().map(|e| (entry.recipe.name.as_str(), e)))
        .collect();
    faults.compare("number of layers", &file.layer_count, &build.layer_count());
    faults.compare("layer thickness", &file.layer_thickness_mm, &thickness);
    faults.compare("build space", &file.build_space_mm, &machine.build_space_mm);
    faults.compare("jump speed", &file.jump_speed_mm_s, &machine.scan_head.jump_speed_mm_s);
    if let Some(radius) = file.beam_radius_mm {
        faults.compare("beam radius", &radius, &machine.laser.spot_radius_mm);
    }
    if !file.melt.is_empty() {
        let of_job = recipes.iter().map(|entry| melt_row(&entry.recipe));
        faults.differ("energy that melts", melts(file.melt.iter().cloned()), melts(of_job));
    }
    faults.compare("number of placements", &file.placements.len(), &build.placed.len());
    faults.compare("number of exposures", &file.exposures.len(), &exposures.len());
    for (row, placed) in file.placements.iter().zip(&build.placed) {
        let placement = &build.loaded.job.parts[placed.id.part].placements[placed.id.copy];
        faults.differ("placement", stated(row), wanted(placed, placement, row.copy.is_some()));
    }
    for (row, (recipe, exposure)) in file.exposures.iter().zip(exposures) {
        faults.differ("exposure", stated_exposure(row), wanted_exposure(recipe, exposure));
    }
    faults.found
}

#[derive(Default)]
struct Faults {
    found: Vec<Finding>,
}

impl Faults {
    fn compare<T: Debug>(&mut self, what: &str, file: &T, job: &T) {
        self.differ(what, format!("{file:?}"), format!("{job:?}"));
    }

    fn differ(&mut self, what: &str, file: String, job: String) {
        if file != job {
            let what = what.to_owned();
            self.found.push(Finding::new(VectorsProblem::HeaderDiffers { what, file, job }));
        }
    }
}

/// What melts the powder of each recipe.
fn melts(rows: impl Iterator<Item = MeltRow>) -> String {
    let words = rows.map(|MeltRow { recipe, nominal_j_mm2, steady_j_mm2 }| {
        format!("{nominal_j_mm2} J/mm² (steady: {steady_j_mm2} J/mm²) for {recipe}")
    });
    words.collect::<Vec<_>>().join(", ")
}

/// A placement as the file states it.
fn stated(row: &PlacementRow) -> String {
    let bounds = row.bounds_mm.unwrap_or_default();
    let copy = row.copy.map(|copy| copy as usize);
    placement(row.part as usize, copy, row.location_mm, row.rotation_deg, bounds)
}

/// The same as the job has it; a file of the first version does not know which copy it is.
fn wanted(placed: &Placed, of_job: &Placement, knows_copy: bool) -> String {
    let (low, high) = placed.posed.bounds_mm;
    let copy = knows_copy.then_some(placed.id.copy + 1);
    placement(placed.id.part, copy, of_job.location_mm, of_job.rotation_deg, [low, high])
}

fn placement(
    part: usize,
    copy: Option<usize>,
    [x, y, z]: [f64; 3],
    [a, b, c]: [f64; 3],
    [low, high]: [[f64; 3]; 2],
) -> String {
    let copy = copy.map_or(String::new(), |copy| format!(" copy {copy}"));
    let [dx, dy, dz] = [0, 1, 2].map(|k| high[k] - low[k]);
    format!(
        "part {}{copy} at ({x}, {y}, {z}) mm, rotated ({a}, {b}, {c})°, {dx:.4} × {dy:.4} × \
         {dz:.4} mm",
        part + 1
    )
}

fn stated_exposure(row: &ExposureRow) -> String {
    exposure(
        &row.name,
        &row.recipe,
        [row.power_w, row.speed_mm_s, row.path_run_in_mm, row.path_run_out_mm],
    )
}

fn wanted_exposure(recipe: &str, of_job: &Exposure) -> String {
    let Exposure { power_w, speed_mm_s, path_run_in_mm, path_run_out_mm, .. } = *of_job;
    exposure(&of_job.name, recipe, [power_w, speed_mm_s, path_run_in_mm, path_run_out_mm])
}

fn exposure(name: &str, recipe: &str, numbers: [f64; 4]) -> String {
    let [power_w, speed_mm_s, path_run_in_mm, path_run_out_mm] = numbers;
    format!(
        "{name} of {recipe} with {power_w} W, {speed_mm_s} mm/s, run-in {path_run_in_mm} mm, run-out \
         {path_run_out_mm} mm"
    )
}
