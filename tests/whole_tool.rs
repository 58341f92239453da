//! Tests of the whole tool: jobs in, vector files out, proofs that find what is wrong.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::{Cancelled, Kind, Point, Progress, Severity};
use pipeline::{Build, LayerError, Survey, Verdict, verify_against, verify_alone};
use scan_path::{Block, ExposureKind, Header, Layer, Paths};
use slicing::Scratch;
use std::path::{Path, PathBuf};
use whole_tool_tests::{build, job_of, python_reads, root, vector_bytes, write_layers};

/// A file on disk, its job and its layers, to plant faults in.
struct Planted {
    folder: tempfile::TempDir,
    build: Build,
    layers: Vec<Layer>,
}

impl Planted {
    fn new(build: Build) -> Self {
        let layers = (0..build.layer_count())
            .map(|k| build.layer(k, &Progress::default()).unwrap().layer)
            .collect();
        Self { folder: tempfile::tempdir().unwrap(), build, layers }
    }

    fn coupon() -> Self {
        Self::new(build(&root().join("demo-jobs/coupon.ron")))
    }

    fn verdict(&self) -> Verdict {
        let path = self.folder.path().join("planted.hwv");
        write_layers(&path, &self.build.header, &self.layers);
        let progress = Progress::default();
        assert!(verify_alone(&path, &progress).unwrap().is_verified(), "the file alone is whole");
        verify_against(&path, &self.build, &progress).unwrap()
    }

    #[track_caller]
    fn must_show(&self, kind: &str, layer: u32) {
        let verdict = self.verdict();
        let found = verdict.findings.iter().any(|finding| {
            finding.severity() == Severity::Stop
                && finding.kind().as_str() == kind
                && finding.place.layers == Some((layer, layer))
        });
        assert!(found, "wanted {kind} in layer {layer}, found {:?}", verdict.findings);
    }

    fn block(&mut self, layer: u32, kind: ExposureKind) -> &mut Block {
        let blocks = &mut self.layers[layer as usize].blocks;
        blocks.iter_mut().find(|block| block.kind == kind).unwrap()
    }

    fn hatch(&mut self, layer: u32) -> &mut Vec<[Point; 2]> {
        match &mut self.block(layer, ExposureKind::Hatch).paths {
            Paths::Segments(segments) => segments,
            Paths::Polylines { .. } => panic!("hatch is made of single marks"),
        }
    }
}

/// A layer in the middle of the coupon, away from surfaces that face up or down.
const MIDDLE: u32 = 150;

/// Index of the longest mark, whose loss leaves the plainest hole.
fn longest(marks: &[[Point; 2]]) -> usize {
    (0..marks.len())
        .max_by(|&a, &b| {
            let length = |i: usize| marks[i][0].distance(marks[i][1]);
            length(a).total_cmp(&length(b))
        })
        .unwrap()
}

#[test]
fn what_the_tool_writes_is_verified() {
    let planted = Planted::coupon();
    let verdict = planted.verdict();
    assert!(verdict.is_verified(), "{:?}", verdict.findings);
    assert!(verdict.points_tested > 1_000_000);
}

#[test]
fn a_hatch_vector_moved_within_the_part_is_found() {
    let mut planted = Planted::coupon();
    let hatch = planted.hatch(MIDDLE);
    let i = longest(hatch);
    let [a, b] = hatch[i];
    // Half a spacing sideways: still inside, still along the scan angle.
    let length = a.distance(b);
    let (dx, dy) = (f64::from(b.x - a.x) / length, f64::from(b.y - a.y) / length);
    #[expect(clippy::cast_possible_truncation, reason = "a tenth of a millimetre")]
    let side = |p: Point| Point::new(p.x - (dy * 1e5) as i32, p.y + (dx * 1e5) as i32);
    let inward = |p: Point, q: Point| Point::new(p.x + (q.x - p.x) / 20, p.y + (q.y - p.y) / 20);
    hatch[i] = [side(inward(a, b)), side(inward(b, a))];
    planted.must_show("hatch_missing", MIDDLE);
}

#[test]
fn a_vector_moved_out_of_the_part_is_found() {
    let mut planted = Planted::coupon();
    let hatch = planted.hatch(MIDDLE);
    let i = longest(hatch);
    // along its line, as far as the part is long
    let [a, b] = hatch[i];
    let length = a.distance(b);
    let by = [b.x - a.x, b.y - a.y].map(|d| (f64::from(d) / length * 4e7).round());
    #[expect(clippy::cast_possible_truncation, reason = "40 mm")]
    let by = by.map(|d| d as i32);
    hatch[i] = hatch[i].map(|p| Point::new(p.x + by[0], p.y + by[1]));
    planted.must_show("mark_outside", MIDDLE);
}

