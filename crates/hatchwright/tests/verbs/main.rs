//! The verbs as a person types them: exit codes, messages, files.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

mod dose;
mod interrupted;
mod library;
mod outputs;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn hatchwright(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hatchwright")).current_dir(folder).args(args).output().unwrap()
}

#[track_caller]
fn check(folder: &Path, args: &[&str], code: i32, expected: &[&str]) -> String {
    let output = hatchwright(folder, args);
    let text = format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    assert_eq!(output.status.code(), Some(code), "{args:?} said: {text}");
    assert!(!text.contains("panicked"), "{args:?} said: {text}");
    for part in expected {
        assert!(text.contains(part), "{args:?} did not say {part:?} but: {text}");
    }
    text
}

/// A folder with a copy of the small demo job, its machine, recipes and one part.
fn small_job() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let to = folder.path();
    for sub in ["demo-jobs", "assets/machines", "assets/recipes", "assets/parts"] {
        fs::create_dir_all(to.join(sub)).unwrap();
        for entry in fs::read_dir(root().join(sub)).unwrap() {
            let entry = entry.unwrap();
            fs::copy(entry.path(), to.join(sub).join(entry.file_name())).unwrap();
        }
    }
    folder
}

/// Writes the small job; the plain Python reader must find the marks that we say there are.
fn write(folder: &Path) {
    let whole = fs::canonicalize(folder).unwrap().join(FILE).display().to_string();
    check(folder, &["write", JOB], 0, &[&whole, "marks", "jumps", "class 4 laser"]);
    let said = python_reads(folder, FILE);
    let json = check(folder, &["inspect", FILE, "--json"], 0, &[]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert!(said["marks"].is_u64(), "{said}");
    assert_eq!(said["marks"], json["totals"]["marks"]);
}

fn python_reads(folder: &Path, file: &str) -> serde_json::Value {
    let script = root().join("tests/read_vectors.py");
    let output = Command::new("python3").arg(script).arg(folder.join(file)).output().unwrap();
    serde_json::from_slice(&output.stdout).unwrap()
}

const JOB: &str = "demo-jobs/coupon.ron";
const FILE: &str = "demo-jobs/out/coupon.hwv";

#[test]
fn write_inspect_draw_verify_run_one_after_the_other() {
    let folder = small_job();
    let folder = folder.path();
    write(folder);
    check(folder, &["inspect", FILE], 0, &["layers"]);
    check(folder, &["inspect", FILE, "--layer", "12"], 0, &["contour", "hatch"]);
    // The coupon does not stand on the platform: the lowest layers are empty.
    check(folder, &["inspect", FILE, "--layer", "0"], 0, &["nothing is exposed", "is the first"]);
    check(folder, &["draw", FILE, "--layer", "0"], 0, &["nothing is exposed", "is the first"]);
    let json = check(folder, &["inspect", FILE, "--layer", "12", "--vectors", "--json"], 0, &[]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["layer"], 12);
    check(folder, &["draw", FILE, "--layer", "12", "--jumps"], 0, &["demo-jobs/out/coupon-12.svg"]);
    assert!(
        fs::read_to_string(folder.join("demo-jobs/out/coupon-12.svg")).unwrap().contains("<svg")
    );
    check(folder, &["verify", FILE], 0, &["whole"]);
    check(
        folder,
        &["verify", FILE, "--job", JOB],
        0,
        &["verified against the job", "class 4 laser"],
    );
    let json = check(folder, &["verify", FILE, "--job", JOB, "--json"], 0, &[]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["verified"], true);
    check(folder, &["slice", JOB], 0, &["demo-jobs/out/coupon.3mf"]);
    check(folder, &["check", JOB], 0, &["sound"]);
    check(folder, &["check", "demo-jobs/out/coupon.3mf"], 0, &["sound"]);
}

#[test]
fn a_flipped_byte_and_another_job_are_not_verified() {
    let folder = small_job();
    let folder = folder.path();
    write(folder);
    let path = folder.join(FILE);
    let mut bytes = fs::read(&path).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0x10;
    fs::write(folder.join("flipped.hwv"), bytes).unwrap();
    let output = hatchwright(folder, &["verify", "flipped.hwv"]);
    assert!(matches!(output.status.code(), Some(1 | 2)), "{output:?}");
    assert!(!python_reads(folder, "flipped.hwv")["refused"].is_null());

    let text = fs::read_to_string(folder.join(JOB)).unwrap();
    let moved = text.replacen("location_mm: (0,", "location_mm: (1,", 1);
    assert_ne!(moved, text, "the coupon is expected at X = 0");
    fs::write(folder.join("demo-jobs/moved.ron"), moved).unwrap();
    check(folder, &["verify", FILE, "--job", "demo-jobs/moved.ron"], 1, &["NOT verified"]);
}

#[test]
fn wrong_use_and_unreadable_input_exit_with_2_and_say_what_to_do() {
    let folder = small_job();
    let folder = folder.path();
    check(folder, &["frobnicate"], 2, &["frobnicate"]);
    check(folder, &["write", "nowhere.ron"], 2, &["cannot read the job", "nowhere.ron"]);
    fs::write(folder.join("not.hwv"), "hello").unwrap();
    check(folder, &["inspect", "not.hwv"], 2, &["not.hwv"]);
    check(folder, &["verify", "not.hwv"], 2, &["not.hwv"]);
    check(folder, &["check", "mesh.step"], 2, &[".stl, .3mf, .obj", "mesh.step"]);
    fs::write(folder.join("cut.stl"), "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0")
        .unwrap();
    check(folder, &["check", "cut.stl"], 2, &["cut.stl"]);
    write(folder);
    check(folder, &["inspect", FILE, "--layer", "99999"], 2, &["99999"]);
}

#[test]
fn a_bad_field_is_named_with_its_value_and_range() {
    let folder = small_job();
    let folder = folder.path();
    let job = fs::read_to_string(folder.join(JOB)).unwrap();
    fs::write(
        folder.join("demo-jobs/odd.ron"),
        job.replacen("version: 3", "version: 3, colour: 3", 1),
    )
    .unwrap();
    check(folder, &["write", "demo-jobs/odd.ron"], 2, &["colour", "odd.ron"]);
    let recipe = folder.join("assets/recipes/pa12.ron");
    let text = fs::read_to_string(&recipe).unwrap();
    let thin = text.replacen("layer_thickness_mm: 0.1", "layer_thickness_mm: -0.1", 1);
    assert_ne!(thin, text);
    fs::write(&recipe, thin).unwrap();
    check(folder, &["write", JOB], 2, &["layer_thickness_mm", "-0.1", "pa12.ron"]);
}

#[test]
fn a_part_outside_the_build_space_stops_the_job() {
    let folder = small_job();
    let folder = folder.path();
    let text = fs::read_to_string(folder.join(JOB)).unwrap();
    let moved = text.replacen("location_mm: (0,", "location_mm: (500,", 1);
    assert_ne!(moved, text);
    fs::write(folder.join(JOB), moved).unwrap();
    check(folder, &["write", JOB], 1, &["stop", "beyond the right wall", "Nothing was written"]);
    assert!(!folder.join("demo-jobs/out").exists());
    // Without a stop finding the flag changes nothing.
    fs::write(folder.join(JOB), text).unwrap();
    check(folder, &["write", JOB, "--despite-stops"], 0, &[FILE]);
    assert!(!folder.join("demo-jobs/out/coupon.not-fit.hwv").exists());
}

#[test]
fn a_nested_job_is_proven_written_and_sliced() {
    let folder = small_job();
    let folder = folder.path();
    let job = r#"(
        version: 3,
        name: "few",
        machine: "../assets/machines/bench_co2_30w.ron",
        recipe: "../assets/recipes/pa12.ron",
        parts: [
            (name: "clip", mesh: "../assets/parts/snap_clip.stl", nest: (quantity: 6)),
            (
                name: "nut",
                mesh: "../assets/parts/cable_gland.3mf",
                object: "gland_nut",
                nest: (quantity: 3, allowed_orientations: RotatedAboutZ, locked: [0]),
                placements: [(location_mm: (10, 20, 30), rotation_deg: (90, 0, 0))],
            ),
        ],
    )"#;
    fs::write(folder.join("demo-jobs/few.ron"), job).unwrap();
    let few = "demo-jobs/few.ron";
    let args = ["nest", few, "--out", "out/deep/nested.ron", "--time", "1", "--wall", "4"];
    check(
        folder,
        &args,
        0,
        &["out/deep/nested.ron", "9 placements", "can be lifted out", "layers"],
    );
    let nested = fs::read_to_string(folder.join("out/deep/nested.ron")).unwrap();
    assert!(nested.contains("../../assets/parts/snap_clip.stl"), "{nested}");
    assert!(nested.contains("location_mm: (10.0, 20.0, 30.0)"), "the locked one moved: {nested}");
    // The job remembers the clearances that it was nested with.
    assert!(nested.contains("walls_mm: 4"), "{nested}");
    let proven = ["prove", "out/deep/nested.ron", "--json"];
    let json: serde_json::Value = serde_json::from_str(&check(folder, &proven, 0, &[])).unwrap();
    assert_eq!(json["proven"], true);
    let nearest = json["pairs"][0]["distance_mm"].as_f64().unwrap();
    assert!((2.999_999..6.0).contains(&nearest), "{nearest}");
    // What was nested for 3 mm does not keep 4.
    let wide = ["prove", "out/deep/nested.ron", "--clearance", "6"];
    check(folder, &wide, 1, &["TOO NEAR", "6 mm are wanted"]);
    // What fits no build stops.
    let big = job.replace("quantity: 6", "quantity: 2").replace("(quantity: 3", "(quantity: 1");
    fs::write(folder.join("demo-jobs/big.ron"), big).unwrap();
    let apart = ["nest", "demo-jobs/big.ron", "--out", "big.ron", "--time", "1", "--wall", "85"];
    check(folder, &apart, 1, &["fit no build"]);
    check(folder, &["nest", few, "--clearance", "NaN"], 2, &["--clearance is NaN"]);
    // Compaction moves what is placed and forgets nothing that is yet to be placed.
    check(folder, &["nest", few, "--compact", "--out", "demo-jobs/sunk.ron"], 0, &["1 placement"]);
    let sunk = ["nest", "demo-jobs/sunk.ron", "--out", "again.ron", "--time", "1"];
    check(folder, &sunk, 0, &["9 placements"]);
}

