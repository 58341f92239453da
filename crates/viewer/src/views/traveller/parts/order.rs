//! Which parts the list shows, in which order, and under which headings.

use crate::state::model::Model;
use crate::state::results::MeshState;
use job::PartEntry;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

/// By what the parts are sorted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Sort {
    #[default]
    AsListed,
    Name,
    /// The largest first, by the box around the mesh.
    Size,
    /// The most first.
    Copies,
    /// The worst first, then the most.
    Findings,
}

impl Sort {
    pub(super) const WORDS: [(Self, &str); 5] = [
        (Self::AsListed, "as listed"),
        (Self::Name, "name"),
        (Self::Size, "size"),
        (Self::Copies, "copies"),
        (Self::Findings, "findings"),
    ];
}

/// What parts under one heading have in common.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Group {
    #[default]
    None,
    File,
    Recipe,
}

impl Group {
    pub(super) const WORDS: [(Self, &str); 3] =
        [(Self::None, "none"), (Self::File, "file"), (Self::Recipe, "recipe")];
}

/// What the person wants to see.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Wish {
    pub(super) search: String,
    pub(super) sort: Sort,
    pub(super) group: Group,
    /// Titles of the groups whose parts are not listed.
    pub(super) folded: BTreeSet<String>,
}

impl Wish {
    /// Whether lines stand as the job lists them, so that they can be put elsewhere by hand.
    pub(super) fn is_as_listed(&self) -> bool {
        self.search.trim().is_empty() && self.sort == Sort::AsListed && self.group == Group::None
    }
}

/// What the list must know of a part.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Facts {
    pub(super) name: String,
    pub(super) file: String,
    pub(super) recipe: String,
    /// Volume of the box around it, mm³.
    pub(super) size_mm3: f64,
    pub(super) copies: usize,
    /// Severity of the worst finding, 0 without any, and how many there are.
    pub(super) findings: (u8, usize),
}

/// Facts of all parts; `sort` says which of the costly ones are needed.
pub(super) fn facts(model: &Model, sort: Sort) -> Vec<Facts> {
    let Some(content) = model.content() else { return Vec::new() };
    let mut found: BTreeMap<&str, (u8, usize)> = BTreeMap::new();
    if sort == Sort::Findings {
        for finding in &model.findings.open {
            let Some(part) = finding.place.part() else { continue };
            let (worst, count) = found.entry(part).or_default();
            *worst = (*worst).max(match finding.severity() {
                base::Severity::Stop => 3,
                base::Severity::Caution => 2,
                base::Severity::Note => 1,
            });
            *count += 1;
        }
    }
    let of = |(index, part): (usize, &PartEntry)| {
        let mesh = model.results.mesh(part).and_then(MeshState::ready);
        let bounds = mesh.filter(|_| sort == Sort::Size).and_then(|mesh| mesh.mesh.bounds());
        let size_mm3 = bounds.map_or(0.0, |(low, high)| (0..3).map(|k| high[k] - low[k]).product());
        let said = |name: &str| found.get(name).copied().unwrap_or_default();
        let [of_part, of_file] = [said(&part.name), said(&part.mesh)];
        Facts {
            name: part.name.clone(),
            file: part.mesh.clone(),
            recipe: recipe_name(model, index),
            size_mm3,
            copies: copies_of(part),
            findings: (of_part.0.max(of_file.0), of_part.1 + of_file.1),
        }
    };
    content.job.parts.iter().enumerate().map(of).collect()
}

fn recipe_name(model: &Model, part: usize) -> String {
    let recipe = model.content().and_then(|content| content.recipe_of(part));
    recipe.map_or_else(String::new, |recipe| recipe.name.clone())
}

/// How many of a part are built: what nesting is asked for, or its placements.
pub(super) fn copies_of(part: &PartEntry) -> usize {
    let asked = part.nest.as_ref().and_then(|nest| nest.quantity).map(|n| n as usize);
    asked.unwrap_or(part.placements.len())
}

/// A line of the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Line {
    /// What parts have in common, and their numbers in the job; they stand below unless they are folded.
    Heading(String, Vec<usize>),
    /// A part, by its number in the job.
    Part(usize),
}

/// The lines that are shown of these parts.
pub(super) fn lines(wish: &Wish, facts: &[Facts]) -> Vec<Line> {
    let words: Vec<String> = wish.search.split_whitespace().map(str::to_lowercase).collect();
    let is_meant = |part: &Facts| {
        let (name, file) = (part.name.to_lowercase(), part.file.to_lowercase());
        words.iter().all(|word| name.contains(word.as_str()) || file.contains(word.as_str()))
    };
    let mut shown: Vec<usize> = (0..facts.len()).filter(|part| is_meant(&facts[*part])).collect();
    // All sorts are stable: what is alike stays as listed.
    match wish.sort {
        Sort::AsListed => {}
        Sort::Name => shown.sort_by_cached_key(|part| natural(&facts[*part].name)),
        Sort::Size => {
            shown.sort_by(|a, b| facts[*b].size_mm3.total_cmp(&facts[*a].size_mm3));
        }
        Sort::Copies => shown.sort_by_key(|part| Reverse(facts[*part].copies)),
        Sort::Findings => shown.sort_by_key(|part| Reverse(facts[*part].findings)),
    }
    let heading = |part: usize| match wish.group {
        Group::None => "",
        Group::File => facts[part].file.as_str(),
        Group::Recipe => facts[part].recipe.as_str(),
    };
    if wish.group == Group::None {
        return shown.into_iter().map(Line::Part).collect();
    }
    let mut groups: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for part in shown {
        groups.entry(heading(part)).or_default().push(part);
    }
    let lines = groups.into_iter().flat_map(|(title, parts)| {
        let listed = if wish.folded.contains(title) { Vec::new() } else { parts.clone() };
        let heading = Line::Heading(title.to_owned(), parts);
        std::iter::once(heading).chain(listed.into_iter().map(Line::Part))
    });
    lines.collect()
}