#[test]
fn a_dropped_hatch_vector_is_found() {
    let mut planted = Planted::coupon();
    let hatch = planted.hatch(MIDDLE);
    let i = longest(hatch);
    hatch.remove(i);
    planted.must_show("hatch_missing", MIDDLE);
}

#[test]
fn a_dropped_contour_is_found() {
    let mut planted = Planted::coupon();
    planted.layers[MIDDLE as usize].blocks.retain(|block| block.kind != ExposureKind::Contour);
    planted.must_show("contour_missing", MIDDLE);
}

#[test]
fn swapped_layers_are_found_even_where_the_sections_are_alike() {
    let mut planted = Planted::coupon();
    let (a, b) = (MIDDLE as usize, MIDDLE as usize + 1);
    let blocks = std::mem::take(&mut planted.layers[a].blocks);
    planted.layers[a].blocks = std::mem::replace(&mut planted.layers[b].blocks, blocks);
    planted.must_show("hatch_astray", MIDDLE);
    planted.must_show("hatch_astray", MIDDLE + 1);
}

#[test]
fn a_dropped_centreline_is_found() {
    let grille = root().join("assets/parts/grille.stl");
    let (_folder, job) = job_of(&grille, "pa12_fine.ron", [0.0, 0.0, 10.0]);
    let mut planted = Planted::new(build(&job));
    assert!(planted.verdict().is_verified());
    let layer = planted
        .layers
        .iter_mut()
        .find(|layer| layer.blocks.iter().any(|b| b.kind == ExposureKind::Centreline))
        .expect("the grille has walls thinner than twice the beam offset");
    let index = layer.index;
    layer.blocks.retain(|block| block.kind != ExposureKind::Centreline);
    planted.must_show("centreline_missing", index);
}

#[test]
fn another_power_or_place_than_the_jobs_is_found() {
    for change in [
        |planted: &mut Planted| planted.build.header.exposures[0].power_w += 1.0,
        |planted: &mut Planted| planted.build.header.placements[0].location_mm[0] += 0.5,
        |planted: &mut Planted| planted.build.header.jump_speed_mm_s *= 2.0,
    ] {
        let mut planted = Planted::coupon();
        change(&mut planted);
        let path = planted.folder.path().join("changed.hwv");
        write_layers(&path, &planted.build.header, &planted.layers);
        let job = build(&root().join("demo-jobs/coupon.ron"));
        let verdict = verify_against(&path, &job, &Progress::default()).unwrap();
        assert!(
            verdict.findings.iter().any(|f| f.kind().as_str() == "header_differs"),
            "{verdict:?}"
        );
    }
}

#[test]
fn beam_and_melt_are_compared_where_the_file_states_them() {
    let planted = Planted::coupon();
    let header = &planted.build.header;
    let job = build(&root().join("demo-jobs/coupon.ron"));
    let found = |header: &Header| {
        let path = planted.folder.path().join("changed.hwv");
        write_layers(&path, header, &planted.layers);
        let verdict = verify_against(&path, &job, &Progress::default()).unwrap();
        format!("{:?}", verdict.findings)
    };
    let differs = |found: &str| ["beam radius", "energy that melts"].map(|w| found.contains(w));
    let wider = Header { beam_radius_mm: Some(0.3), ..header.clone() };
    assert_eq!(differs(&found(&wider)), [true, false]);
    let mut harder = header.clone();
    harder.melt[0].steady_j_mm2 *= 1.001;
    assert_eq!(differs(&found(&harder)), [false, true]);
    let bare = Header { beam_radius_mm: None, melt: Vec::new(), ..header.clone() };
    assert_eq!(differs(&found(&bare)), [false, false]);
}

#[test]
fn a_flipped_byte_is_found_wherever_it_is() {
    let planted = Planted::coupon();
    let bytes = vector_bytes(&planted.build);
    let mut unfound = 0;
    let mut files = vec![planted.folder.path().join("whole.hwv")];
    std::fs::write(&files[0], &bytes).unwrap();
    for i in (0..bytes.len()).step_by(bytes.len() / 40) {
        let mut flipped = bytes.clone();
        flipped[i] ^= 0x04;
        let path = planted.folder.path().join(format!("flipped_{i}.hwv"));
        std::fs::write(&path, flipped).unwrap();
        let verdict = verify_alone(&path, &Progress::default());
        // An unused bit of the compression may change nothing; a caution says that bytes differ.
        unfound += usize::from(verdict.is_ok_and(|verdict| verdict.findings.is_empty()));
        files.push(path);
    }
    // The other reader refuses the broken file too, or the byte is one that it has no use for.
    let said = python_reads(&files);
    assert!(said[0]["refused"].is_null(), "{}", said[0]);
    assert!(said.iter().all(|file| !file["refused"].is_null() || *file == said[0]), "{said:?}");
    let refused = said.iter().filter(|file| !file["refused"].is_null()).count();
    assert!(refused > 35, "{refused} of 40 flipped files refused");
    assert_eq!(unfound, 0, "of 40 flipped bytes");
}