#[test]
fn small_parts_go_into_a_cage_and_come_out_as_one_part() {
    let folder = small_job();
    let folder = folder.path();
    let job = r#"(
        version: 3,
        name: "clips",
        machine: "../assets/machines/bench_co2_30w.ron",
        recipe: "../assets/recipes/pa12.ron",
        parts: [
            (name: "clip", mesh: "../assets/parts/snap_clip.stl",
             placements: [(location_mm: (0, 0, 40)), (location_mm: (X, 0, 40))]),
            (name: "clamp", mesh: "../assets/parts/mast_clamp.stl",
             placements: [(location_mm: (0, 0, 150))]),
        ],
    )"#;
    let at = |x: &str| fs::write(folder.join("demo-jobs/clips.ron"), job.replace('X', x)).unwrap();
    at("50");
    let cage = ["gather", "demo-jobs/clips.ron", "--part", "clip", "--out", "out/caged.ron"];
    check(folder, &cage, 0, &["2 placements in a cage"]);
    let caged = fs::read_to_string(folder.join("out/caged.ron")).unwrap();
    assert!(caged.contains("caged.cage.obj") && !caged.contains("snap_clip"), "{caged}");
    // Cage and clips are sound shells of one part; around it everything is proven as ever.
    check(folder, &["check", "out/caged.cage.obj"], 0, &["shells: 3"]);
    let proven = ["prove", "out/caged.ron"];
    check(folder, &proven, 0, &["2 placements", "can be lifted out"]);
    at("5");
    check(folder, &cage, 2, &["clip 1 of 2 and clip 2 of 2 are nearer to each other than 3 mm"]);
    let unknown = ["gather", "demo-jobs/clips.ron", "--part", "clop"];
    check(folder, &unknown, 2, &["no part \"clop\"", "clip, clamp"]);
    at("50");
    let bars = [&cage[..], &["--bar", "0"]].concat();
    check(folder, &bars, 2, &["the bar is 0 mm"]);
}

