//! `dose`: against closed forms for a single line, and against a job.
//!
//! The line has 30 W at 5000 mm/s and a beam of 0.25 mm radius. Expected doses and lengths are the
//! textbook's for a Gaussian beam (Siegman, *Lasers*), worked out apart from this program.

use crate::{FILE, JOB, check, small_job, write};
use base::Point;
use scan_path::{
    Block, ExposureKind, ExposureRow, Header, Layer, MeltRow, PartRow, Paths, PlacementRow,
    RegionKind, VectorWriter, encode_layer,
};
use serde_json::Value;
use std::fs::File;
use std::path::Path;

/// Dose in the middle of the line, √(2/π)·P/(v·w), J/mm².
const PEAK: f64 = 0.019_149_229_46;
const NOMINAL: f64 = 0.006_476_625;
const STEADY: f64 = 0.013;
const LINE: &str = "line.hwv";

fn header() -> Header {
    let recipe = "reference".to_owned();
    Header {
        build_space_mm: [150.0, 150.0, 10.0],
        layer_thickness_mm: 0.1,
        layer_count: 2,
        jump_speed_mm_s: 6000.0,
        beam_radius_mm: Some(0.25),
        melt: vec![MeltRow {
            recipe: recipe.clone(),
            nominal_j_mm2: NOMINAL,
            steady_j_mm2: STEADY,
        }],
        parts: vec![PartRow { name: "line".to_owned() }],
        placements: vec![PlacementRow {
            part: 0,
            copy: Some(1),
            location_mm: [0.0, 0.0, 5.0],
            rotation_deg: [0.0; 3],
            bounds_mm: None,
        }],
        exposures: vec![ExposureRow {
            name: "line".to_owned(),
            recipe,
            power_w: 30.0,
            speed_mm_s: 5000.0,
            ..ExposureRow::default()
        }],
        ..Header::default()
    }
}

/// Writes a file of one line, from X = −50 to 50 mm at Y = 0, in its layer 0.
fn write_line(folder: &Path, header: &Header) {
    let mark = [-50.0, 50.0].map(|x| Point::from_mm(x, 0.0).unwrap());
    let block = Block {
        placement: 0,
        exposure: 0,
        kind: ExposureKind::Hatch,
        region: RegionKind::Core,
        paths: Paths::Segments(vec![mark]),
    };
    let file = File::create(folder.join(LINE)).unwrap();
    let mut writer = VectorWriter::new(file, header.clone()).unwrap();
    for layer in [vec![block], Vec::new()].into_iter().zip(0..) {
        let (blocks, index) = layer;
        writer.push(encode_layer(&Layer { index, blocks }, header).unwrap()).unwrap();
    }
    writer.finish().unwrap();
}

#[track_caller]
fn dose(folder: &Path, args: &[&str]) -> Value {
    let args = [&["dose"], args, &["--json"]].concat();
    serde_json::from_str(&check(folder, &args, 0, &[])).unwrap()
}

#[track_caller]
fn within(found: &Value, expected: f64, tolerance: f64) {
    let number = found.as_f64().unwrap_or(f64::NAN);
    assert!((number - expected).abs() <= tolerance, "{found} instead of {expected}");
}