#[test]
fn the_bytes_do_not_depend_on_the_number_of_threads() {
    let build = build(&root().join("demo-jobs/coupon.ron"));
    let with_threads = |count| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(count).build().unwrap();
        pool.install(|| vector_bytes(&build))
    };
    let one = with_threads(1);
    assert!(one == with_threads(2) && one == with_threads(5));
}

/// What the survey of all layers finds on this many threads, after so many looks at what has come.
fn surveyed(build: &Build, threads: usize, looks: &mut u32) -> Survey {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    let mut so_far = |_: &Survey| {
        *looks += 1;
        Ok(())
    };
    pool.install(|| build.survey(&Progress::default(), &mut so_far)).unwrap()
}

#[test]
fn the_survey_does_not_depend_on_the_number_of_threads_and_sums_what_the_layers_hold() {
    let build = build(&root().join("demo-jobs/coupon.ron"));
    let mut looks = 0;
    let one = surveyed(&build, 1, &mut looks);
    assert!(looks > 1, "shown only at the end");
    for threads in [2, 5] {
        let other = surveyed(&build, threads, &mut 0);
        assert_eq!((&other.layers, &other.extents), (&one.layers, &one.extents), "{threads}");
        let findings = [&other, &one].map(|survey| build.layer_findings(&survey.report));
        assert_eq!(findings[0], findings[1], "{threads}");
    }
    for (index, sums) in (0..).zip(&one.layers) {
        let layer = build.layer(index, &Progress::default()).unwrap().layer;
        let paths = layer.blocks.iter().flat_map(|block| block.paths.iter());
        let marks_nm: f64 =
            paths.flat_map(|path| path.windows(2)).map(|mark| mark[0].distance(mark[1])).sum();
        let (told, held) = (sums.mark_mm, marks_nm / 1e6);
        let rounding_mm = 0.5e-6 * sums.marks as f64 + 1e-9; // each mark counts in whole nm
        assert!(
            (told - held).abs() <= rounding_mm,
            "layer {index}: {told} mm told, {held} mm held"
        );
    }
    assert_eq!(one.layers.len(), build.layer_count() as usize);
}

#[test]
fn a_survey_that_is_cancelled_between_two_looks_ends() {
    let build = build(&root().join("demo-jobs/coupon.ron"));
    let mut looks = 0;
    let ended = build.survey(&Progress::default(), &mut |so_far: &Survey| {
        looks += 1;
        assert!((so_far.layers.len() as u64) < u64::from(build.layer_count()));
        Err(Cancelled)
    });
    assert!(matches!(ended, Err(LayerError::Cancelled(_))) && looks == 1);
}

#[test]
fn a_layer_alone_is_the_layer_in_its_run() {
    let build = build(&root().join("demo-jobs/tide_gauge_kit.ron"));
    let progress = Progress::default();
    let run = build.layers(100..104, &mut Scratch::default(), &progress).unwrap();
    for computed in run {
        let alone = build.layer(computed.layer.index, &progress).unwrap();
        assert_eq!(alone.layer, computed.layer);
    }
}

/// Stripes, cells, several kinds of region: every recipe that we ship is written and proven.
#[test]
fn every_recipe_is_verified() {
    let bracket = root().join("assets/parts/sensor_bracket.obj");
    for recipe in ["pa12.ron", "pa12_fine.ron", "pa11.ron", "tpu.ron", "pa12_glass.ron"] {
        let (_folder, job) = job_of(&bracket, recipe, [0.0, 0.0, 21.0]);
        let verdict = Planted::new(build(&job)).verdict();
        assert!(verdict.is_verified(), "{recipe}: {:?}", verdict.findings);
    }
}

