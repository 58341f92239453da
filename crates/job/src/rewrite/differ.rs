//! What differs between two texts of the same kind, value by value.

use super::tree::{Field, Inside, Node, parse};

/// One value that two files do not share.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// Where it stands: `core.hatch.spacing_mm`, `exposures[contour].power_w`.
    pub field: String,
    /// What the first file says; nothing where it does not say it.
    pub first: Option<String>,
    /// What the second file says.
    pub second: Option<String>,
}

/// Every value that differs between two machines, recipes or jobs, in the order of the first. Both texts are to be
/// as the program writes them, so that `24` and `24.0` are no difference. Entries of a list that have names are compared by name,
/// others by place. One difference that says so where a text cannot be followed.
pub fn differences(first: &str, second: &str) -> Vec<Difference> {
    let mut found = Vec::new();
    let walk = Walk { first, second };
    match (parse(first), parse(second)) {
        (Some(a), Some(b)) => walk.value("", &a, &b, &mut found),
        _ if first == second => {}
        _ => found.push(Difference {
            field: "the whole text".to_owned(),
            first: Some(first.to_owned()),
            second: Some(second.to_owned()),
        }),
    }
    found
}

struct Walk<'a> {
    first: &'a str,
    second: &'a str,
}

/// One of two sides.
#[derive(Clone, Copy)]
enum Side {
    First,
    Second,
}

impl Walk<'_> {
    fn of(&self, side: Side) -> &str {
        match side {
            Side::First => self.first,
            Side::Second => self.second,
        }
    }

    /// A value's text in one line, whatever the layout.
    fn text(&self, side: Side, node: &Node) -> String {
        self.of(side)[node.span.clone()].split_whitespace().collect::<Vec<_>>().join(" ")
    }

    fn value(&self, place: &str, a: &Node, b: &Node, found: &mut Vec<Difference>) {
        let is_alike = self.name(Side::First, a) == self.name(Side::Second, b);
        match (&a.inside, &b.inside) {
            (Inside::Fields(left), Inside::Fields(right)) if is_alike => {
                self.fields(place, left, right, found);
            }
            (Inside::Items(left), Inside::Items(right)) if is_alike => {
                self.items(place, left, right, found);
            }
            _ => {
                let (first, second) = (self.text(Side::First, a), self.text(Side::Second, b));
                if first != second {
                    let (first, second) = (Some(first), Some(second));
                    found.push(Difference { field: place.to_owned(), first, second });
                }
            }
        }
    }

    /// What stands before a bracket: the name of an alternative.
    fn name(&self, side: Side, node: &Node) -> String {
        self.of(side)[node.span.start..node.open].trim().to_owned()
    }

    fn fields(&self, place: &str, a: &[Field], b: &[Field], found: &mut Vec<Difference>) {
        let dot = if place.is_empty() { "" } else { "." };
        for left in a {
            let name = &self.first[left.name.clone()];
            let field = format!("{place}{dot}{name}");
            match b.iter().find(|right| &self.second[right.name.clone()] == name) {
                Some(right) => self.value(&field, &left.value, &right.value, found),
                None => found.push(self.only(Side::First, field, &left.value)),
            }
        }
        for right in b {
            let name = &self.second[right.name.clone()];
            if !a.iter().any(|left| &self.first[left.name.clone()] == name) {
                found.push(self.only(Side::Second, format!("{place}{dot}{name}"), &right.value));
            }
        }
    }

    fn items(&self, place: &str, a: &[Node], b: &[Node], found: &mut Vec<Difference>) {
        let label = |side, index: usize, node: &Node| {
            self.own_name(side, node).unwrap_or_else(|| index.to_string())
        };
        let left: Vec<_> =
            a.iter().enumerate().map(|(i, node)| (label(Side::First, i, node), node)).collect();
        let right: Vec<_> =
            b.iter().enumerate().map(|(i, node)| (label(Side::Second, i, node), node)).collect();
        for (name, node) in &left {
            let field = format!("{place}[{name}]");
            match right.iter().find(|(other, _)| other == name) {
                Some((_, other)) => self.value(&field, node, other, found),
                None => found.push(self.only(Side::First, field, node)),
            }
        }
        for (name, node) in &right {
            if !left.iter().any(|(other, _)| other == name) {
                found.push(self.only(Side::Second, format!("{place}[{name}]"), node));
            }
        }
    }

    /// The text of a field `name` of a value.
    fn own_name(&self, side: Side, node: &Node) -> Option<String> {
        let Inside::Fields(fields) = &node.inside else { return None };
        let field = fields.iter().find(|f| &self.of(side)[f.name.clone()] == "name")?;
        Some(self.text(side, &field.value).trim_matches('"').to_owned())
    }

    fn only(&self, side: Side, field: String, node: &Node) -> Difference {
        let text = Some(self.text(side, node));
        let (first, second) = match side {
            Side::First => (text, None),
            Side::Second => (None, text),
        };
        Difference { field, first, second }
    }
}

#[cfg(test)]
mod tests {
    use crate::Recipe;

    #[test]
    fn what_differs_is_named_by_field_and_by_name() {
        let text = include_str!("../../../../assets/recipes/pa12.ron");
        let recipe = Recipe::from_ron(text).unwrap();
        let mut other = recipe.clone();
        assert_eq!(super::differences(&recipe.to_ron(), &other.to_ron()), []);
        other.beam_offset_mm = 0.25;
        other.exposures[0].power_w += 1.0;
        other.hole_offset_mm = Some(0.2);
        let name = other.exposures[0].name.clone();
        let removed = other.exposures.pop().unwrap();
        let found = super::differences(&recipe.to_ron(), &other.to_ron());
        let fields: Vec<&str> = found.iter().map(|difference| difference.field.as_str()).collect();
        let power = format!("exposures[{name}].power_w");
        let gone = format!("exposures[{}]", removed.name);
        assert_eq!(fields, ["beam_offset_mm", &power, &gone, "hole_offset_mm"]);
        assert_eq!(found[0].second.as_deref(), Some("0.25"));
        assert_eq!((&found[2].second, &found[3].first), (&None, &None));
    }
}
