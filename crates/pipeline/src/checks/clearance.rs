//! Whether an arrangement keeps its clearances: the proof in findings.

use base::finding::ArrangementProblem;
use base::{Finding, NamedPlacement};
use nesting::{Contact, Proof, Space};

/// What violates the clearances of a space; `placements` are the bodies of the proof, in order.
pub(crate) fn clearance(
    proof: &Proof,
    space: &Space,
    placements: &[NamedPlacement],
) -> Vec<Finding> {
    let pairs = proof.pairs.iter().filter(|pair| pair.violates).filter_map(|pair| {
        let [a, b] = pair.bodies.map(|body| placements.get(body));
        let (a, other) = (a?.clone(), b?.name.clone());
        let problem = if pair.contact == Contact::Overlap {
            ArrangementProblem::Overlap { other }
        } else {
            let (distance_mm, wanted_mm) = (pair.distance_mm, space.clearance_mm);
            ArrangementProblem::Clearance { other, distance_mm, wanted_mm }
        };
        Some(Finding::new(problem).at_placement(a).at_point(pair.points_mm[0]))
    });
    let walls = proof.walls.iter().filter(|wall| wall.violates).filter_map(|near| {
        let problem = ArrangementProblem::WallClearance {
            wall: near.wall.name(),
            distance_mm: near.distance_mm,
            wanted_mm: space.wall_clearance_mm,
        };
        let placement = placements.get(near.body)?.clone();
        Some(Finding::new(problem).at_placement(placement).at_point(near.points_mm[0]))
    });
    pairs.chain(walls).collect()
}
