//! Placements whose exposures are not those of the recipe, from the job file to the proof.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::Progress;
use pipeline::{
    Build, LoadError, Loaded, NestRequest, load, nest_job, verify_against, write_vector_file,
};
use scan_path::Layer;
use std::path::Path;

/// A block of 8 × 6 × 1 mm.
const BLOCK: &str = "v 0 0 0\nv 8 0 0\nv 8 6 0\nv 0 6 0\nv 0 0 1\nv 8 0 1\nv 8 6 1\nv 0 6 1\n\
    f 1 4 3\nf 1 3 2\nf 5 6 7\nf 5 7 8\nf 1 2 6\nf 1 6 5\nf 2 3 7\nf 2 7 6\nf 3 4 8\nf 3 8 7\n\
    f 4 1 5\nf 4 5 8\n";

/// A job of three blocks in a folder; the second and the third have these changes.
fn loaded(folder: &Path, second: &str, third: &str) -> Result<Loaded, LoadError> {
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets").canonicalize().unwrap();
    let assets = assets.display().to_string().replace('\\', "/");
    let job = format!(
        r#"(version: 3, name: "coupons", machine: "{assets}/machines/bench_co2_30w.ron",
        recipe: "{assets}/recipes/pa12_fine.ron", parts: [
            (name: "block", mesh: "block.obj", nest: (locked: [2]), placements: [
                (location_mm: (0, 0, 10)),
                (location_mm: (20, 0, 10), exposures: [{second}]),
                (location_mm: (40, 0, 10), exposures: [{third}]),
            ]),
        ])"#
    );
    std::fs::write(folder.join("block.obj"), BLOCK).unwrap();
    std::fs::write(folder.join("job.ron"), job).unwrap();
    load(&folder.join("job.ron"), &Progress::default())
}

fn build(folder: &Path, second: &str, third: &str) -> Build {
    Build::new(loaded(folder, second, third).unwrap(), &Progress::default()).unwrap()
}

/// Name and power of the exposures that a placement's blocks have in a layer.
fn used(build: &Build, layer: &Layer, placement: u32) -> Vec<(String, f64, f64)> {
    let blocks = layer.blocks.iter().filter(|block| block.placement == placement);
    let rows = blocks.map(|block| &build.header.exposures[usize::from(block.exposure)]);
    rows.map(|row| (row.name.clone(), row.power_w, row.speed_mm_s)).collect()
}

#[test]
fn a_placement_may_change_exposures_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let plain = build(folder.path(), "", "");
    let power = "(name: \"hatch\", power_w: 20)";
    let both = "(name: \"contour\", power_w: 9, speed_mm_s: 1500), (name: \"hatch\", power_w: 20)";
    let changed = build(folder.path(), power, both);
    let middle = plain.layer_count() - 3;
    let before = plain.layer(middle, &Progress::default()).unwrap().layer;
    let mut after = changed.layer(middle, &Progress::default()).unwrap().layer;
    // Numbers of the recipe `pa12_fine.ron`, and those of the job above.
    let own = [("contour", 7.2, 1200.0), ("hatch", 15.0, 2500.0)];
    let second = [own[0], ("hatch, 20 W", 20.0, 2500.0)];
    let third = [("contour, 9 W, 1500 mm/s", 9.0, 1500.0), second[1]];
    for (placement, expected) in (0..).zip([own, second, third]) {
        let expected = expected.map(|(name, power, speed)| (name.to_owned(), power, speed));
        assert_eq!(used(&changed, &after, placement), expected);
    }
    let names: Vec<_> = changed.header.exposures.iter().map(|row| row.name.as_str()).collect();
    let expected = ["hatch", "contour", "thin wall", "hatch, 20 W", "contour, 9 W, 1500 mm/s"];
    assert_eq!(names[..5], expected, "a row for each, after the recipe's own");
    assert!(names[5..].iter().all(|name| name.starts_with("thin wall × ")), "{names:?}");
    for (block, was) in after.blocks.iter_mut().zip(&before.blocks) {
        block.exposure = was.exposure;
    }
    assert_eq!(after, before, "the same vectors in the same order");
    let file = folder.path().join("changed.hwv");
    write_vector_file(&changed, &file, &Progress::default()).unwrap();
    let verdict = verify_against(&file, &changed, &Progress::default()).unwrap();
    assert!(verdict.is_verified(), "{:?}", verdict.findings);
    // The proof knows what the job asks for.
    for other in [plain, build(folder.path(), &power.replace("20", "21"), both)] {
        let verdict = verify_against(&file, &other, &Progress::default()).unwrap();
        assert!(!verdict.is_verified());
    }
}

#[test]
fn what_recipe_or_machine_do_not_allow_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    for (change, sentence) in [
        (
            "(name: \"hach\", power_w: 20)",
            "parts[0].placements[1].exposures[0].name is \"hach\"; it must be one of the exposures \
             \"hatch\", \"contour\", \"thin wall\"",
        ),
        (
            "(name: \"hatch\", power_w: 31)",
            "power_w is 31 (exposure \"hatch\"); it must be at most 30",
        ),
        ("(name: \"hatch\")", "exposures[0] is without power and speed"),
        ("(name: \"hatch\", watts: 3)", "There is no field `watts` here"),
    ] {
        let said = loaded(folder.path(), change, "").unwrap_err().to_string();
        assert!(said.contains(sentence), "{said}");
    }
}

/// Nesting numbers the copies anew, those that stay first; what a copy changes goes with it.
#[test]
fn changes_stay_with_their_copies_when_they_are_nested() {
    let folder = tempfile::tempdir().unwrap();
    let change = |power: u32| format!("(name: \"hatch\", power_w: {power})");
    let loaded = loaded(folder.path(), &change(20), &change(21)).unwrap();
    let request = NestRequest { patience: 1, seconds: Some(1.0), ..NestRequest::default() };
    let nested = nest_job(&loaded, &request, &Progress::default(), &mut |_| true).unwrap();
    let part = &nested.jobs[0].parts[0];
    assert_eq!(part.placements[0], loaded.job.parts[0].placements[2], "the locked one");
    let powers: Vec<_> =
        (0..3).map(|copy| part.changes_of(copy).first().and_then(|c| c.power_w)).collect();
    assert_eq!(powers[0], Some(21.0), "of the locked one");
    // Copies that may move come in any order.
    assert!(powers.contains(&Some(20.0)) && powers.contains(&None), "{powers:?}");
}
