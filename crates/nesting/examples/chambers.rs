//! Measures nesting on meshes from disk: `chambers FOLDER mixed|copies|packing [SECONDS]
//! [VOXEL or FILTER] [SEED] [PATIENCE]`.
//!
//! FOLDER holds `index.jsonl`, `solids/` and `packing/`. `mixed`: 100 parts, the list of
//! solids that fit, again and again; `copies`: 300 copies of 10 parts; both into 180 × 180 × 250 mm
//! with 3 mm between parts. `packing`: published strip-packing instances, without a clearance and
//! without rotations.

#![expect(clippy::print_stdout, reason = "this is what it is for")]

use base::{Progress, Unit};
use mesh::Mesh;
use mesh::import::{Format, import};
use nesting::{
    Arrangement, Item, Options, Orientations, Solid, Space, boxes_baseline, figures, nest,
};
use serde_json::Value;
use std::error::Error;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

type Result<T> = std::result::Result<T, Box<dyn Error>>;

fn main() -> Result<()> {
    let args: Vec<String> = std::env::args().collect();
    let folder = Path::new(args.get(1).ok_or("which folder?")?);
    let seconds = args.get(3).map_or(Ok(120.0), |s| s.parse())?;
    let filter = args.get(4).map_or("", String::as_str);
    match args.get(2).map(String::as_str) {
        Some("mixed") => chamber(&mixed(folder, 100)?, seconds, filter),
        Some("copies") => chamber(&copies(folder)?, seconds, filter),
        Some("packing") => packing(&folder.join("packing"), seconds, filter),
        _ => Err("mixed, copies or packing?".into()),
    }
}

fn chamber(items: &[Item], seconds: f64, voxel: &str) -> Result<()> {
    let voxel_mm = if voxel.is_empty() || voxel == "-" { None } else { Some(voxel.parse()?) };
    let seed = std::env::args().nth(5).map_or(Ok(1), |seed| seed.parse())?;
    let usual = Options::default();
    let patience = std::env::args().nth(6).map_or(Ok(usual.patience), |n| n.parse())?;
    let options = Options { voxel_mm, seed, patience, ..usual };
    let space = Space { size_mm: [180., 180., 250.], wall_clearance_mm: 3.0, clearance_mm: 3.0 };
    let baseline = boxes_baseline(items, &space, &Progress::default())?;
    let boxes = figures(items, &baseline, &space, 0.1, &Progress::default())?;
    let copies: u32 = items.iter().map(|i| i.quantity).sum();
    println!("{copies} parts of {} items", items.len());
    println!("bounding boxes: height {:.2} mm, density {:.4}", boxes.height_mm, boxes.density);
    let Timed { first_s, end_s, arrangement: a } = timed(items, &space, &options, seconds, true)?;
    let mut total = 0.0;
    for (b, build) in a.builds.iter().enumerate() {
        let f = figures(items, build, &space, 0.1, &Progress::default())?;
        println!(
            "build {b}: {} parts, height {:.2} mm, density {:.4}, {} layers",
            build.len(),
            f.height_mm,
            f.density,
            f.layers
        );
        total += f.height_mm;
    }
    println!(
        "first after {first_s:.1} s, end after {end_s:.1} s, converged {}, unplaced {}, {:.3} of the boxes' height",
        a.converged,
        a.unplaced.len(),
        total / boxes.height_mm
    );
    Ok(())
}

/// The last arrangement of a search, and seconds to the first one and to the end.
struct Timed {
    first_s: f64,
    end_s: f64,
    arrangement: Arrangement,
}