/// A file is not proven against a recipe that was changed after it was written.
#[test]
fn a_recipe_changed_afterwards_is_found() {
    let bracket = root().join("assets/parts/sensor_bracket.obj");
    let text = std::fs::read_to_string(root().join("assets/recipes/pa12.ron")).unwrap();
    for (from, to) in [
        ("beam_offset_mm: 0.184", "beam_offset_mm: 0.23"),
        ("beam_offset_mm: 0.184", "beam_offset_mm: 0.15"),
        ("spacing_mm: 0.2,", "spacing_mm: 0.16,"),
        ("spacing_mm: 0.2,", "spacing_mm: 0.3,"),
        ("gap_mm: 0.1,", "gap_mm: 0.2,"),
        ("angle_deg: 45", "angle_deg: 44"),
        ("z_growth_mm: 0.1", "z_growth_mm: 0.3"),
        ("shrinkage_percent: (3.2", "shrinkage_percent: (3.0"),
    ] {
        let (folder, job) = job_of(&bracket, "pa12.ron", [0.0, 0.0, 21.0]);
        let planted = Planted::new(build(&job));
        let path = folder.path().join("before.hwv");
        write_layers(&path, &planted.build.header, &planted.layers);
        let changed = text.replace(from, to);
        assert_ne!(changed, text, "{from}");
        let recipe = folder.path().join("changed.ron");
        std::fs::write(&recipe, changed).unwrap();
        let original = root().join("assets/recipes/pa12.ron").canonicalize().unwrap();
        let job_text = std::fs::read_to_string(&job).unwrap();
        let job_text =
            job_text.replace(&original.display().to_string(), &recipe.display().to_string());
        std::fs::write(&job, job_text).unwrap();
        let verdict = verify_against(&path, &build(&job), &Progress::default()).unwrap();
        assert!(!verdict.is_verified(), "{from} to {to} was not found");
    }
}

#[test]
fn parts_that_overlap_stop_the_job() {
    let bracket = root().join("assets/parts/sensor_bracket.obj");
    let (_folder, job) = job_of(&bracket, "pa12.ron", [0.0, 0.0, 21.0]);
    let text = std::fs::read_to_string(&job).unwrap();
    let twice = text.replace("placements: [", "placements: [(location_mm: (1, 0, 21)), ");
    std::fs::write(&job, twice).unwrap();
    let build = build(&job);
    let computed = build.layer(100, &Progress::default()).unwrap();
    let findings = build.layer_findings(&computed.report);
    assert!(
        findings
            .iter()
            .any(|f| f.kind() == Kind::PlacementsOverlap && f.severity() == Severity::Stop),
        "{findings:?}"
    );
}

/// Broken but readable meshes: sections are closed or resolved, findings say so, the file proves.
#[test]
fn broken_meshes_are_built_with_findings() {
    for (file, kind) in [
        ("broken/sphereWithHole.stl", "open_edges"),
        ("broken/wallhole.obj", "over_shared_edges"),
        ("broken/not_convex.obj", "over_shared_edges"),
        ("overlapping_bodies/420.obj", "self_intersections"),
    ] {
        let mesh = root().join("tests/meshes").join(file);
        let (_folder, job) = job_of(&mesh, "pa12.ron", [0.0, 0.0, 20.0]);
        let build = build(&job);
        let kinds: Vec<&str> = build.findings.iter().map(|f| f.kind().as_str()).collect();
        assert!(kinds.contains(&kind), "{file}: {kinds:?}");
        let planted = Planted::new(build);
        let verdict = planted.verdict();
        assert!(verdict.is_verified(), "{file}: {:?}", verdict.findings);
    }
}

#[test]
fn no_demo_job_has_a_caution_about_its_meshes() {
    for job in ["demo-jobs/coupon.ron", "demo-jobs/tide_gauge_kit.ron"] {
        let build = build(&root().join(job));
        let worst = build.findings.iter().map(base::Finding::severity).max();
        assert!(worst < Some(Severity::Caution), "{job}: {:?}", build.findings);
        for mesh in &build.loaded.meshes {
            assert!(mesh.health.is_sound(), "{}", mesh.file);
        }
    }
}

/// Mesh files that cannot be read give an error that names the file.
#[test]
fn unreadable_meshes_give_an_error_with_the_file() {
    let folder = tempfile::tempdir().unwrap();
    for (name, content) in [
        ("empty.stl", &b""[..]),
        ("cut.stl", b"solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0"),
        ("zip.3mf", b"PK\x03\x04 but no more"),
        ("index.obj", b"v 0 0 0\nf 1 2 3\n"),
    ] {
        let mesh: PathBuf = folder.path().join(name);
        std::fs::write(&mesh, content).unwrap();
        let (_folder, job) = job_of(&mesh, "pa12.ron", [0.0, 0.0, 20.0]);
        let error = pipeline::load(Path::new(&job), &Progress::default()).unwrap_err();
        assert!(error.to_string().contains(name), "{error}");
    }
}