#[test]
fn a_single_line_has_the_dose_and_the_outline_of_its_closed_form() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    write_line(folder, &header());
    // ½[erf(√2·x/w) + 1] at x = 0, −w/2, w/2 and w from the end, and exp(−2) one radius beside the line
    let places = [
        ("0,0", 1.0),
        ("-50,0", 0.5),
        ("-50.125,0", 0.158_655_3),
        ("49.875,0", 0.841_344_7),
        ("-49.75, 0", 0.977_249_9),
        ("3,-0.25", 0.135_335_283),
        ("0,40", 0.0),
    ];
    let mut args = vec![LINE, "--layer", "0", "--outline"];
    args.extend(places.iter().flat_map(|(place, _)| ["--at", place]));
    let said = dose(folder, &args);
    for (at, (place, share)) in places.iter().enumerate() {
        let dose = &said["places"][at]["dose_j_mm2"];
        assert!((dose.as_f64().unwrap() - share * PEAK).abs() < 1e-7 * PEAK, "{place}: {dose}");
    }
    within(&said["most_j_mm2"], PEAK, 1e-6 * PEAK);
    assert_eq!(said["hatches"].as_array().unwrap().len(), 0, "one line has no spacing: {said}");

    let nominal = &said["predictions"][0];
    assert_eq!((&nominal["powder_depth"], &nominal["curves"]), (&"nominal".into(), &1.into()));
    // The melt is w·√(2·ln(peak/threshold)) wide, and 0.052 166 23 mm longer at each end.
    let points: Vec<[f64; 2]> =
        serde_json::from_value(nominal["outline_points_mm"][0].clone()).unwrap();
    let most = |axis: usize| points.iter().map(|p| p[axis]).fold(f64::MIN, f64::max);
    within(&most(1).into(), 0.184_056_97, 1e-5);
    within(&most(0).into(), 50.052_166_23, 1e-5);
    within(&nominal["melted_mm2"], 36.811_393, 0.1);
    within(&nominal["outline_mm"], 200.5, 0.5);
    // the mean of 19 rows 0.02 mm apart, each PEAK·exp(−2y²/w²), but for the ends
    within(&nominal["dose"]["mean_j_mm2"], 0.013_766_79, 1e-4);
    within(&nominal["dose"]["least_j_mm2"], 1.02 * NOMINAL, 0.02 * NOMINAL);
    assert!(nominal["deviation"].is_null() && said["section"].is_null());
    let narrower = said["predictions"][1]["melted_mm2"].as_f64().unwrap();
    // for the other threshold: 100 mm · 0.25·√(2·ln(PEAK/0.013)) mm
    within(&narrower.into(), 22.003_2, 0.1);
}

#[test]
fn a_picture_shows_the_line_to_scale() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    write_line(folder, &header());
    let args = [LINE, "--layer", "0", "--pitch", "0.05", "--out", "out/dose.png"];
    let picture = &dose(folder, &args)["picture"];
    // the box of the line and four beam radii around it, both ends of each row a point
    assert_eq!(picture["shown"], serde_json::json!([2041, 41]));
    let file = std::io::BufReader::new(File::open(folder.join("out/dose.png")).unwrap());
    let mut reader = png::Decoder::new(file).read_info().unwrap();
    let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut pixels).unwrap();
    assert_eq!(picture["size"], serde_json::json!([info.width, info.height]));
    let dims = reader.info().pixel_dims.unwrap();
    assert_eq!((dims.xppu, dims.yppu), (20_000, 20_000), "pixels a metre");
    let number = |at: &Value| usize::try_from(at.as_u64().unwrap()).unwrap();
    let [left, top] = [0, 1].map(|axis| number(&picture["corner"][axis]));
    let colour = |x: usize, y: usize| {
        let at = 3 * ((top + y) * info.width as usize + left + x);
        [pixels[at], pixels[at + 1], pixels[at + 2]]
    };
    assert_eq!(colour(1020, 0), [252, 250, 244], "no dose is bare paper");
    assert_eq!(colour(1020, 20), [74, 24, 60], "the most is darkest");
    assert_eq!(colour(1020, 18), colour(1020, 22));
    let shown = "out/dose.png: ";
    check(folder, &[&["dose"], &args[..]].concat(), 0, &[shown, "pixels of 0.05 mm"]);
}