/// Runs a search with a time limit.
fn timed(
    items: &[Item],
    space: &Space,
    options: &Options,
    seconds: f64,
    verbose: bool,
) -> Result<Timed> {
    let progress = Progress::default();
    let start = Instant::now();
    let mut first = None;
    let timer = progress.clone();
    // Ends with the program; a cancelled handle that nobody listens to does no harm.
    std::thread::Builder::new().name("timer".into()).spawn(move || {
        std::thread::sleep(Duration::from_secs_f64(seconds));
        timer.cancel();
    })?;
    let arrangement = nest(items, &[], space, options, &progress, &mut |a| {
        let now = start.elapsed().as_secs_f64();
        first.get_or_insert(now);
        if verbose {
            let heights = a.summary;
            println!(
                "{now:7.2} s: {} builds, height {:.2}, sum {:.2}, density {:.4}",
                a.builds.len(),
                heights.height_mm,
                heights.total_height_mm,
                heights.density
            );
        }
        true
    })?;
    if verbose {
        println!("{} steps", progress.steps().0);
    }
    let end_s = start.elapsed().as_secs_f64();
    Ok(Timed { first_s: first.unwrap_or_default(), end_s, arrangement })
}

/// Solids of a size of which a chamber holds a hundred, in the order of the index, in mm.
fn solids(folder: &Path) -> Result<Vec<(String, Mesh)>> {
    let index = std::fs::read_to_string(folder.join("index.jsonl"))?;
    let mut all = Vec::new();
    for line in index.lines() {
        // A few lines hold values that JSON does not know (not a number).
        let Ok(row) = serde_json::from_str::<Value>(line) else { continue };
        let text = |key: &str| row[key].as_str().unwrap_or_default().to_owned();
        let (path, note) = (text("path"), text("note"));
        if !path.starts_with("solids/") || row["watertight"] != Value::Bool(true) {
            continue;
        }
        let unit = match note.as_str() {
            "metre" => Unit::Metre,
            "inch" => Unit::Inch,
            _ => Unit::Millimetre,
        };
        let Ok(mesh) = load(&folder.join(&path), unit) else { continue };
        let Some((lo, hi)) = mesh.bounds() else { continue };
        let mut size = [0, 1, 2].map(|k| hi[k] - lo[k]);
        size.sort_by(f64::total_cmp);
        // Smaller than 8 mm is a speck, not a part; of parts longer than 110 mm a chamber does not
        // hold a hundred.
        if (8.0..=110.0).contains(&size[2]) {
            all.push((path, mesh));
        }
    }
    Ok(all)
}

fn load(path: &Path, unit: Unit) -> Result<Mesh> {
    let extension = path.extension().and_then(|e| e.to_str()).unwrap_or_default();
    let format = Format::from_extension(extension).ok_or("format")?;
    let bytes = std::fs::read(path)?;
    let mut objects = import(&bytes, format, Some(unit), &Progress::default())?.objects;
    let mut whole = Mesh::default();
    for object in &mut objects {
        let base = u32::try_from(whole.vertices.len())?;
        whole.vertices.append(&mut object.mesh.vertices);
        whole.triangles.extend(object.mesh.triangles.iter().map(|t| t.map(|v| v + base)));
    }
    Ok(whole)
}

fn item((name, mesh): (String, Mesh), quantity: u32, orientations: Orientations) -> Item {
    let solid = Arc::new(Solid::new(Arc::new(mesh)));
    Item { name, solid, scale: [1.0; 3], quantity, orientations, due: None }
}

/// So many parts, by going through the list again and again.
fn mixed(folder: &Path, count: u32) -> Result<Vec<Item>> {
    let solids = solids(folder)?;
    let n = u32::try_from(solids.len())?;
    Ok(solids
        .into_iter()
        .zip(0..)
        .map(|(s, i)| item(s, count / n + u32::from(i < count % n), Orientations::QuarterTurns))
        .collect())
}

/// The ten smallest of at least 2 cm³ of box.
fn copies(folder: &Path) -> Result<Vec<Item>> {
    let mut solids = solids(folder)?;
    let size =
        |m: &Mesh| m.bounds().map_or(0.0, |(lo, hi)| (0..3).map(|k| hi[k] - lo[k]).product());
    solids.sort_by(|a, b| size(&a.1).total_cmp(&size(&b.1)));
    let ten = solids.into_iter().filter(|s| size(&s.1) > 2000.0).take(10);
    Ok(ten.map(|s| item(s, 30, Orientations::QuarterTurns)).collect())
}