#[test]
fn parts_that_are_too_near_or_linked_are_told() {
    let folder = small_job();
    let folder = folder.path();
    let job = r#"(
        version: 3,
        name: "near",
        machine: "../assets/machines/bench_co2_30w.ron",
        recipe: "../assets/recipes/pa12.ron",
        parts: [(
            name: "nut",
            mesh: "../assets/parts/cable_gland.3mf",
            object: "gland_nut",
            placements: [(location_mm: (0, 0, 30)), (location_mm: (X, 0, 30))],
        )],
    )"#;
    let nut = |x: &str| fs::write(folder.join("demo-jobs/near.ron"), job.replace('X', x)).unwrap();
    let near = ["prove", "demo-jobs/near.ron"];
    nut("60");
    check(folder, &near, 0, &["can be lifted out"]);
    nut("10");
    check(folder, &near, 1, &["OVERLAP", "overlaps nut 2 of 2"]);
}

/// `check` finds in a job what the window would: here a copy inside another, and no file is needed.
#[test]
fn check_looks_through_a_whole_job() {
    let folder = small_job();
    let folder = folder.path();
    check(folder, &["check", JOB], 0, &["sound"]);
    let job = fs::read_to_string(folder.join(JOB)).unwrap();
    let twice = job.replace(
        "(location_mm: (0, 0, 20))",
        "(location_mm: (0, 0, 20)), (location_mm: (5, 5, 20))",
    );
    fs::write(folder.join(JOB), twice).unwrap();
    let said = check(folder, &["check", JOB], 1, &["stop", "overlaps"]);
    assert_eq!(said.matches("overlaps").count(), 1, "said once: {said}");
    assert!(!folder.join("demo-jobs/out").exists());
    check(folder, &["write", JOB], 1, &["overlaps", "Nothing was written", "--despite-stops"]);
    assert!(!folder.join(FILE).exists());
    let json = check(folder, &["write", JOB, "--json"], 1, &[]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert!(json["written"].is_null() && json["findings"].is_array());
    let unfit = "demo-jobs/out/coupon.not-fit.hwv";
    check(folder, &["write", JOB, "--despite-stops"], 1, &["overlaps", "Not fit", unfit]);
    assert!(!folder.join(FILE).exists() && folder.join(unfit).exists());
    // what is wrong with the job is wrong with its file
    check(folder, &["verify", unfit, "--job", JOB], 1, &["overlaps"]);
}

/// What a person takes as it is stays in the job, with its comments, and no longer counts; what cannot be built is
/// never accepted, and an acceptance that covers nothing any more is told.
#[test]
fn findings_are_accepted_with_a_reason() {
    let folder = small_job();
    let folder = folder.path();
    let path = folder.join(JOB);
    let job = fs::read_to_string(&path).unwrap();
    let placed = |x: f64, z: f64| {
        let second = format!("(location_mm: (0, 0, 20)), (location_mm: ({x}, 0, {z}))");
        fs::write(&path, job.replace("(location_mm: (0, 0, 20))", &second)).unwrap();
    };
    placed(0.0, 60.5);
    let reason = ["--reason", "They are cut apart afterwards."];
    let accept = |what: &str, code, said: &[&str]| {
        check(folder, &["check", JOB, "--accept", what, reason[0], reason[1]], code, said)
    };
    accept("colour:bracket", 2, &["no finding is of a kind \"colour\""]);
    accept("clearance:nut", 2, &["nothing was found at", "bracket 1 of 2"]);
    check(folder, &["check", JOB, "--accept", "clearance"], 2, &["--reason"]);
    assert!(!fs::read_to_string(&path).unwrap().contains("accepted"));
    let said =
        accept("clearance:bracket 1 of 2", 0, &["Accepted, and kept", "accepted: stop", reason[1]]);
    assert_eq!(said.matches("stop").count(), 1, "{said}");
    let kept = fs::read_to_string(&path).unwrap();
    assert!(
        kept.contains("// It stands half a millimetre above")
            && kept.contains("says: \"The part is")
    );
    check(folder, &["prove", JOB], 0, &["accepted: stop"]);
    let json = check(folder, &["write", JOB, "--json"], 0, &[]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert!(json["written"].is_string() && folder.join(FILE).exists());
    assert_eq!(json["accepted"][0]["reason"], reason[1]);
    assert_eq!(json["accepted"][0]["finding"]["kind"], "clearance");

    // nearer than it was when it was accepted
    fs::write(&path, kept.replace("60.5", "60.2")).unwrap();
    check(folder, &["check", JOB], 1, &["stop: The part is", "note: What was accepted is gone"]);
    placed(5.0, 21.0);
    accept("overlap", 2, &["this cannot be accepted"]);
}

/// Two copies half a millimetre apart: no layer shows anything, the proof before writing does.
#[test]
fn write_proves_clearances_and_threads_are_bounded() {
    let folder = small_job();
    let folder = folder.path();
    check(folder, &["write", JOB, "--threads", "100000"], 2, &["from 1 to 1024"]);
    let job = fs::read_to_string(folder.join(JOB)).unwrap();
    let near = job.replace(
        "(location_mm: (0, 0, 20))",
        "(location_mm: (0, 0, 20)), (location_mm: (0, 0, 60.5))",
    );
    fs::write(folder.join(JOB), near).unwrap();
    let said = check(folder, &["prove", JOB], 1, &["stop"]);
    assert!(!said.contains("OVERLAP"), "{said}");
    check(folder, &["write", JOB], 1, &["Nothing was written"]);
    assert!(!folder.join(FILE).exists());
    check(folder, &["write", JOB, "--unproven"], 0, &[]);
    assert!(folder.join(FILE).exists());
}

/// Files of an earlier version open, and are said to be; units may be written in many ways.
#[test]
fn a_job_of_an_earlier_version_is_read_and_said_to_be() {
    let folder = small_job();
    let folder = folder.path();
    let job = fs::read_to_string(folder.join(JOB)).unwrap();
    assert!(!check(folder, &["check", JOB], 0, &[]).contains("earlier version"));
    let old = job
        .replace("version: 3", "version: 1")
        .replace("(location_mm: (0, 0, 20))", "(location_mm: (0, 0, 20), turns_deg: (0, 0, 90))");
    assert_ne!(old, job);
    fs::write(folder.join(JOB), old).unwrap();
    check(folder, &["check", JOB], 0, &["note: The job was written by an earlier version"]);
    let bracket = "assets/parts/sensor_bracket.obj";
    let said = check(folder, &["check", bracket, "--unit", "millimeter"], 0, &["sound"]);
    assert_eq!(check(folder, &["check", bracket, "--unit", "mm"], 0, &[]), said);
    check(folder, &["check", bracket, "--unit", "ell"], 2, &["micron, mm, cm, inch, ft, m"]);
}
