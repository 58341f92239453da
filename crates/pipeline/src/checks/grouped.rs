//! Findings that say the same of several copies of a part, as one.

use base::{Finding, Kind, NamedPlacement, Place, PlacementId, PlacementName};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// Findings of one kind and with one sentence about placements of one part; or a single one.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// The first of them: what is said, and the place to go to.
    pub first: Finding,
    /// The placements that it is said of.
    placements: BTreeSet<PlacementId>,
    /// First and last layer of them all.
    layers: Option<(u32, u32)>,
}

impl Group {
    /// The findings that it stands for; of several of one placement, one.
    pub fn findings(&self) -> Vec<Finding> {
        let Some(first) = &self.first.place.placement else { return vec![self.first.clone()] };
        let of = |id: &PlacementId| {
            let name = PlacementName { copy: id.copy + 1, ..first.name.clone() };
            self.first.clone().at_placement(NamedPlacement { id: *id, name })
        };
        self.placements.iter().map(of).collect()
    }

    /// Where they lie, in words: "bracket, 12 copies, layers 4 to 9".
    pub fn place(&self) -> String {
        let place = &self.first.place;
        let n = self.placements.len();
        let Some(placement) = place.placement.as_ref().filter(|_| n > 1) else {
            return Place { layers: self.layers, ..place.clone() }.to_string();
        };
        let name = &placement.name;
        let copies = if n == name.copies {
            format!("{}, {n} copies", name.part)
        } else {
            format!("{}, {n} of {} copies", name.part, name.copies)
        };
        let first = Place { part: Some(copies), placement: None, ..place.clone() };
        Place { layers: self.layers, ..first }.to_string()
    }
}

impl fmt::Display for Group {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first = self.first.clone();
        first.place = Place::default();
        let place = self.place();
        if place.is_empty() { first.fmt(f) } else { write!(f, "{first} [{place}]") }
    }
}

/// Puts together what is said of several placements of a part, or of one in several layers, the worst first, then in the order
/// in which it was found. Every finding goes into one group.
pub fn grouped<'a>(findings: impl IntoIterator<Item = &'a Finding>) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut known: BTreeMap<(Kind, String, String), usize> = BTreeMap::new();
    for finding in findings {
        let layers = finding.place.layers;
        let mut group = Group { first: finding.clone(), placements: BTreeSet::new(), layers };
        let Some(placement) = &finding.place.placement else {
            groups.push(group);
            continue;
        };
        group.placements.insert(placement.id);
        let part = placement.name.part.clone();
        let key = (finding.kind(), finding.sentence().to_owned(), part);
        if let Some(&index) = known.get(&key) {
            let into = &mut groups[index];
            into.placements.insert(placement.id);
            into.layers = match (into.layers, layers) {
                (Some((a, b)), Some((c, d))) => Some((a.min(c), b.max(d))),
                (a, b) => a.or(b),
            };
        } else {
            known.insert(key, groups.len());
            groups.push(group);
        }
    }
    groups.sort_by_key(|group| std::cmp::Reverse(group.first.severity())); // stable
    groups
}

#[cfg(test)]
mod tests {
    use super::*;
    use base::finding::{JobProblem, LayerProblem};

    fn at(finding: Finding, part: &str, copy: usize, copies: usize) -> Finding {
        let id = PlacementId::new(0, copy - 1);
        let name = PlacementName { part: part.to_owned(), copy, copies };
        finding.at_placement(NamedPlacement { id, name })
    }

    #[test]
    fn what_is_said_of_many_copies_is_said_once_and_the_worst_first() {
        let inexact = |layers, from, to| {
            Finding::new(LayerProblem::InexactSections { layers }).at_layers(from, to)
        };
        let findings = [
            at(inexact(2, 4, 5), "bracket", 1, 12),
            at(inexact(2, 8, 9), "bracket", 3, 12),
            at(inexact(2, 8, 9), "hinge", 1, 1),
            at(inexact(7, 0, 6), "bracket", 2, 12),
            Finding::new(JobProblem::NothingToBuild),
            at(inexact(1, 3, 3), "clip", 1, 2),
            at(inexact(1, 3, 3), "clip", 2, 2),
            at(inexact(3, 4, 4), "hinge", 1, 1),
            at(inexact(3, 7, 7), "hinge", 1, 1),
        ];
        let groups = grouped(&findings);
        let places: Vec<String> = groups.iter().map(Group::place).collect();
        let expected = [
            "",
            "bracket, 2 of 12 copies, layers 4 to 9",
            "hinge, layers 8 to 9",
            "bracket 2 of 12, layers 0 to 6",
            "clip, 2 copies, layer 3",
            "hinge, layers 4 to 7", // the same fault of one placement in two layers
        ];
        assert_eq!(places, expected);
        let said_of: usize = groups.iter().map(|group| group.placements.len()).sum();
        assert_eq!(said_of, findings.len() - 2, "one has no placement, one is said twice");
        let of_group =
            |k: usize| groups[k].findings().iter().map(|f| f.place.to_string()).collect::<Vec<_>>();
        assert_eq!(of_group(4), ["clip 1 of 2, layer 3", "clip 2 of 2, layer 3"]);
        assert_eq!(of_group(0).len(), 1);
        assert!(groups[1].to_string().ends_with("[bracket, 2 of 12 copies, layers 4 to 9]"));
        assert!(groups[0].to_string().starts_with("stop: Nothing is placed"));
    }
}
