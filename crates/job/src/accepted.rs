//! What a job accepts: which findings, and how acceptances come and go.

use crate::{Acceptance, Job, PartEntry};
use base::{Finding, Kind};

impl Acceptance {
    /// Whether it covers a finding; `part` is the one that it stands with.
    pub fn covers(&self, finding: &Finding, part: Option<&PartEntry>) -> bool {
        let place = &finding.place;
        let is_there = match (part, &place.placement) {
            (None, _) => true,
            (Some(part), Some(at)) => {
                let is_copy = |copy: u32| copy as usize == at.id.copy;
                at.name.part == part.name && self.placement.is_none_or(is_copy)
            }
            (Some(part), None) => self.placement.is_none() && part.is_told_by(place.part()),
        };
        let is_within = |(first, last): (u32, u32)| {
            place.layers.is_some_and(|(from, to)| first <= from && to <= last)
        };
        self.kind == finding.kind()
            && is_there
            && self.layers.is_none_or(is_within)
            && self.says.as_deref().is_none_or(|says| says == finding.sentence())
    }
}

impl PartEntry {
    /// Whether a finding without a placement that names this file or part is about this one.
    fn is_told_by(&self, name: Option<&str>) -> bool {
        let Some(name) = name else { return false };
        [Some(&self.name), Some(&self.mesh), self.recipe.as_ref()]
            .into_iter()
            .flatten()
            .any(|own| own == name)
    }
}

impl Job {
    /// All acceptances, each with the part that it stands with: those of the job first.
    pub fn acceptances(&self) -> impl Iterator<Item = (Option<usize>, &Acceptance)> {
        let of_job = self.accepted.iter().map(|accepted| (None, accepted));
        let of_parts = self.parts.iter().enumerate();
        let of_parts =
            of_parts.flat_map(|(k, part)| part.accepted.iter().map(move |a| (Some(k), a)));
        of_job.chain(of_parts)
    }

    /// The acceptance that covers a finding, with the part that it stands with, if there is one and the finding
    /// may be accepted.
    pub fn acceptance_of(&self, finding: &Finding) -> Option<(Option<usize>, &Acceptance)> {
        let part = |k: Option<usize>| k.and_then(|k| self.parts.get(k));
        let mut all = self.acceptances().filter(|_| finding.is_acceptable());
        all.find(|(k, accepted)| accepted.covers(finding, part(*k)))
    }

    /// The part that a finding is about, if it is about one.
    pub fn part_of(&self, finding: &Finding) -> Option<usize> {
        let place = &finding.place;
        let is_it = |part: &PartEntry| match &place.placement {
            Some(at) => at.name.part == part.name,
            None => part.is_told_by(place.part()),
        };
        self.parts.iter().position(is_it)
    }

    /// Accepts findings, with a reason: all placements of a part at once where each of them is concerned. What
    /// was accepted before of the same finding gets the new reason.
    pub fn accept<'a>(&mut self, findings: impl IntoIterator<Item = &'a Finding>, reason: &str) {
        for finding in findings {
            let part = self.part_of(finding);
            let new = Acceptance::of(finding, part.is_some(), reason);
            let (list, placements) = match part.and_then(|part| self.parts.get_mut(part)) {
                Some(part) => (&mut part.accepted, part.placements.len()),
                None => (&mut self.accepted, 0),
            };
            put(list, new, placements);
        }
    }

    /// Takes out the acceptances of a kind that were given for this reason: of the part of a name, or of the job.
    pub fn withdraw(&mut self, part: Option<&str>, kind: Kind, reason: &str) {
        let list = match part {
            Some(name) => {
                let part = self.parts.iter_mut().find(|part| part.name == name);
                part.map(|part| &mut part.accepted)
            }
            None => Some(&mut self.accepted),
        };
        if let Some(list) = list {
            list.retain(|accepted| accepted.kind != kind || accepted.reason != reason);
        }
    }

    /// Whether it is equal to another but for what is accepted, so that the same is built of it.
    pub fn is_built_like(&self, other: &Self) -> bool {
        self.without_acceptances() == other.without_acceptances()
    }

    fn without_acceptances(&self) -> Self {
        let mut job = self.clone();
        job.accepted.clear();
        job.parts.iter_mut().for_each(|part| part.accepted.clear());
        job
    }
}

/// Puts an acceptance in a list, in the place of one of the same; one for all placements in the place of one
/// each.
fn put(list: &mut Vec<Acceptance>, new: Acceptance, placements: usize) {
    let is_same = |known: &Acceptance| {
        (known.kind, known.layers, &known.says) == (new.kind, new.layers, &new.says)
    };
    list.retain(|known| !is_same(known) || known.placement != new.placement);
    let alike = |known: &&Acceptance| {
        is_same(known) && known.placement.is_some() && known.reason == new.reason
    };
    if new.placement.is_some() && list.iter().filter(alike).count() + 1 >= placements {
        let all = Acceptance { placement: None, ..new.clone() };
        list.retain(|known| !alike(&known));
        list.push(all);
    } else {
        list.push(new);
    }
}
