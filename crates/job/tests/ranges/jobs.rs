//! Values of jobs, and what is done with their placements.

use super::sentences;
use base::PlacementId;
use job::{Clearances, ExposureChange, Job, NestRules, PartEntry, PartOrder, Placement};
use std::collections::BTreeMap;

fn job() -> Job {
    let part = |name: &str| PartEntry {
        name: name.to_owned(),
        mesh: "part.stl".to_owned(),
        object: None,
        unit: None,
        recipe: None,
        nest: None,
        placements: vec![
            Placement { location_mm: [0.0, 0.0, 10.0], rotation_deg: [0.0; 3] },
            Placement { location_mm: [40.0, 0.0, 10.0], rotation_deg: [0.0; 3] },
        ],
        exposure_changes: BTreeMap::new(),
        accepted: Vec::new(),
    };
    Job {
        version: Job::VERSION,
        name: "test".to_owned(),
        machine: "machine.ron".to_owned(),
        recipe: "recipe.ron".to_owned(),
        clearances: Clearances::default(),
        part_order: PartOrder::default(),
        accepted: Vec::new(),
        parts: vec![part("one"), part("two")],
    }
}

/// Breaks one value of a valid job.
#[track_caller]
fn check(spoil: impl FnOnce(&mut Job), sentence: &str) {
    let mut job = job();
    spoil(&mut job);
    assert_eq!(sentences(job.validate()), [sentence]);
}

fn copies(quantity: u32) -> NestRules {
    NestRules { quantity: Some(quantity), ..NestRules::default() }
}

