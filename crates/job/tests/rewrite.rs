//! Files rewritten in place: the new value is in them, and what the person wrote beside it is too.

#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use job::recipe::{Exposure, StartPoint};
use job::{Clearances, Job, Machine, NestRules, Placement, Recipe, loses_comments};
use proptest::prelude::*;
use std::path::Path;

fn file(name: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    std::fs::read_to_string(root.join(name)).unwrap()
}

/// Lines of `text` that are not in `earlier`, and the other way round.
fn changed_lines(earlier: &str, text: &str) -> (Vec<String>, Vec<String>) {
    let only = |a: &str, b: &str| {
        a.lines().filter(|line| b.lines().all(|other| other != *line)).map(str::to_owned).collect()
    };
    (only(earlier, text), only(text, earlier))
}

#[test]
fn a_changed_number_changes_one_line() {
    let text = file("assets/recipes/pa12.ron");
    let mut recipe = Recipe::from_ron(&text).unwrap();
    assert_eq!(recipe.to_ron_over(&text), text, "nothing changed");
    recipe.beam_offset_mm = 0.25;
    let written = recipe.to_ron_over(&text);
    let (gone, new) = changed_lines(&text, &written);
    let comment = "// computed; tune with coupons (thickness of walls of several widths)";
    assert_eq!(gone, [format!("    beam_offset_mm: 0.184, {comment}")]);
    assert_eq!(new, [format!("    beam_offset_mm: 0.25, {comment}")]);
    assert_eq!(Recipe::from_ron(&written), Ok(recipe));
}

/// As a person may lay it out.
const LAID_OUT: &str = r#"// about all
(
    version: 3, name: "a", machine: "m", recipe: "r", // on one line
    parts: [ // the parts
        ( // first
            name: "b", mesh: "b.stl",
            placements: [(location_mm: (0, 0, 9)), (location_mm: (20, 0, 9))], // two
        ),
        // before the second
        (name: "c", mesh: "c.stl", placements: [
            (location_mm: (0, 50, 9)), // left
            (location_mm: (20, 50, 9)) // right
        ]), // behind the second
    ],
)
"#;

/// The same with what the test changes.
const CHANGED: &str = r#"// about all
(
    version: 3, name: "a", machine: "m", recipe: "r", // on one line
    clearances: (parts_mm: 2.0, walls_mm: 1.0),
    parts: [ // the parts
        ( // first
            name: "b", mesh: "b.stl",
            nest: (quantity: 4, allowed_orientations: QuarterTurns),
            placements: [
                (
                    location_mm: (0.0, 0.0, 9.0),
                    rotation_deg: (0.0, 0.0, 0.0),
                ),
                (
                    location_mm: (21.0, 0.0, 9.0),
                    rotation_deg: (0.0, 0.0, 0.0),
                ),
                (
                    location_mm: (40.0, 0.0, 9.0),
                    rotation_deg: (0.0, 0.0, 0.0),
                ),
            ], // two
        ),
        // before the second
        (name: "c", mesh: "c.stl", placements: [
            // left
            (location_mm: (20, 50, 9)), // right
            (location_mm: (60.0, 50.0, 9.0), rotation_deg: (0.0, 0.0, 0.0)),
        ]), // behind the second
    ],
)
"#;

#[test]
fn what_is_added_taken_out_and_exchanged_stands_where_it_belongs() {
    let mut job = Job::from_ron(LAID_OUT).unwrap();
    let at = |x: f64, y: f64| Placement { location_mm: [x, y, 9.0], rotation_deg: [0.0; 3] };
    job.parts[0].placements[1] = at(21.0, 0.0);
    job.parts[0].placements.push(at(40.0, 0.0));
    job.parts[0].nest = Some(NestRules { quantity: Some(4), ..NestRules::default() });
    job.parts[1].placements.remove(0);
    job.parts[1].placements.push(at(60.0, 50.0));
    job.clearances = Clearances { parts_mm: 2.0, walls_mm: 1.0 };
    let written = job.to_ron_over(LAID_OUT);
    assert_eq!(written, CHANGED);
    assert!(!loses_comments(LAID_OUT, &written));
    assert_eq!(Job::from_ron(&written), Ok(job.clone()));
    // And back again.
    let earlier = Job::from_ron(LAID_OUT).unwrap();
    let back = earlier.to_ron_over(&written);
    assert_eq!(Job::from_ron(&back), Ok(earlier));
    assert!(!loses_comments(LAID_OUT, &back));
    // A part that goes takes what is said in it along.
    job.parts.remove(0);
    let fewer = job.to_ron_over(LAID_OUT);
    assert_eq!(Job::from_ron(&fewer), Ok(job));
    assert!(loses_comments(LAID_OUT, &fewer) && fewer.contains("// before the second"), "{fewer}");
}

#[test]
fn an_earlier_version_is_renewed_with_its_comments() {
    for name in ["pa12.ron", "pa12_glass.ron", "tide_gauge_kit.ron"] {
        let text = file(&format!("crates/job/tests/version_1/{name}"));
        let (written, expected) = if name.starts_with("pa12") {
            let recipe = Recipe::from_ron(&text).unwrap();
            (recipe.to_ron_over(&text), recipe.to_ron())
        } else {
            let job = Job::from_ron(&text).unwrap();
            (job.to_ron_over(&text), job.to_ron())
        };
        assert!(written.contains("version: 3") && !loses_comments(&text, &written), "{written}");
        let same = match (Recipe::from_ron(&written), Recipe::from_ron(&expected)) {
            (Ok(a), Ok(b)) => a == b,
            _ => Job::from_ron(&written).unwrap() == Job::from_ron(&expected).unwrap(),
        };
        assert!(same, "{written}");
    }
}

