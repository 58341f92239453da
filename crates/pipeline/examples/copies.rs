//! Writes the vector file of many copies of one part, and says how long it took and how much memory at most.
//!
//! `copies FOLDER COPIES TRIANGLES THREADS [apart]` makes `FOLDER/part.stl`, a ring, and `FOLDER/copies.ron`, in
//! which its copies stand in levels, whole layers apart, and writes `FOLDER/copies.hwv`; with `apart` as if
//! there were no copies.

#![expect(clippy::print_stdout, clippy::unwrap_used, reason = "a measuring tool")]
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "small numbers, and the numbers of an STL file"
)]

use base::Progress;
use pipeline::{Build, load, write_vector_file};
use std::f64::consts::TAU;
use std::path::Path;
use std::time::Instant;

/// Radii of the ring, mm.
const RADII_MM: [f64; 2] = [9.0, 3.0];
/// From copy to copy, and from level to level, mm; the bench machine holds six by six.
const PITCH_MM: [f64; 2] = [28.0, 10.0];
const IN_A_ROW: usize = 6;

/// A binary STL file of a ring of about so many triangles, twisted, so that no two layers are alike.
fn ring(triangles: usize) -> Vec<u8> {
    let around = (triangles as f64).sqrt().round().max(8.0) as usize;
    let across = (triangles / (2 * around)).max(8);
    let point = |i: usize, k: usize| {
        let (i, k) = (i % around, k % across);
        let (u, v) = (TAU * i as f64 / around as f64, TAU * k as f64 / across as f64);
        let r = RADII_MM[0] + RADII_MM[1] * v.cos() * (1.0 + 0.1 * (5.0 * u).sin());
        [r * u.cos(), r * u.sin(), RADII_MM[1] * v.sin()].map(|c| c as f32)
    };
    let mut bytes = vec![0; 80];
    bytes.extend(u32::try_from(2 * around * across).unwrap().to_le_bytes());
    for (i, k) in (0..around).flat_map(|i| (0..across).map(move |k| (i, k))) {
        let [a, b, c, d] =
            [(i, k), (i + 1, k), (i + 1, k + 1), (i, k + 1)].map(|(i, k)| point(i, k));
        for corners in [[a, b, c], [a, c, d]] {
            let numbers = [[0.0; 3]].into_iter().chain(corners).flatten();
            bytes.extend(numbers.flat_map(f32::to_le_bytes));
            bytes.extend([0; 2]);
        }
    }
    bytes
}

fn job(copies: usize) -> String {
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets").canonicalize().unwrap();
    let place = |copy: usize| {
        let (level, at) = (copy / (IN_A_ROW * IN_A_ROW), copy % (IN_A_ROW * IN_A_ROW));
        let [x, y] = [at % IN_A_ROW, at / IN_A_ROW].map(|k| (k as f64 - 2.5) * PITCH_MM[0]);
        let z = 9.0 + PITCH_MM[1] * level as f64;
        format!("(location_mm: ({x}, {y}, {z})),\n")
    };
    format!(
        "(version: 3, name: \"copies\", machine: \"{0}/machines/bench_co2_30w.ron\",\n\
         recipe: \"{0}/recipes/pa12.ron\", parts: [\n\
         (name: \"ring\", mesh: \"part.stl\", placements: [\n{1}])])\n",
        assets.display(),
        (0..copies).map(place).collect::<String>()
    )
}

/// The most memory this process had, MB, where the system tells.
fn peak_mb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(line.trim().trim_end_matches(" kB").parse::<u64>().ok()? / 1000)
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let folder = Path::new(&args[1]);
    let [copies, triangles, threads] = [2, 3, 4].map(|k: usize| args[k].parse::<usize>().unwrap());
    let is_apart = args.get(5).is_some_and(|word| word == "apart");
    rayon::ThreadPoolBuilder::new().num_threads(threads).build_global().unwrap();
    std::fs::create_dir_all(folder).unwrap();
    std::fs::write(folder.join("part.stl"), ring(triangles)).unwrap();
    std::fs::write(folder.join("copies.ron"), job(copies)).unwrap();

    let progress = Progress::default();
    let start = Instant::now();
    let loaded = load(&folder.join("copies.ron"), &progress).unwrap();
    let loaded_s = start.elapsed().as_secs_f64();
    let build = Build::new(loaded, &progress).unwrap();
    let posed_s = start.elapsed().as_secs_f64() - loaded_s;
    let build = if is_apart { build.without_sharing() } else { build };
    let written = write_vector_file(&build, &folder.join("copies.hwv"), &progress).unwrap();
    println!(
        "{copies} copies, {} layers, {} marks: read in {loaded_s:.1} s, posed in {posed_s:.1} s, \
         in all {:.1} s, at most {} MB",
        build.layer_count(),
        written.totals.stats.marks,
        start.elapsed().as_secs_f64(),
        peak_mb().map_or("?".to_owned(), |mb| mb.to_string())
    );
}
