//! What the machine measured at places of its build space, from the machine file to the proof.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::Progress;
use pipeline::{Build, load, strokes, verify_against};
use scan_path::{ExposureKind, Layer, VectorWriter, encode_layer};
use std::fmt::Write;
use std::path::Path;

/// A block of 8 × 6 × 1 mm.
const BLOCK: &str = "v 0 0 0\nv 8 0 0\nv 8 6 0\nv 0 6 0\nv 0 0 1\nv 8 0 1\nv 8 6 1\nv 0 6 1\n\
    f 1 4 3\nf 1 3 2\nf 5 6 7\nf 5 7 8\nf 1 2 6\nf 1 6 5\nf 2 3 7\nf 2 7 6\nf 3 4 8\nf 3 8 7\n\
    f 4 1 5\nf 4 5 8\n";

/// Where two equal parts stand, and what was measured there: power factor, change of the offset.
type Measured<'a> = &'a [([f64; 2], f64, f64)];
const MIDDLE: [f64; 2] = [0.0, 0.0];
const CORNER: [f64; 2] = [60.0, -50.0];

/// What a job is made of.
struct Set<'a> {
    mesh: &'a str,
    measured: Measured<'a>,
    max_power_w: f64,
    /// Fields that the recipe `pa12_fine.ron` gets beside its own.
    recipe: &'a str,
    /// What the second placement changes.
    changes: &'a str,
}

const USUAL: Set<'static> =
    Set { mesh: BLOCK, measured: &[], max_power_w: 30.0, recipe: "", changes: "" };

/// Two equal parts, one in the middle and one near a corner, without shrinkage.
fn build(set: &Set) -> Build {
    let folder = tempfile::tempdir().unwrap();
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets");
    let read = |file: &str| std::fs::read_to_string(assets.join(file)).unwrap();
    let write = |file: &str, text: &str| std::fs::write(folder.path().join(file), text).unwrap();
    let machine = read("machines/bench_co2_30w.ron");
    let machine = machine.replace("max_power_w: 30", &format!("max_power_w: {}", set.max_power_w));
    let place = |([x, y], power, offset): &([f64; 2], f64, f64)| {
        format!("(x_mm: {x}, y_mm: {y}, power_factor: {power}, offset_change_mm: {offset}),")
    };
    let places: String = set.measured.iter().map(place).collect();
    let end = machine.rfind(')').unwrap();
    write("machine.ron", &format!("{}field_corrections: [{places}],)", &machine[..end]));
    let recipe = read("recipes/pa12_fine.ron");
    let offset = "beam_offset_mm: 0.184,";
    assert!(recipe.contains(offset));
    let recipe = recipe.replace(offset, &format!("{} {offset}", set.recipe));
    write("recipe.ron", &recipe);
    write("part.obj", set.mesh);
    let [[ax, ay], [bx, by]] = [MIDDLE, CORNER];
    let job = format!(
        r#"(version: 3, name: "field", machine: "machine.ron", recipe: "recipe.ron", parts: [
            (name: "part", mesh: "part.obj", placements: [
                (location_mm: ({ax}, {ay}, 1)),
                (location_mm: ({bx}, {by}, 1), exposures: [{}]),
            ]),
        ])"#,
        set.changes
    );
    write("job.ron", &job);
    let mut loaded = load(&folder.path().join("job.ron"), &Progress::default()).unwrap();
    loaded.recipes[0].recipe.shrinkage_percent = [0.0; 3];
    Build::new(loaded, &Progress::default()).unwrap()
}

fn layers(build: &Build) -> Vec<Layer> {
    let layer = |k| build.layer(k, &Progress::default()).unwrap().layer;
    (0..build.layer_count()).map(layer).collect()
}

