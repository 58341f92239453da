//! Vectors that change only on purpose: digests of layers of every demo job and of five real meshes, the same on
//! one, two and eight threads.
//!
//! After a change that is meant, `UPDATE_GOLDEN=1 cargo test --workspace --test golden` writes them anew; the
//! message of the commit says why they changed. Release and development profile give the same.

// Sine and cosine come from the system's library, whose last bit may be another elsewhere.
#![cfg(all(target_arch = "x86_64", target_os = "linux"))]
#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::Progress;
use pipeline::Build;
use rayon::prelude::*;
use scan_path::{Header, encode_layer, sha256};
use std::fmt::Write as _;
use whole_tool_tests::{build, job_of, root};

const GOLDEN: &str = "tests/golden.txt";

/// Every so many layers of a job are looked at.
const DEMO_JOBS: [(&str, u32); 3] =
    [("coupon.ron", 20), ("tide_gauge_kit.ron", 40), ("tide_gauge_fleet.ron", 200)];

/// Real meshes (see `tests/meshes/LICENCES.md`), the recipe that each is built with, and every how many layers.
const MESHES: [(&str, &str, u32); 5] = [
    ("oracles/finger_lower_link.stl", "pa12.ron", 30),
    ("oracles/plate_holes.STL", "pa11.ron", 10),
    ("exact_truth/WaveShare_Mounting_Plate_SO101_tol0.1.stl", "tpu.ron", 10),
    ("exact_truth/base_interface_AP214_tol0.1.stl", "pa12_fine.ron", 60),
    ("exact_truth/featuretype_tol0.1.stl", "pa12_glass.ron", 40),
];

/// One digest of the layers, as the vector file holds them.
fn digest(build: &Build, every: usize) -> String {
    let layers: Vec<u32> = (0..build.layer_count()).step_by(every).collect();
    // one of the jobs is still to be nested, and leaves the build space
    let header = Header { build_space_mm: [2000.0; 3], ..build.header.clone() };
    let sums = layers.into_par_iter().map(|k| {
        let layer = build.layer(k, &Progress::default()).unwrap().layer;
        encode_layer(&layer, &header).unwrap().row().sha256.clone()
    });
    sha256(sums.collect::<Vec<_>>().concat())
}

#[test]
fn vectors_change_only_on_purpose() {
    let mut builds = Vec::new();
    for (job, every) in DEMO_JOBS {
        builds.push((job.to_owned(), build(&root().join("demo-jobs").join(job)), every));
    }
    for (mesh, recipe, every) in MESHES {
        let (_folder, job) =
            job_of(&root().join("tests/meshes").join(mesh), recipe, [0.0, 0.0, 60.0]);
        builds.push((format!("{mesh}, {recipe}"), build(&job), every));
    }
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            builds.iter().fold(String::new(), |mut text, (name, build, every)| {
                writeln!(text, "{}  {name}", digest(build, *every as usize)).unwrap();
                text
            })
        })
    };
    let found = on(2);
    for threads in [1, 8] {
        assert_eq!(found, on(threads), "{threads} threads");
    }
    let path = root().join(GOLDEN);
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(&path, &found).unwrap();
    }
    let wanted = std::fs::read_to_string(&path).unwrap();
    assert_eq!(found, wanted, "if this is meant, write {GOLDEN} anew and say why");
}