#[test]
fn the_job_and_its_parts() {
    assert_eq!(job().validate(), Ok(()));
    check(|j| j.version = 0, "version is 0; it must be at least 1 and at most 3");
    check(|j| j.name.clear(), r#"name is ""; it must be text that is not blank"#);
    check(|j| j.machine.clear(), r#"machine is ""; it must be text that is not blank"#);
    check(|j| j.recipe.clear(), r#"recipe is ""; it must be text that is not blank"#);
    check(|j| j.parts.clear(), "parts is empty; it must be a list of at least one");
    check(
        |j| j.parts[1].name = "one".to_owned(),
        r#"parts[1].name is "one"; it must be different from parts[0].name"#,
    );
    check(|j| j.parts[0].name.clear(), r#"parts[0].name is ""; it must be text that is not blank"#);
    check(|j| j.parts[0].mesh.clear(), r#"parts[0].mesh is ""; it must be text that is not blank"#);
    check(
        |j| j.parts[0].object = Some(String::new()),
        r#"parts[0].object is ""; it must be text that is not blank"#,
    );
    check(
        |j| j.parts[0].recipe = Some(String::new()),
        r#"parts[0].recipe is ""; it must be text that is not blank"#,
    );
    check(
        |j| j.parts[1].placements.clear(),
        "parts[1].placements is empty; it must be a list of at least one",
    );
    check(
        |j| j.clearances.walls_mm = -1.0,
        "clearances.walls_mm is -1; it must be at least 0 and at most 100",
    );
}

#[test]
fn nesting() {
    check(
        |j| j.parts[1].nest = Some(NestRules { due: Some(0), ..NestRules::default() }),
        "parts[1].nest.due is 0; it must be at least 1, the earliest; leave it out where nothing is due",
    );
    check(
        |j| j.parts[1].nest = Some(NestRules { locked: vec![0, 2], ..NestRules::default() }),
        "parts[1].nest.locked[1] is 2; it must be the number of one of the 2 placements, from 0",
    );
    check(
        |j| j.parts[1].nest = Some(NestRules { locked: vec![1, 1], ..NestRules::default() }),
        "parts[1].nest.locked[1] is 1; it must be different from parts[1].nest.locked[0]",
    );
    check(
        |j| j.parts[1].nest = Some(copies(100_001)),
        "parts[1].nest.quantity is 100001; it must be at least 0 and at most 100000",
    );
    check(
        |j| j.parts[1].nest = Some(NestRules { locked: vec![0, 1], ..copies(1) }),
        "parts[1].nest.quantity is 1; it must be at least the 2 locked placements",
    );
    let mut empty = job();
    empty.parts[1].placements.clear();
    empty.parts[1].nest = Some(copies(3));
    assert_eq!(empty.validate(), Ok(()));
}

#[test]
fn placements() {
    check(
        |j| j.parts[1].placements[0].location_mm[0] = f64::NAN,
        "parts[1].placements[0].location_mm[0] is NaN; it must be at least -1000 and at most 1000",
    );
    check(
        |j| j.parts[1].placements[0].location_mm[1] = 1001.0,
        "parts[1].placements[0].location_mm[1] is 1001; it must be at least -1000 and at most 1000",
    );
    check(
        |j| j.parts[0].placements[1].location_mm[2] = -2.0,
        "parts[0].placements[1].location_mm[2] is -2; it must be at least 0 and at most 2000",
    );
    check(
        |j| j.parts[0].placements[0].rotation_deg[2] = 720.0,
        "parts[0].placements[0].rotation_deg[2] is 720; it must be at least -360 and at most 360",
    );
    check(
        |j| j.parts[0].placements[1].location_mm = [-0.0, 0.0, 10.0],
        "parts[0].placements[1] is at (-0, 0, 10) mm, rotated by (0, 0, 0)°; it must be different \
         from parts[0].placements[0]",
    );
}

#[test]
fn a_name_that_is_taken_gets_a_number() {
    let taken = ["hinge", "hinge 2"];
    let free = |name: &str| job::free_name(name, |name| taken.contains(&name));
    assert_eq!(free("hinge"), "hinge 3");
    assert_eq!(free("clip"), "clip");
}

#[test]
fn parts_leave_with_their_last_placement_unless_copies_are_to_come() {
    let mut job = job();
    job.parts[1].nest = Some(NestRules { quantity: Some(4), ..NestRules::default() });
    let removed = [(0, 0), (0, 1), (1, 0), (1, 1), (7, 0)];
    job.remove_placements(&removed.map(|(part, copy)| PlacementId { part, copy }).into());
    assert_eq!(job.parts.iter().map(|part| part.name.as_str()).collect::<Vec<_>>(), ["two"]);
    assert!(job.parts[0].placements.is_empty());
}

#[test]
fn locks_follow_their_placements() {
    let mut part = job().parts.remove(0);
    let third = Placement { location_mm: [80.0, 0.0, 10.0], rotation_deg: [0.0; 3] };
    part.placements.push(third);
    part.nest = Some(NestRules { locked: vec![0, 2], ..NestRules::default() });
    part.remove_placement(1);
    assert_eq!(part.nest.as_ref().map(|nest| nest.locked.clone()), Some(vec![0, 1]));
    assert_eq!(part.placements[1], third);
    part.remove_placement(0);
    assert_eq!(part.nest.as_ref().map(|nest| nest.locked.clone()), Some(vec![0]));
    part.remove_placement(7);
    assert_eq!(part.placements, [third]);
}

fn change(name: &str, power_w: Option<f64>, speed_mm_s: Option<f64>) -> ExposureChange {
    ExposureChange { name: name.to_owned(), power_w, speed_mm_s }
}

#[test]
fn changes_of_exposures() {
    let set = |copy: usize, changes: &[ExposureChange]| {
        let changes = changes.to_vec();
        move |job: &mut Job| {
            job.parts[1].exposure_changes.insert(copy, changes);
        }
    };
    check(
        set(1, &[change("fill", Some(0.0), None)]),
        "parts[1].placements[1].exposures[0].power_w is 0; it must be above 0 and at most 1000",
    );
    check(
        set(1, &[change("fill", None, Some(f64::NAN))]),
        "parts[1].placements[1].exposures[0].speed_mm_s is NaN; it must be above 0 and at most 100000",
    );
    check(
        set(0, &[change("fill", None, None)]),
        "parts[1].placements[0].exposures[0] is without power and speed; it must be given at least \
         one of the two",
    );
    check(
        set(0, &[change("a", Some(1.0), None), change("a", None, Some(1.0))]),
        "parts[1].placements[0].exposures[1].name is \"a\"; it must be different from \
         parts[1].placements[0].exposures[0].name",
    );
    check(
        set(2, &[change("a", Some(1.0), None)]),
        "parts[1].exposure_changes is for placement 2; it must be one of the 2 placements, from 0",
    );
}

#[test]
fn changes_of_exposures_must_fit_recipe_and_machine() {
    let mut job = job();
    let changes = vec![change("fil", Some(20.0), None), change("edge", Some(31.0), Some(6001.0))];
    job.parts[1].exposure_changes.insert(1, changes);
    let (recipe, machine) = (super::recipe(), super::machine());
    let expected = [
        r#"parts[1].placements[1].exposures[0].name is "fil"; it must be one of the exposures "fill", "edge""#,
        r#"parts[1].placements[1].exposures[1].power_w is 31 (exposure "edge"); it must be at most 30, the most that machine "test" allows, W"#,
        r#"parts[1].placements[1].exposures[1].speed_mm_s is 6001 (exposure "edge"); it must be at most 6000, the most that machine "test" allows, mm/s"#,
    ];
    assert_eq!(sentences(job.check_changes(1, &recipe, &machine)), expected);
    assert_eq!(job.check_changes(0, &recipe, &machine), Ok(()));
    let changed = change("edge", None, Some(500.0));
    let own = recipe.exposure("edge").unwrap();
    let as_placed = changed.of(&recipe).unwrap();
    assert_eq!(as_placed, job::recipe::Exposure { speed_mm_s: 500.0, ..own.clone() });
    assert_eq!(changed.label(), "edge, 500 mm/s");
    assert_eq!(change("fil", Some(1.0), None).of(&recipe), None);
}

/// Changes go with their placement when another one leaves.
#[test]
fn changes_of_exposures_follow_their_placements() {
    let mut part = job().parts.remove(0);
    part.placements.push(Placement { location_mm: [80.0, 0.0, 10.0], rotation_deg: [0.0; 3] });
    for copy in 0..3_u8 {
        let changes = vec![change("fill", Some(1.0 + f64::from(copy)), None)];
        part.exposure_changes.insert(usize::from(copy), changes);
    }
    part.remove_placement(1);
    let powers: Vec<_> =
        (0..3).map(|n| part.changes_of(n).first().and_then(|c| c.power_w)).collect();
    assert_eq!(powers, [Some(1.0), Some(3.0), None]);
}