#[test]
fn what_the_file_does_not_say_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    write_line(folder, &Header { beam_radius_mm: None, melt: Vec::new(), ..header() });
    let line = ["dose", LINE, "--layer", "0"];
    let with = |args: &[&'static str]| [&line[..], args].concat();
    check(folder, &["verify", LINE], 0, &["whole"]);
    check(folder, &with(&["--threshold", "0.01"]), 2, &["how wide the beam is", "--beam-radius"]);
    check(folder, &with(&["--beam-radius", "0.25"]), 2, &["melts the powder", "--threshold"]);
    let both = with(&["--beam-radius", "0.25", "--threshold", "0.006476625"]);
    check(folder, &both, 0, &["the most 0.019149", "as stated", "closed curves around it: 1,"]);
    check(folder, &with(&["--beam-radius", "0", "--threshold", "1"]), 2, &["beam radius", "0"]);
    check(folder, &with(&["--beam-radius", "1", "--threshold=-1"]), 2, &["threshold", "-1"]);
}

#[test]
fn wrong_use_is_said_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    write_line(folder, &header());
    let line = ["dose", LINE, "--layer", "0"];
    let with = |args: &[&'static str]| [&line[..], args].concat();
    check(folder, &with(&["--at", "1"]), 2, &["X,Y", "comma"]);
    check(folder, &with(&["--pitch", "0"]), 2, &["grid points", "0"]);
    check(folder, &with(&["--pitch", "1e-6"]), 2, &["too large", "--pitch"]);
    check(folder, &with(&["--out", "dose.svg"]), 2, &["PNG", "dose.png"]);
    check(folder, &with(&["--recipe", "other"]), 2, &["other", "reference"]);
    check(folder, &with(&["--outline"]), 2, &["--json"]);
    check(folder, &["dose", LINE, "--layer", "7"], 2, &["layer 7", "2 layers"]);
    check(folder, &["dose", LINE, "--layer", "1"], 0, &["nothing is exposed", "0 is the last"]);
    check(folder, &["dose", "nowhere.hwv", "--layer", "1"], 2, &["nowhere.hwv"]);
}

#[test]
fn with_a_job_the_melt_is_compared_with_the_section() {
    let folder = small_job();
    let folder = folder.path();
    write(folder);
    let of_job = [FILE, "--layer", "150", "--job", JOB];
    let said = dose(folder, &of_job);
    within(&said["hatches"][0]["spacing_mm"], 0.2, 1e-9);
    within(&said["hatches"][0]["mean_j_mm2"], 0.03, 1e-9); // 24 W at 4000 mm/s
    let area = said["section"]["area_mm2"].as_f64().unwrap();
    let nominal = &said["predictions"][0];
    within(&nominal["melted_mm2"], area, 0.03 * area);
    let deviation = &nominal["deviation"];
    within(&deviation["mean_mm"], 0.0, 0.05);
    assert!(deviation["p95_mm"].as_f64().unwrap() < 0.15, "{deviation}");
    assert_eq!(deviation["vanished"], serde_json::json!([]));
    let counts: Vec<u64> =
        serde_json::from_value(deviation["histogram"]["counts"].clone()).unwrap();
    let all: u64 = counts.iter().sum();
    assert!(counts.len() == 20 && all > 1000 && counts[9] + counts[10] > all / 2, "{counts:?}");
    // A lone contour of 0.006 J/mm melts 0.1797 mm to either side where 0.0068175 J/mm² melt; its hatch
    // adds a little, deeper powder takes much.
    let offset = |prediction: &Value| prediction["proposed_offsets"][0]["proposed_mm"].as_f64();
    let (shallow, deep) = (offset(nominal).unwrap(), offset(&said["predictions"][1]).unwrap());
    assert!((0.1797..0.19).contains(&shallow) && deep < shallow - 0.02, "{shallow}, {deep}");
    let expected =
        ["beam offset of recipe \"PA12, 0.1 mm\"", "it has 0.184 mm", "hatch mean 0.03", "section"];
    check(folder, &[&["dose"], &of_job[..]].concat(), 0, &expected);
    let alone = [&["dose"], &of_job[..], &["--recipe", "PA12, 0.1 mm"]].concat();
    check(folder, &alone, 0, &["recipe \"PA12, 0.1 mm\" alone"]);

    write_line(folder, &header());
    let other = ["dose", LINE, "--layer", "0", "--job", JOB];
    check(folder, &other, 2, &["2 layers of 0.1 mm", "another job"]);
}