/// A key by which "part 2" comes before "part 10".
fn natural(name: &str) -> Vec<(String, u64)> {
    let mut key = vec![(String::new(), 0_u64)];
    let mut is_number = false;
    for letter in name.to_lowercase().chars() {
        let digit = letter.to_digit(10);
        if is_number && digit.is_none() {
            key.push((String::new(), 0));
        }
        is_number = digit.is_some();
        let Some((text, number)) = key.last_mut() else { break };
        match digit {
            Some(digit) => *number = number.saturating_mul(10).saturating_add(u64::from(digit)),
            None => text.push(letter),
        }
    }
    key
}

/// The numbers of all parts in the order that they have once some of them are put before the part `to`.
pub(super) fn reordered(count: usize, moved: &[usize], to: usize) -> Vec<usize> {
    let is_moved = |part: &usize| moved.contains(part);
    let before = (0..to.min(count)).filter(|part| !is_moved(part));
    let after = (to.min(count)..count).filter(|part| !is_moved(part));
    before.chain((0..count).filter(is_moved)).chain(after).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn facts() -> Vec<Facts> {
        let part = |name: &str, file: &str, recipe: &str, size_mm3, copies, findings| Facts {
            name: name.to_owned(),
            file: file.to_owned(),
            recipe: recipe.to_owned(),
            size_mm3,
            copies,
            findings,
        };
        vec![
            part("Part 10", "a/wheel.stl", "PA12", 5.0, 2, (0, 0)),
            part("part 2", "a/wheel.stl", "PA11", 9.0, 2, (1, 4)),
            part("lid", "b/lid.stl", "PA12", 1.0, 7, (3, 1)),
        ]
    }

    fn shown(search: &str, sort: Sort, group: Group) -> Vec<Line> {
        let folded = BTreeSet::new();
        lines(&Wish { search: search.to_owned(), sort, group, folded }, &facts())
    }

    #[test]
    fn parts_are_sorted_by_what_is_asked_for_and_otherwise_stay_as_listed() {
        let parts = |list: [usize; 3]| list.map(Line::Part).to_vec();
        for (sort, expected) in [
            (Sort::AsListed, [0, 1, 2]),
            (Sort::Name, [2, 1, 0]),
            (Sort::Size, [1, 0, 2]),
            (Sort::Copies, [2, 0, 1]),
            (Sort::Findings, [2, 1, 0]),
        ] {
            assert_eq!(shown("", sort, Group::None), parts(expected), "{sort:?}");
        }
    }

    #[test]
    fn every_word_of_a_search_is_in_the_name_or_in_the_file() {
        assert_eq!(shown("WHEEL 2", Sort::AsListed, Group::None), [Line::Part(1)]);
        assert_eq!(shown("b/ lid", Sort::AsListed, Group::None), [Line::Part(2)]);
        assert_eq!(shown("lid wheel", Sort::AsListed, Group::None), []);
    }

    #[test]
    fn groups_have_headings_and_fold() {
        let heading =
            |title: &str, parts: &[usize]| Line::Heading(title.to_owned(), parts.to_vec());
        let by_recipe = shown("", Sort::Size, Group::Recipe);
        let expected = [
            heading("PA11", &[1]),
            Line::Part(1),
            heading("PA12", &[0, 2]),
            Line::Part(0),
            Line::Part(2),
        ];
        assert_eq!(by_recipe, expected);
        let by_file = shown("lid", Sort::Size, Group::File);
        assert_eq!(by_file, [heading("b/lid.stl", &[2]), Line::Part(2)]);
        let folded = BTreeSet::from(["PA12".to_owned()]);
        let wish = Wish { group: Group::Recipe, folded, ..Wish::default() };
        let expected = [heading("PA11", &[1]), Line::Part(1), heading("PA12", &[0, 2])];
        assert_eq!(lines(&wish, &facts()), expected);
    }

    #[test]
    fn what_is_put_elsewhere_stays_together_in_its_order() {
        assert_eq!(reordered(5, &[3], 0), [3, 0, 1, 2, 4]);
        assert_eq!(reordered(5, &[0, 2], 4), [1, 3, 0, 2, 4]);
        assert_eq!(reordered(5, &[4, 0], 5), [1, 2, 3, 0, 4]);
        assert_eq!(reordered(3, &[1], 1), [0, 1, 2], "where it was");
    }
}
