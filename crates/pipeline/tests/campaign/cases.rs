//! Jobs to be written and mutated: every recipe with every part.

use super::parts::{obj, parts};
use base::{Progress, Unit};
use job::recipe::{
    CellOrder, ContourOrder, ContourPass, ForbiddenAngles, HatchPass, Pattern, Travel,
};
use job::{Job, NextPart, PartOrder, Recipe, Rounds};
use mesh::Mesh;
use pipeline::{Build, Loaded, load_machine_file, load_part_mesh, load_recipe_file};
use scan_path::{Header, Layer};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A job, and the vectors that the program makes of it.
pub(crate) struct Case {
    pub(crate) name: String,
    pub(crate) build: Build,
    pub(crate) header: Header,
    pub(crate) layers: Vec<Layer>,
    /// The same without growth in Z, where the recipe has any.
    pub(crate) ungrown: Option<Vec<Layer>>,
}

fn assets() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets")
}

/// The recipes: those that come with the program, and variants of them with what they lack.
fn recipes() -> Vec<(&'static str, Recipe)> {
    let of = |name: &str| {
        load_recipe_file(&assets().join("recipes").join(name).with_extension("ron")).unwrap()
    };
    let hatch =
        |recipe: &mut Recipe, pattern| recipe.core.hatch.as_mut().unwrap().pattern = pattern;
    let mut stripes = of("pa12");
    hatch(&mut stripes, Pattern::Stripes { width_mm: 1.5, overlap_mm: 0.15 });
    stripes.down_facing = None;
    let mut cells = of("pa12_glass");
    hatch(&mut cells, Pattern::Cells { size_mm: 1.3, overlap_mm: 0.1, order: CellOrder::RowByRow });
    let forbidden = Some(ForbiddenAngles { within_deg: 40.0 });
    cells.core.hatch.as_mut().unwrap().forbidden = forbidden;
    cells.z_growth_mm = 0.0;
    let mut rings = of("pa12_fine");
    let contours = rings.core.contours.as_mut().unwrap();
    (contours.count, contours.order) = (3, ContourOrder::InsideOut);
    contours.exposures = vec!["contour".to_owned(), "thin wall".to_owned()];
    let deeper = |deeper_by_mm| ContourPass { exposure: "hatch".to_owned(), deeper_by_mm };
    contours.further_passes = vec![deeper(0.07), deeper(-0.05)];
    let mut edges = of("pa12");
    if let Some(down) = &mut edges.down_facing {
        down.strategy.contours.as_mut().unwrap().exposures = vec!["hatch".to_owned()];
    }
    let mut bare = of("pa12_fine");
    bare.core.contours = None;
    let hatch = bare.core.hatch.as_mut().unwrap();
    (hatch.travel, hatch.every_nth_layer) = (Travel::OneWay, 2);
    hatch.exposures = vec!["hatch".to_owned(), "contour".to_owned()];
    let mut passes = of("pa12");
    let hatch = passes.core.hatch.as_mut().unwrap();
    hatch.further_passes = ["hatch", "contour"]
        .into_iter()
        .zip([(0.3, 90.0), (0.17, 31.0)])
        .map(|(exposure, (spacing_mm, rotated_by_deg))| {
            let exposure = exposure.to_owned();
            HatchPass { exposure, spacing_mm, rotated_by_deg }
        })
        .collect();
    vec![
        ("passes", passes),
        ("pa12", of("pa12")),
        ("pa11", of("pa11")),
        ("tpu", of("tpu")),
        ("glass", of("pa12_glass")),
        ("fine", of("pa12_fine")),
        ("stripes", stripes),
        ("cells", cells),
        ("rings", rings),
        ("bare", bare),
        ("edges", edges),
    ]
}

/// All cases: two parts in each job, three jobs for each recipe.
pub(crate) fn cases() -> Vec<Case> {
    let parts = parts();
    let jobs = recipes().into_iter().flat_map(|(name, recipe)| {
        parts.chunks(2).map(move |pair| case(name, &recipe, pair)).collect::<Vec<_>>()
    });
    jobs.collect()
}

fn case(recipe_name: &str, recipe: &Recipe, pair: &[(&str, Mesh)]) -> Case {
    let order = part_order(recipe_name);
    let build = build(recipe, pair, order);
    let layers = layers(&build);
    let ungrown = (recipe.z_growth_mm > 0.0).then(|| {
        let recipe = Recipe { z_growth_mm: 0.0, ..recipe.clone() };
        self::layers(&self::build(&recipe, pair, order))
    });
    let name = format!("{recipe_name}, {} and {}", pair[0].0, pair[1].0);
    Case { name, header: build.header.clone(), build, layers, ungrown }
}

fn layers(build: &Build) -> Vec<Layer> {
    let layer = |k| build.layer(k, &Progress::default()).unwrap().layer;
    (0..build.layer_count()).map(layer).collect()
}

/// Each order of parts with some recipe.
fn part_order(recipe_name: &str) -> PartOrder {
    let (rounds, next) = match recipe_name {
        "passes" => (Rounds::KindAfterKind, NextPart::Rotating),
        "rings" => (Rounds::PartAfterPart, NextPart::AsListed),
        "stripes" => (Rounds::KindAfterKind, NextPart::Nearest),
        "cells" => (Rounds::PartAfterPart, NextPart::Rotating),
        _ => (Rounds::PartAfterPart, NextPart::Nearest),
    };
    PartOrder { rounds, next }
}

/// Two parts side by side; tubes lie askew.
fn build(recipe: &Recipe, pair: &[(&str, Mesh)], part_order: PartOrder) -> Build {
    let folder = tempfile::tempdir().unwrap();
    let rows = pair.iter().zip([-11.0, 11.0]).map(|((name, mesh), x)| {
        std::fs::write(folder.path().join(format!("{name}.obj")), obj(mesh)).unwrap();
        let (z, a) = if *name == "tube" { (1.8, 35) } else { (0.65, 0) };
        let placement = format!("(location_mm: ({x}, 1.3, {z}), rotation_deg: ({a}, 0, 12))");
        format!("(name: \"{name}\", mesh: \"{name}.obj\", placements: [{placement}])")
    });
    let rows = rows.collect::<Vec<_>>().join(", ");
    let text = format!(
        "(version: 2, name: \"campaign\", machine: \"m.ron\", recipe: \"r.ron\", parts: [{rows}])"
    );
    let mut job = Job::from_ron(&text).unwrap();
    job.part_order = part_order;
    job.parts.iter_mut().for_each(|part| part.unit = Some(Unit::Millimetre));
    let machine = load_machine_file(&assets().join("machines/bench_co2_30w.ron")).unwrap();
    let progress = Progress::default();
    let loaded = Loaded::assemble(
        job,
        machine,
        |_| Ok(recipe.clone()),
        |part| load_part_mesh(folder.path(), part, &progress).map(Arc::new),
    );
    Build::new(loaded.unwrap(), &progress).unwrap()
}
