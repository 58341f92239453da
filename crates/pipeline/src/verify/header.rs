//! The tables of the file against the job: compared with what the job, the machine and the recipes
//! say. Of the tables that the writer makes, only what melts, times and head, and the names of walls' rows are taken.

use super::rows::{OwnExposure, is_near, own_exposures};
use super::runs::{by_head, of_walls};
use crate::build::Build;
use crate::posed::Placed;
use crate::tables::{head_row, melt_row, times_row};
use base::Finding;
use base::finding::VectorsProblem;
use job::recipe::Exposure;
use job::{Machine, Placement, Recipe};
use scan_path::{ExposureRow, Header, MeltRow, PlacementRow};
use std::fmt::Debug;

/// Differences between the file's tables and the job.
pub(super) fn header_faults(file: &Header, build: &Build) -> Vec<Finding> {
    let mut faults = Faults::default();
    let (machine, recipes) = (&build.loaded.machine, &build.loaded.recipes);
    let thickness = recipes[0].recipe.layer_thickness_mm;
    let job = &build.loaded.job;
    let parts = |names: &mut dyn Iterator<Item = &String>| {
        names.map(|name| format!("{name:?}")).collect::<Vec<_>>().join(", ")
    };
    faults.compare("name of the job", &file.job_name, &job.name);
    faults.compare("name of the machine", &file.machine_name, &machine.name);
    faults.differ(
        "parts",
        parts(&mut file.parts.iter().map(|part| &part.name)),
        parts(&mut job.parts.iter().map(|part| &part.name)),
    );
    faults.compare(
        "spreading direction",
        &file.spreading_direction_deg,
        &Some(machine.spreading_direction_deg),
    );
    faults.compare("number of layers", &file.layer_count, &build.layer_count());
    faults.compare("layer thickness", &file.layer_thickness_mm, &thickness);
    faults.compare("build space", &file.build_space_mm, &machine.build_space_mm);
    faults.compare("jump speed", &file.jump_speed_mm_s, &machine.scan_head.jump_speed_mm_s);
    if let Some(radius) = file.beam_radius_mm {
        faults.compare("beam radius", &radius, &machine.laser.spot_radius_mm);
    }
    // Version 2 had neither at first.
    if file.times.is_some() {
        faults.compare("times of the machine", &file.times, &Some(times_row(machine)));
        faults.compare("head", &file.head, &machine.head.as_ref().map(head_row));
    }
    if !file.melt.is_empty() {
        let of_job = recipes.iter().map(|entry| melt_row(&entry.recipe));
        faults.differ("energy that melts", melts(file.melt.iter().cloned()), melts(of_job));
    }
    faults.compare("number of placements", &file.placements.len(), &build.placed.len());
    for (row, placed) in file.placements.iter().zip(&build.placed) {
        let placement = &build.loaded.job.parts[placed.id.part].placements[placed.id.copy];
        faults.differ("placement", stated(row), wanted(placed, placement, row.copy.is_some()));
    }
    exposure_faults(file, build, &mut faults);
    faults.found
}

/// What the file was made from and is not as it was: it need not matter, since vectors and tables are compared
/// with what there is now, but the person may have meant another state of it.
pub(super) fn sources_changed(file: &Header, build: &Build) -> Option<Finding> {
    let changed = file.made_from.as_ref()?.changed_in(build.header.made_from.as_ref()?);
    let what = changed.join(", ");
    (!changed.is_empty()).then(|| Finding::new(VectorsProblem::SourcesChanged { what }))
}

/// The exposure table: named exposures of the recipes, what placements have otherwise, those of walls.
fn exposure_faults(file: &Header, build: &Build, faults: &mut Faults) {
    let recipes = &build.loaded.recipes;
    let machine = &build.loaded.machine;
    let of_recipe = |recipe: &'_ Recipe| -> Vec<String> {
        let wanted = |e: &Exposure| wanted_exposure(&recipe.name, &by_head(machine, e), None);
        recipe.exposures.iter().map(wanted).collect()
    };
    let of_recipes: Vec<_> = recipes.iter().flat_map(|entry| of_recipe(&entry.recipe)).collect();
    let own = own_exposures(build);
    let count = of_recipes.len() + own.len();
    let (named, walls) = file.exposures.split_at(count.min(file.exposures.len()));
    faults.compare("number of named exposures", &named.len(), &count);
    let names = |rows: &[ExposureRow]| rows.iter().map(|row| row.name.clone()).collect::<Vec<_>>();
    let of_build = build.header.exposures.get(count..).unwrap_or_default();
    faults.compare("exposures of walls", &names(walls), &names(of_build));
    for row in walls {
        let wanted = wanted_wall(row, named, build);
        faults.differ("exposure of walls", stated_exposure(row, ""), wanted);
    }
    for (row, wanted) in named.iter().zip(&of_recipes) {
        faults.differ("exposure", stated_exposure(row, ""), wanted.clone());
    }
    for (row, own) in named.iter().skip(of_recipes.len()).zip(&own) {
        let stated = stated_exposure(row, &own.exposure.name);
        faults.differ("exposure", stated, wanted_own(row, own, machine));
    }
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
    let corner = |[x, y, z]: [f64; 3]| format!("({x:.4}, {y:.4}, {z:.4})");
    format!(
        "part {}{copy} at ({x}, {y}, {z}) mm, rotated ({a}, {b}, {c})°, from {} to {} mm",
        part + 1,
        corner(low),
        corner(high)
    )
}

