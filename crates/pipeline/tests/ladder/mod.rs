//! A ladder of walls, straight and curved, taken through the whole chain: from a mesh to vectors to
//! the dose that they leave across each wall.

use base::{Progress, Unit};
use estimate::DoseField;
use job::{Job, Recipe};
use pipeline::{Build, Loaded, load_machine_file, load_part_mesh, load_recipe_file, strokes};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Length of a wall, mm.
const LENGTH: f64 = 12.0;
/// Height of a wall, mm: its middle layers face no powder.
const HEIGHT: f64 = 1.2;

/// So many places are looked at across a wall.
const PLACES: u32 = 300;

/// The middle of a wall, as a curve.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Shape {
    /// Straight, turned by an angle, degrees.
    Straight(f64),
    /// An arc with this radius of its middle, mm.
    Curved(f64),
}

/// What the dose across a wall says, over all stations and layers looked at.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Rung {
    /// Narrowest and widest predicted width, mm.
    pub(crate) melted_mm: [f64; 2],
    /// Least dose deeper than 20 µm inside the wall, over the threshold.
    pub(crate) least: f64,
    /// Most dose over the hatch's mean.
    pub(crate) most: f64,
    /// Mean dose between the contours over the hatch's mean, by layer: least and most.
    pub(crate) core: [f64; 2],
}

fn assets() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets")
}

pub(crate) fn recipe(name: &str) -> Recipe {
    load_recipe_file(&assets().join("recipes").join(name).with_extension("ron")).unwrap()
}

/// Point and normal of the middle at a place along it, from −1 to 1 over its length.
fn station(shape: Shape, along: f64) -> ([f64; 2], [f64; 2]) {
    match shape {
        Shape::Straight(degrees) => {
            let (sin, cos) = degrees.to_radians().sin_cos();
            let s = along * LENGTH / 2.0;
            ([s * cos, s * sin], [-sin, cos])
        }
        Shape::Curved(radius) => {
            let angle = along * (LENGTH / 2.0 / radius).min(2.4);
            let (sin, cos) = angle.sin_cos();
            ([radius * (cos - 0.6), radius * sin], [cos, sin])
        }
    }
}

/// A wall as the text of an OBJ file.
fn wall(shape: Shape, width: f64) -> String {
    let pieces = match shape {
        Shape::Straight(_) => 1,
        Shape::Curved(_) => 240,
    };
    let mut text = String::new();
    for i in 0..=pieces {
        let along = -1.0 + 2.0 * f64::from(i) / f64::from(pieces);
        let ([x, y], [nx, ny]) = station(shape, along);
        for (side, z) in [(-0.5, 0.0), (0.5, 0.0), (0.5, HEIGHT), (-0.5, HEIGHT)] {
            let (x, y) = (x + side * width * nx, y + side * width * ny);
            writeln!(text, "v {x:.9} {y:.9} {z}").unwrap();
        }
    }
    for i in 0..pieces {
        for k in 0..4 {
            let (a, b) = (4 * i + k + 1, 4 * i + (k + 1) % 4 + 1);
            writeln!(text, "f {a} {} {} {b}", a + 4, b + 4).unwrap();
        }
    }
    let last = 4 * pieces;
    writeln!(text, "f 1 2 3 4\nf {} {} {} {}", last + 4, last + 3, last + 2, last + 1).unwrap();
    text
}

fn build(recipe: &Recipe, shape: Shape, width: f64) -> Build {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("wall.obj"), wall(shape, width)).unwrap();
    let text = "(version: 3, name: \"ladder\", machine: \"m.ron\", recipe: \"r.ron\", parts: [(name: \
                \"wall\", mesh: \"wall.obj\", placements: [(location_mm: (0, 0, 2))])])";
    let mut job = Job::from_ron(text).unwrap();
    job.parts[0].unit = Some(Unit::Millimetre);
    let machine = load_machine_file(&assets().join("machines/bench_co2_30w.ron")).unwrap();
    let progress = Progress::default();
    let mesh = |part: &_| load_part_mesh(folder.path(), part, &progress).map(Arc::new);
    let loaded = Loaded::assemble(job, machine, |_| Ok(recipe.clone()), mesh).unwrap();
    Build::new(loaded, &progress).unwrap()
}

