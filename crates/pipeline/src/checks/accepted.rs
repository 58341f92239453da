//! Findings told apart by what the job accepts.

use super::grouped::{Group, grouped};
use base::finding::JobProblem;
use base::{Finding, Kind, NamedPlacement, PlacementId};
use job::{Acceptance, Job};

/// Findings, told apart by what the job accepts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sorted {
    /// What counts, with what there is to say of the acceptances themselves.
    pub open: Vec<Finding>,
    /// What a person takes as it is.
    pub accepted: Vec<Accepted>,
}

/// A finding that a person takes as it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Accepted {
    /// What was found.
    pub finding: Finding,
    /// Name of the part that the acceptance stands with; `None` if it stands with the job.
    pub part: Option<String>,
    /// Why it was accepted.
    pub reason: String,
}

/// What is accepted for one reason and says the same of several copies of a part.
#[derive(Clone, Debug, PartialEq)]
pub struct AcceptedGroup {
    /// The findings.
    pub group: Group,
    /// See [`Accepted::part`].
    pub part: Option<String>,
    /// Why they were accepted.
    pub reason: String,
}

/// Kinds that the look through a whole job does not ask about, so that it cannot tell that they are gone.
const NOT_LOOKED_FOR: [Kind; 5] = [
    Kind::PieceVanishes,
    Kind::PiecesMerge,
    Kind::HoleFills,
    Kind::Unplaced,
    Kind::SelectionDoesNotFit,
];

/// Tells findings apart by what a job accepts. Where all was looked at (`is_all`), an acceptance that covers
/// nothing is itself told.
pub fn sorted_by_acceptance(job: &Job, findings: Vec<Finding>, is_all: bool) -> Sorted {
    if job.acceptances().next().is_none() {
        return Sorted { open: findings, accepted: Vec::new() };
    }
    let told: Vec<Finding> = job
        .acceptances()
        .filter_map(|(part, accepted)| of_acceptance(job, part, accepted, &findings, is_all))
        .collect();
    let mut sorted = Sorted::default();
    for finding in findings {
        match job.acceptance_of(&finding) {
            Some((part, Acceptance { reason, .. })) => {
                let part = part.and_then(|part| job.parts.get(part)).map(|part| part.name.clone());
                sorted.accepted.push(Accepted { finding, part, reason: reason.clone() });
            }
            None => sorted.open.push(finding),
        }
    }
    sorted.open.extend(told);
    sorted
}

/// What there is to say of an acceptance itself.
fn of_acceptance(
    job: &Job,
    part: Option<usize>,
    accepted: &Acceptance,
    findings: &[Finding],
    is_all: bool,
) -> Option<Finding> {
    let entry = part.and_then(|part| job.parts.get(part));
    let kind = accepted.kind;
    let mut covered = findings.iter().filter(|finding| accepted.covers(finding, entry)).peekable();
    if covered.peek().is_some() {
        let never = covered.find(|finding| !finding.is_acceptable())?;
        let mut finding =
            Finding::new(JobProblem::NotAcceptable { kind, reason: accepted.reason.clone() });
        finding.place = never.place.clone();
        return Some(finding);
    }
    if !is_all || NOT_LOOKED_FOR.contains(&kind) {
        return None;
    }
    let mut finding =
        Finding::new(JobProblem::AcceptanceGone { kind, reason: accepted.reason.clone() });
    finding.place.layers = accepted.layers;
    let copy = part.zip(accepted.placement.map(|copy| copy as usize));
    let id = copy.map(|(part, copy)| PlacementId { part, copy });
    let named = id.and_then(|id| Some(NamedPlacement { id, name: job.placement_name(id)? }));
    Some(match (named, entry) {
        (Some(named), _) => finding.at_placement(named),
        (None, Some(entry)) => finding.at_part(&entry.name),
        (None, None) => finding,
    })
}

/// Puts together what is accepted for one reason, in the order in which it was found.
pub fn grouped_accepted(all: &[Accepted]) -> Vec<AcceptedGroup> {
    let mut reasons: Vec<(&Option<String>, &String)> = Vec::new();
    for accepted in all {
        let reason = (&accepted.part, &accepted.reason);
        if !reasons.contains(&reason) {
            reasons.push(reason);
        }
    }
    let mut groups = Vec::new();
    for (part, reason) in reasons {
        let of = all.iter().filter(|of| (&of.part, &of.reason) == (part, reason));
        let of = grouped(of.map(|of| &of.finding)).into_iter();
        let with = |group| AcceptedGroup { group, part: part.clone(), reason: reason.clone() };
        groups.extend(of.map(with));
    }
    groups
}