/// An exposure of walls as it should be: one of the others with the energy per length that its name tells,
/// a power of 1.1 times that; by less power, or by less speed where the machine has no more power.
fn wanted_wall(row: &ExposureRow, named: &[ExposureRow], build: &Build) -> String {
    let most_w = build.loaded.machine.laser.max_power_w;
    let Some((name, factor)) = row.name.rsplit_once(" × ") else {
        return "an exposure with a factor in its name".to_owned();
    };
    let of = named.iter().find(|other| (&*other.name, &*other.recipe) == (name, &*row.recipe));
    let steps = (-40..=40).map(|step| 1.1_f64.powi(step));
    let factor = steps.into_iter().find(|known| format!("{known:.2}") == factor);
    let Some((of, factor)) = of.zip(factor) else {
        return "one of the named exposures times a power of 1.1".to_owned();
    };
    let power_w = (of.power_w * factor).min(most_w);
    let speed_mm_s = of.speed_mm_s * (power_w / (of.power_w * factor));
    let is_right = is_near(row.power_w, power_w) && is_near(row.speed_mm_s, speed_mm_s);
    let [power_w, speed_mm_s] =
        if is_right { [row.power_w, row.speed_mm_s] } else { [power_w, speed_mm_s] };
    let [run_in_mm, run_out_mm] = of_walls(build, of, speed_mm_s);
    let numbers = [power_w, speed_mm_s, run_in_mm, run_out_mm];
    exposure(&row.name, &of.recipe, numbers, of.power_factor)
}

/// An exposure that a placement has otherwise, with the numbers of the row where they are right but for
/// rounding.
fn wanted_own(row: &ExposureRow, own: &OwnExposure<'_>, machine: &Machine) -> String {
    let mut wanted = own.exposure.clone();
    if own.has_numbers_of(row) {
        (wanted.power_w, wanted.speed_mm_s) = (row.power_w, row.speed_mm_s);
    }
    wanted_exposure(&own.recipe.name, &by_head(machine, &wanted), own.power_factor)
}

/// An exposure as the file states it; its name as the job has it, if it only has a number more.
fn stated_exposure(row: &ExposureRow, wanted: &str) -> String {
    let numbered = row.name.strip_prefix(wanted).and_then(|rest| rest.strip_prefix(' '));
    let is_numbered = numbered.is_some_and(|number| number.parse::<u32>().is_ok());
    exposure(
        if is_numbered { wanted } else { &row.name },
        &row.recipe,
        [row.power_w, row.speed_mm_s, row.path_run_in_mm, row.path_run_out_mm],
        row.power_factor,
    )
}

fn wanted_exposure(recipe: &str, of_job: &Exposure, power_factor: Option<f64>) -> String {
    let Exposure { power_w, speed_mm_s, path_run_in_mm, path_run_out_mm, .. } = *of_job;
    let numbers = [power_w, speed_mm_s, path_run_in_mm, path_run_out_mm];
    exposure(&of_job.name, recipe, numbers, power_factor)
}

fn exposure(name: &str, recipe: &str, numbers: [f64; 4], power_factor: Option<f64>) -> String {
    let [power_w, speed_mm_s, path_run_in_mm, path_run_out_mm] = numbers;
    let factor = power_factor.map_or(String::new(), |factor| format!(", power factor {factor}"));
    format!(
        "{name} of {recipe} with {power_w} W, {speed_mm_s} mm/s, run-in {path_run_in_mm} mm, run-out \
         {path_run_out_mm} mm{factor}"
    )
}