/// Takes one wall through the chain. The recipe's shrinkage is left out, so that wall and melt compare.
pub(crate) fn climb(recipe: &Recipe, shape: Shape, width_mm: f64) -> Rung {
    let recipe = Recipe { shrinkage_percent: [0.0; 3], ..recipe.clone() };
    let build = build(&recipe, shape, width_mm);
    let melt = build.melt(0);
    let (threshold, mean) = (melt.threshold_j_mm2, recipe.area_energy_j_mm2(&recipe.core).unwrap());
    let first = build.layer_count() - 7;
    let mut rung =
        Rung { melted_mm: [f64::MAX, 0.0], least: f64::MAX, most: 0.0, core: [f64::MAX, 0.0] };
    // the middle of the mesh's bounds stands at the origin
    let centre = match shape {
        Shape::Straight(_) => [0.0, 0.0],
        Shape::Curved(_) => middle_of_bounds(shape, width_mm),
    };
    for layer in first..first + 4 {
        let layer = build.layer(layer, &Progress::default()).unwrap().layer;
        let field =
            DoseField::new(&strokes(&layer.blocks, &build.header.exposures), melt.beam).unwrap();
        let (mut core_sum, mut core_count) = (0.0, 0);
        for station_at in 0..41 {
            let (at, normal) = station(shape, 0.7 * (f64::from(station_at) / 20.0 - 1.0));
            let dose =
                |across: f64| field.at([0, 1].map(|k| at[k] - centre[k] + across * normal[k]));
            let edges =
                [-1.0, 1.0].map(|side| edge(|depth| dose(side * depth), width_mm, threshold));
            let melted = edges[0] + edges[1];
            rung.melted_mm = [rung.melted_mm[0].min(melted), rung.melted_mm[1].max(melted)];
            for step in 0..=PLACES {
                let across = width_mm * (f64::from(step) / f64::from(PLACES) - 0.5);
                let (here, depth) = (dose(across), width_mm / 2.0 - across.abs());
                rung.most = rung.most.max(here / mean);
                if depth >= 0.02 {
                    rung.least = rung.least.min(here / threshold);
                }
                if depth >= recipe.beam_offset_mm {
                    core_sum += here / mean;
                    core_count += 1;
                }
            }
        }
        if core_count > 0 {
            let core = core_sum / f64::from(core_count);
            rung.core = [rung.core[0].min(core), rung.core[1].max(core)];
        }
    }
    rung
}

/// How far from the middle the melt ends: outermost crossing of the threshold, mm; 0 if there is none.
fn edge(dose: impl Fn(f64) -> f64, width: f64, threshold: f64) -> f64 {
    let mut beyond = width / 2.0 + 0.6;
    let step = 0.01;
    while beyond > 0.0 && dose(beyond - step) < threshold {
        beyond -= step;
    }
    if beyond <= 0.0 {
        return 0.0;
    }
    let (mut inside, mut outside) = (beyond - step, beyond);
    for _ in 0..30 {
        let middle = f64::midpoint(inside, outside);
        if dose(middle) >= threshold { inside = middle } else { outside = middle }
    }
    inside
}

fn middle_of_bounds(shape: Shape, width: f64) -> [f64; 2] {
    let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
    for i in 0..=240 {
        let (at, normal) = station(shape, -1.0 + 2.0 * f64::from(i) / 240.0);
        for side in [-0.5, 0.5] {
            for k in 0..2 {
                let c = at[k] + side * width * normal[k];
                (low[k], high[k]) = (low[k].min(c), high[k].max(c));
            }
        }
    }
    [0, 1].map(|k| f64::midpoint(low[k], high[k]))
}
