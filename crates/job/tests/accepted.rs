//! What a person accepts of what was found, and what that covers.

#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps nothing")]

use base::finding::{ArrangementProblem, HeatProblem, JobProblem, SurfaceProblem};
use base::{Finding, Kind, NamedPlacement, PlacementId, PlacementName};
use job::{Acceptance, Job};

fn job() -> Job {
    let text = r#"(version: 3, name: "a", machine: "m.ron", recipe: "r.ron", parts: [
        (name: "pin", mesh: "pin.obj", placements: [
            (location_mm: (0, 0, 9)), (location_mm: (9, 0, 9))]),
        (name: "lid", mesh: "lid.obj", placements: [(location_mm: (0, 9, 9))])])"#;
    Job::from_ron(text).unwrap()
}

fn near_wall() -> Finding {
    Finding::new(HeatProblem::NearWall { distance_mm: 2.0, wanted_mm: 5.0 })
}

fn at(finding: Finding, part: &str, copy: usize) -> Finding {
    let name = PlacementName { part: part.to_owned(), copy: copy + 1, copies: 2 };
    finding.at_placement(NamedPlacement { id: PlacementId::new(0, copy), name })
}

fn is_accepted(job: &Job, finding: &Finding) -> bool {
    job.acceptance_of(finding).is_some()
}

#[test]
fn a_placement_is_accepted_alone_and_both_are_as_one() {
    let mut job = job();
    let [first, second] = [0, 1].map(|copy| at(near_wall(), "pin", copy));
    job.accept([&first], "It is a test piece.");
    assert!(is_accepted(&job, &first) && !is_accepted(&job, &second));
    assert!(!is_accepted(&job, &at(near_wall(), "lid", 0)), "another part");
    job.parts[0].remove_placement(0);
    assert_eq!(job.parts[0].accepted, [], "it went with its placement");

    let mut job = crate::job();
    job.accept([&second], "It is a test piece.");
    job.parts[0].remove_placement(0);
    assert!(is_accepted(&job, &at(near_wall(), "pin", 0)), "numbers move up");

    let mut job = crate::job();
    job.accept([&first, &second], "It is a test piece.");
    assert_eq!(job.parts[0].accepted.len(), 1, "{:?}", job.parts[0].accepted);
    assert!(is_accepted(&job, &first) && is_accepted(&job, &second));
    assert_eq!(Job::from_ron(&job.to_ron()), Ok(job.clone()));
    assert!(job.is_built_like(&crate::job()));
    job.withdraw(Some("pin"), Kind::NearWall, "It is a test piece.");
    assert_eq!(job, crate::job());
}

#[test]
fn meshes_and_recipes_are_told_by_their_files() {
    let mut job = job();
    let of_mesh = Finding::new(SurfaceProblem::OpenEdges { count: 3 }).at_part("pin.obj");
    let unusual = |what: &str| {
        let (what, usual) = (what.to_owned(), "less".to_owned());
        let problem = JobProblem::OutsideCommonPractice { what, usual, effect: "" };
        Finding::new(problem).at_part("r.ron")
    };
    job.accept([&of_mesh, &unusual("layer of 0.3 mm")], "It is known.");
    assert_eq!((job.accepted.len(), job.parts[0].accepted.len()), (1, 1));
    assert!(is_accepted(&job, &of_mesh) && is_accepted(&job, &unusual("layer of 0.3 mm")));
    assert!(!is_accepted(&job, &unusual("layer of 3 mm")), "that is another matter");
    assert!(!is_accepted(&job, &of_mesh.clone().at_part("lid.obj")));
}

#[test]
fn a_stop_is_accepted_as_it_is_worded_and_an_overlap_never() {
    let mut job = job();
    let other = PlacementName { part: "lid".to_owned(), copy: 1, copies: 1 };
    let clearance = |distance_mm| {
        let other = other.clone();
        let problem = ArrangementProblem::Clearance { other, distance_mm, wanted_mm: 3.0 };
        at(Finding::new(problem), "pin", 0)
    };
    let overlap = at(Finding::new(ArrangementProblem::Overlap { other: other.clone() }), "pin", 0);
    job.accept([&clearance(2.5), &overlap], "They are cut apart afterwards.");
    assert!(is_accepted(&job, &clearance(2.5)) && !is_accepted(&job, &clearance(1.0)));
    assert!(!overlap.is_acceptable() && !is_accepted(&job, &overlap));
    let wall = |distance_mm| {
        let (wall, wanted_mm) = ("left wall", 5.0);
        Finding::new(ArrangementProblem::WallClearance { wall, distance_mm, wanted_mm })
    };
    assert!(wall(0.5).is_acceptable() && !wall(-0.5).is_acceptable());
}

#[test]
fn layers_bound_what_is_accepted_and_a_kind_of_the_job_is_everywhere() {
    let mut job = job();
    let open =
        |first, last| Finding::new(SurfaceProblem::OpenEdges { count: 1 }).at_layers(first, last);
    let (kind, reason) = (Kind::OpenEdges, "It is known.".to_owned());
    job.accepted =
        vec![Acceptance { kind, placement: None, layers: Some((4, 9)), says: None, reason }];
    assert!(is_accepted(&job, &open(5, 9)) && !is_accepted(&job, &open(5, 10)));
    assert!(is_accepted(&job, &open(5, 9).at_part("lid.obj")));
    assert!(!is_accepted(&job, &Finding::new(SurfaceProblem::OpenEdges { count: 1 })));
    job.accepted[0].layers = Some((9, 4));
    job.accepted[0].reason = " ".to_owned();
    let problems = job.validate().unwrap_err();
    let told: Vec<&str> = problems.iter().map(|problem| problem.field.as_str()).collect();
    assert_eq!(told, ["accepted[0].reason", "accepted[0].layers"]);
}