#[test]
fn text_that_cannot_be_followed_is_written_anew() {
    let machine = Machine::from_ron(&file("assets/machines/bench_co2_30w.ron")).unwrap();
    for text in ["", "(", "(version: 3)", "// nothing", &file("demo-jobs/coupon.ron")] {
        assert_eq!(machine.to_ron_over(text), machine.to_ron());
    }
}

#[test]
fn a_comment_is_lost_as_often_as_it_is_missing() {
    assert!(!loses_comments("a // x\n/* y */ \"// z\"", "/* y */ // x"));
    assert!(loses_comments("// x\n// x\n", "// x\n"));
}

/// What people change, one thing at a time.
#[derive(Clone, Debug)]
enum Change {
    Number(usize, f64),
    Text(usize, String),
    Pattern(bool),
    MoreExposures(usize),
    HoleOffset(Option<f64>),
}

fn change() -> impl Strategy<Value = Change> {
    let text = "[a-z \"\\\\/(){},:äµ\n#]{0,12}[a-z]";
    prop_oneof![
        4 => (0..9_usize, 0.4..0.6_f64).prop_map(|(which, to)| Change::Number(which, to)),
        2 => (0..2_usize, text).prop_map(|(which, to)| Change::Text(which, to)),
        1 => any::<bool>().prop_map(Change::Pattern),
        1 => (1..3_usize).prop_map(Change::MoreExposures),
        1 => prop::option::of(0.1..0.3_f64).prop_map(Change::HoleOffset),
    ]
}

fn carry_out(recipe: &mut Recipe, change: Change) {
    match change {
        Change::Number(0, to) => recipe.layer_thickness_mm = to,
        Change::Number(1, to) => recipe.material.latent_heat_j_g = 100.0 * to,
        Change::Number(2, to) => recipe.shrinkage_percent[1] = to,
        Change::Number(3, to) => recipe.z_growth_mm = to,
        Change::Number(4, to) => recipe.beam_offset_mm = to,
        Change::Number(which, to) => {
            let at = which % recipe.exposures.len();
            recipe.exposures[at].power_w = 40.0 * to;
            recipe.exposures[at].path_run_in_mm = to;
        }
        Change::Text(0, to) => recipe.name = to,
        Change::Text(_, to) => recipe.notes = to,
        Change::Pattern(spread) => {
            if let Some(contours) = &mut recipe.core.contours {
                contours.start =
                    if spread { StartPoint::Spread } else { StartPoint::Towards(30.0) };
            }
        }
        Change::MoreExposures(count) => {
            for number in 0..count {
                let name = format!("further {} {number}", recipe.exposures.len());
                let last = recipe.exposures[0].clone();
                recipe.exposures.insert(number, Exposure { name, ..last });
            }
        }
        Change::HoleOffset(to) => recipe.hole_offset_mm = to,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// Whatever is changed, the text reads as one written anew does, and every comment is still there.
    #[test]
    fn recipes_keep_their_comments(
        which in prop::sample::select(vec!["pa12", "pa11", "pa12_fine", "pa12_glass", "tpu"]),
        changes in prop::collection::vec(change(), 1..5),
    ) {
        let mut text = file(&format!("assets/recipes/{which}.ron"));
        let comments = text.clone();
        let mut recipe = Recipe::from_ron(&text).unwrap();
        for change in changes {
            carry_out(&mut recipe, change);
            prop_assume!(recipe.validate().is_ok());
            text = recipe.to_ron_over(&text);
            prop_assert_eq!(Recipe::from_ron(&text), Recipe::from_ron(&recipe.to_ron()));
            prop_assert!(!loses_comments(&comments, &text), "{}", text);
        }
    }

    /// Placements that come, go and move, in a job of many parts.
    #[test]
    fn jobs_keep_the_comments_of_what_stays(
        moves in prop::collection::vec((0..12_usize, 0..6_usize, 0..3_u8, 1.0..90.0_f64), 1..6),
    ) {
        let original = file("demo-jobs/tide_gauge_kit.ron");
        let mut text = original.clone();
        let mut job = Job::from_ron(&text).unwrap();
        for (part, copy, what, to) in moves {
            let count = job.parts.len();
            let part = &mut job.parts[part % count];
            let copy = copy % part.placements.len();
            let [_, y, z] = part.placements[copy].location_mm;
            let moved = Placement { location_mm: [to, y, z], rotation_deg: [0.0, 0.0, to] };
            match what {
                0 => part.placements[copy] = moved,
                1 => part.placements.insert(copy, moved),
                _ if part.placements.len() > 1 => part.remove_placement(copy),
                _ => part.mesh.push('x'),
            }
            prop_assume!(job.validate().is_ok());
            text = job.to_ron_over(&text);
            prop_assert_eq!(Job::from_ron(&text), Ok(job.clone()));
            prop_assert!(text.starts_with(original.lines().next().unwrap()), "{}", text);
        }
    }
}