/// Whether what `made` writes is proven against `wanted`; if not, what is said first.
fn verdict(made: &Build, wanted: &Build) -> Result<(), String> {
    let mut writer = VectorWriter::new(Vec::new(), made.header.clone()).unwrap();
    for layer in layers(made) {
        writer.push(encode_layer(&layer, &made.header).unwrap()).unwrap();
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("field.hwv");
    std::fs::write(&path, writer.finish().unwrap().1).unwrap();
    let verdict = verify_against(&path, wanted, &Progress::default()).unwrap();
    match verdict.findings.first() {
        Some(finding) if !verdict.is_verified() => Err(finding.to_string()),
        _ => Ok(()),
    }
}

/// Name, power, speed and factor of the exposures of a placement in a layer.
fn used(build: &Build, layer: &Layer, placement: u32) -> Vec<(String, f64, f64, Option<f64>)> {
    let blocks = layer.blocks.iter().filter(|block| block.placement == placement);
    let rows = blocks.map(|block| &build.header.exposures[usize::from(block.exposure)]);
    rows.map(|row| (row.name.clone(), row.power_w, row.speed_mm_s, row.power_factor)).collect()
}

/// How far the contours of a placement lie inside its bounding box, nm, on the right.
fn contour_depth(build: &Build, layer: &Layer, placement: u32) -> i64 {
    let contours = layer
        .blocks
        .iter()
        .filter(|block| block.placement == placement && block.kind == ExposureKind::Contour);
    let points =
        contours.flat_map(|block| block.paths.iter().flatten().copied().collect::<Vec<_>>());
    let right = points.map(|point| i64::from(point.x)).max().unwrap();
    let [_, [x, ..]] = build.header.placements[placement as usize].bounds_mm.unwrap();
    i64::from(base::nm_from_mm(x).unwrap()) - right
}

const MEASURED: Measured<'static> = &[(MIDDLE, 1.0, 0.0), (CORNER, 1.08, 0.02)];

#[test]
fn two_equal_parts_get_what_their_places_ask_for_and_the_proof_holds_the_file_to_it() {
    let plain = build(&USUAL);
    let corrected = build(&Set { measured: MEASURED, ..USUAL });
    let k = 10;
    let layer = corrected.layer(k, &Progress::default()).unwrap().layer;
    let own = |name: &str, power, speed| (name.to_owned(), power, speed, None);
    assert_eq!(
        used(&corrected, &layer, 0),
        [own("contour", 7.2, 1200.0), own("hatch", 15.0, 2500.0)]
    );
    // 7.2 W × 1.08 and 15 W × 1.08
    let raised = |name: &str, power, speed| (name.to_owned(), power, speed, Some(1.08));
    let expected =
        [raised("contour, 108 % power", 7.776, 1200.0), raised("hatch, 108 % power", 16.2, 2500.0)];
    assert_eq!(used(&corrected, &layer, 1), expected);
    // pa12_fine.ron: 0.184 mm
    let depths = [0, 1].map(|placement| contour_depth(&corrected, &layer, placement));
    assert_eq!(depths, [184_000, 204_000]);
    let named: Vec<_> = corrected.header.exposures.iter().map(|row| row.name.as_str()).collect();
    let expected = ["hatch", "contour", "thin wall", "hatch, 108 % power"];
    assert_eq!(named[..4], expected);

    // The proof knows places by itself: neither a file without the correction passes, nor one for other places.
    let exchanged = build(&Set { measured: &[(CORNER, 1.0, 0.0), (MIDDLE, 1.08, 0.02)], ..USUAL });
    let all = [&plain, &corrected, &exchanged];
    for (i, made) in all.iter().enumerate() {
        for (j, wanted) in all.iter().enumerate() {
            let verdict = verdict(made, wanted);
            assert_eq!(verdict.is_ok(), i == j, "{i} {j}: {verdict:?}");
        }
    }
}

/// Without another power the tables are the same, and what tells files apart is where contours lie, and which
/// row each block has.
#[test]
fn offsets_alone_and_rows_alone_are_held_to_their_placements() {
    let offset = |a, b| [(MIDDLE, 1.0, a), (CORNER, 1.0, b)];
    let mut all = [(0.0, 0.02), (0.02, 0.0), (0.0, 0.019), (0.0, 0.0)]
        .map(|(a, b)| build(&Set { measured: &offset(a, b), ..USUAL }));
    let (right, others) = all.split_first_mut().unwrap();
    assert_eq!(verdict(right, right), Ok(()));
    for made in others {
        made.header = right.header.clone(); // where it has fewer rows for walls
        let said = verdict(made, right).unwrap_err();
        assert!(said.contains("contour") || said.contains("boundary"), "{said}");
    }
    let power = |a, b| [(MIDDLE, a, 0.0), (CORNER, b, 0.0)];
    let [right, mut exchanged] =
        [(1.0, 1.1), (1.1, 1.0)].map(|(a, b)| build(&Set { measured: &power(a, b), ..USUAL }));
    exchanged.header = right.header.clone();
    assert_eq!(verdict(&right, &right), Ok(()));
    assert!(verdict(&exchanged, &right).is_err(), "rows of the other placement");
}

/// Half way between 1.00 and 1.01, and between 0 and 1 µm: where sums in another order might round otherwise.
#[test]
fn halves_go_up_in_the_file_and_in_the_proof() {
    for away in [[50.0, 0.0], [33.3, 71.7], [0.1, -0.7]] {
        let other = away.map(|mm: f64| -mm);
        let measured = [(away, 1.0, 0.0), (other, 1.01, 0.001)];
        let build = build(&Set { measured: &measured, ..USUAL });
        let layer = build.layer(10, &Progress::default()).unwrap().layer;
        assert_eq!(used(&build, &layer, 0)[0].0, "contour, 101 % power", "{away:?}");
        assert_eq!(contour_depth(&build, &layer, 0), 185_000, "{away:?}");
        assert_eq!(verdict(&build, &build), Ok(()), "{away:?}");
    }
}

/// A comb of walls from 0.2 to 1.2 mm beside a block.
fn comb() -> String {
    let boxes = [(0.0, 4.0), (5.0, 5.2), (6.0, 6.4), (7.0, 7.7), (9.0, 10.2)];
    let mut text = String::new();
    for (n, (from, to)) in boxes.into_iter().enumerate() {
        for corner in 0..8 {
            let x = if corner & 1 == 0 { from } else { to };
            let y = if corner & 2 == 0 { 0 } else { 6 };
            let z = if corner & 4 == 0 { 0.0 } else { 0.5 };
            writeln!(text, "v {x} {y} {z}").unwrap();
        }
        for face in
            [[1, 3, 4, 2], [5, 6, 8, 7], [1, 2, 6, 5], [3, 7, 8, 4], [1, 5, 7, 3], [2, 4, 8, 6]]
        {
            let [a, b, c, d] = face.map(|corner| 8 * n + corner);
            writeln!(text, "f {a} {b} {c} {d}").unwrap();
        }
    }
    text
}

/// What the place loses is added to every line alike, also to those along narrow walls: as much arrives as in
/// the middle.
#[test]
fn lines_along_narrow_walls_follow() {
    let comb = comb();
    let set = Set { mesh: &comb, ..USUAL };
    let plain = build(&set);
    let measured = [(MIDDLE, 1.0, 0.0), (CORNER, 1.3, 0.0)];
    let corrected = build(&Set { measured: &measured, ..set });
    let k = plain.layer_count() - 2;
    let [before, after] =
        [&plain, &corrected].map(|build| build.layer(k, &Progress::default()).unwrap().layer);
    let [was, is] = [(&plain, &before), (&corrected, &after)]
        .map(|(build, layer)| strokes(&layer.blocks, &build.header.exposures));
    assert_eq!(was.len(), is.len());
    let arriving = |stroke: &estimate::Stroke| format!("{stroke:.6?}");
    let differing = was.iter().zip(&is).find(|(a, b)| arriving(a) != arriving(b));
    assert_eq!(differing, None);
    let lines = after.blocks.iter().filter(|block| block.kind == ExposureKind::Centreline);
    let rows = lines.filter(|block| block.placement == 1);
    let rows: Vec<_> =
        rows.map(|block| &corrected.header.exposures[usize::from(block.exposure)]).collect();
    assert!(rows.len() > 2, "{rows:?}");
    for row in rows {
        assert!(row.name.starts_with("thin wall, 130 % power"), "{}", row.name);
        let step = row.name.split(" × ").nth(1).map_or(1.0, |factor| factor.parse().unwrap());
        // pa12_fine.ron: 4.5 W at 1000 mm/s; names say factors to two decimals
        let energy = row.power_w / row.speed_mm_s / (4.5 * 1.3 / 1000.0);
        assert!((energy / step - 1.0).abs() < 0.02, "{row:?}");
    }
    assert_eq!(verdict(&corrected, &corrected), Ok(()));
    let measured = [(MIDDLE, 1.0, 0.0), (CORNER, 0.8, 0.04)];
    let wider = build(&Set { measured: &measured, ..set });
    assert_eq!(verdict(&wider, &wider), Ok(()));
}

#[test]
fn where_the_laser_has_no_more_power_marks_are_slower() {
    let build = build(&Set { measured: MEASURED, max_power_w: 15.5, ..USUAL });
    let layer = build.layer(10, &Progress::default()).unwrap().layer;
    let (name, power, speed, factor) = used(&build, &layer, 1).pop().unwrap();
    assert_eq!((name.as_str(), power, factor), ("hatch, 108 % power", 15.5, Some(1.08)));
    // 2500 mm/s × 15.5 W / 16.2 W
    assert!((speed - 2_391.975_309).abs() < 1e-6, "{speed}");
    assert_eq!(verdict(&build, &build), Ok(()));
}

#[test]
fn changes_of_placements_and_offsets_of_holes_go_together_with_the_place() {
    // a plate of 8 × 6 mm with a hole of 3 × 3 mm
    let mut plate = String::new();
    for z in [0, 1] {
        for (x0, y0, x1, y1) in [(0.0, 0.0, 8.0, 6.0), (2.0, 1.5, 5.0, 4.5)] {
            for (x, y) in [(x0, y0), (x1, y0), (x1, y1), (x0, y1)] {
                writeln!(plate, "v {x} {y} {z}").unwrap();
            }
        }
    }
    for k in 1..=4 {
        let next = k % 4 + 1;
        for face in [
            [k, next, next + 8, k + 8],
            [next + 4, k + 4, k + 12, next + 12],
            [next, k, k + 4, next + 4],
            [k + 8, next + 8, next + 12, k + 12],
        ] {
            let [a, b, c, d] = face;
            writeln!(plate, "f {a} {b} {c} {d}").unwrap();
        }
    }
    let set = Set {
        mesh: &plate,
        measured: MEASURED,
        recipe: "hole_offset_mm: 0.15,",
        changes: "(name: \"hatch\", power_w: 20), (name: \"contour\", power_w: 7.2)",
        ..USUAL
    };
    let made = build(&set);
    let layer = made.layer(10, &Progress::default()).unwrap().layer;
    let names: Vec<_> =
        used(&made, &layer, 1).into_iter().map(|(name, power, ..)| (name, power)).collect();
    let expected = [("contour, 7.2 W, 108 % power", 7.776), ("hatch, 20 W, 108 % power", 21.6)];
    assert_eq!(names, expected.map(|(name, power)| (name.to_owned(), power)));
    assert_eq!(verdict(&made, &made), Ok(()));
    // A change to the recipe's own number needs no row.
    let same = build(&Set { measured: &[], ..set });
    assert!(same.header.exposures.iter().all(|row| row.name != "contour, 7.2 W"));
    assert_eq!(verdict(&same, &same), Ok(()));
    assert!(verdict(&same, &made).is_err() && verdict(&made, &same).is_err());
}