fn packing(folder: &Path, seconds: f64, filter: &str) -> Result<()> {
    let mut files = Vec::new();
    find(folder, &mut files)?;
    files.sort();
    println!(
        "instance | parts | height mm | density | lower bound mm | boxes mm | published mm | first s | end s"
    );
    for file in files {
        let value: Value = serde_json::from_slice(&std::fs::read(&file)?)?;
        let Some(types) = value["item-types"].as_array() else { continue };
        let name = value["name"].as_str().unwrap_or_default();
        if !name.contains(filter) {
            continue;
        }
        let mut items = Vec::new();
        for t in types {
            let path = t["path"].as_str().ok_or("path")?;
            let demand = u32::try_from(t["demand"].as_u64().ok_or("demand")?)?;
            let mesh = load(&locate(folder, path)?, Unit::Millimetre)?;
            items.push(item((path.to_owned(), mesh), demand, Orientations::Fixed));
        }
        let side = |k: &str| value["container"][k].as_f64().ok_or("container");
        let (x, y) = (side("size-x")?, side("size-y")?);
        strip(name, &items, [x, y], published(&file), seconds)?;
    }
    Ok(())
}

fn strip(
    name: &str,
    items: &[Item],
    [x, y]: [f64; 2],
    best: Option<f64>,
    seconds: f64,
) -> Result<()> {
    let mut space = Space { size_mm: [x, y, 1e4], wall_clearance_mm: 0.0, clearance_mm: 0.0 };
    let boxes = figures(
        items,
        &boxes_baseline(items, &space, &Progress::default())?,
        &space,
        1.0,
        &Progress::default(),
    )?;
    space.size_mm[2] = boxes.height_mm * 1.05;
    let options = Options { max_builds: 1, ..Options::default() };
    let Timed { first_s, end_s, arrangement: a } = timed(items, &space, &options, seconds, false)?;
    let f = figures(items, &a.builds[0], &space, 1.0, &Progress::default())?;
    let copies: u32 = items.iter().map(|i| i.quantity).sum();
    let tallest = items
        .iter()
        .filter_map(|i| i.mesh().bounds())
        .map(|(lo, hi)| hi[2] - lo[2])
        .fold(0.0, f64::max);
    let bound = (f.volume_mm3 / (x * y)).max(tallest);
    let best = best.map_or("-".to_owned(), |h| format!("{h:.5}"));
    println!(
        "{name} | {copies} | {:.5} | {:.4} | {bound:.4} | {:.4} | {best} | {first_s:.1} | {end_s:.1}{}",
        f.height_mm,
        f.density,
        boxes.height_mm,
        if a.unplaced.is_empty() { "" } else { " NOT ALL PLACED" }
    );
    Ok(())
}

/// The height of a published solution beside the instance: `Example1.json`, `Solution1.json`.
fn published(file: &Path) -> Option<f64> {
    let name = file.file_name()?.to_str()?.replace("Example", "Solution");
    let value: Value =
        serde_json::from_slice(&std::fs::read(file.with_file_name(name)).ok()?).ok()?;
    value["totalHeight"].as_f64()
}

/// Instances name folders with blanks and points where the disk has underscores.
fn locate(folder: &Path, path: &str) -> Result<PathBuf> {
    let plain = |s: &str| s.chars().filter(|c| c.is_alphanumeric()).collect::<String>();
    let wanted: String = plain(path);
    let mut files = Vec::new();
    all_files(folder, &mut files)?;
    files
        .into_iter()
        .find(|f| f.strip_prefix(folder).is_ok_and(|p| plain(&p.to_string_lossy()) == wanted))
        .ok_or_else(|| format!("no file for {path}").into())
}

fn find(folder: &Path, files: &mut Vec<PathBuf>) -> Result<()> {
    all_files(folder, files)?;
    files.retain(|f| f.extension().is_some_and(|e| e == "json"));
    Ok(())
}

fn all_files(folder: &Path, files: &mut Vec<PathBuf>) -> Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() { all_files(&path, files)? } else { files.push(path) }
    }
    Ok(())
}
