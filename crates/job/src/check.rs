//! Checks of single values, collected so that all problems are told at once.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::{Bound, RangeBounds};

/// A value that a job, machine or recipe must not have.
///
/// Reads as a sentence:
/// `core.hatch.spacing_mm is 0; it must be at least 0.01 and at most 10`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Invalid {
    /// Path of the field from the top of its file, such as `parts[2].placements[0].location_mm[1]`.
    pub field: String,
    /// The offending value as a person would write it.
    pub value: String,
    /// What is allowed; completes "it must be …".
    pub allowed: String,
}

impl fmt::Display for Invalid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} is {}; it must be {}", self.field, self.value, self.allowed)
    }
}

/// Longest name or path, characters: enough for any file system, too short to flood a message.
const LONGEST_TEXT: usize = 1000;

/// Collects the problems of one value while walking through its fields.
#[derive(Default)]
pub(crate) struct Checker {
    path: String,
    problems: Vec<Invalid>,
}

impl Checker {
    /// All problems found, in the order of the fields.
    pub(crate) fn finish(self) -> Result<(), Vec<Invalid>> {
        if self.problems.is_empty() { Ok(()) } else { Err(self.problems) }
    }

    /// Checks what lies below a field.
    pub(crate) fn within(&mut self, field: impl fmt::Display, check: impl FnOnce(&mut Self)) {
        let length = self.path.len();
        self.path = self.path_of(&field);
        check(self);
        self.path.truncate(length);
    }

    /// Checks each element of a list, as `field[index]`.
    pub(crate) fn each<T>(
        &mut self,
        field: &str,
        items: &[T],
        mut check: impl FnMut(&mut Self, &T),
    ) {
        for (i, item) in items.iter().enumerate() {
            self.within(format_args!("{field}[{i}]"), |c| check(c, item));
        }
    }

    /// Reports a value; an empty `field` means the one that is being looked into.
    pub(crate) fn report(
        &mut self,
        field: impl fmt::Display,
        value: impl fmt::Display,
        allowed: impl fmt::Display,
    ) {
        self.problems.push(Invalid {
            field: self.path_of(&field),
            value: value.to_string(),
            allowed: allowed.to_string(),
        });
    }

    /// A number must lie in a range. NaN lies in none.
    pub(crate) fn number(&mut self, field: &str, value: f64, range: impl RangeBounds<f64>) {
        if !(value.is_finite() && range.contains(&value)) {
            self.report(field, Number(value), in_words(&range));
        }
    }

    /// Each of three numbers must lie in a range.
    pub(crate) fn numbers(&mut self, field: &str, values: [f64; 3], range: &impl RangeBounds<f64>) {
        for (i, value) in values.into_iter().enumerate() {
            self.number(&format!("{field}[{i}]"), value, (range.start_bound(), range.end_bound()));
        }
    }

    /// A count must lie in a range.
    pub(crate) fn count(&mut self, field: &str, value: u32, range: std::ops::RangeInclusive<u32>) {
        if !range.contains(&value) {
            let allowed = format!("at least {} and at most {}", range.start(), range.end());
            self.report(field, value, allowed);
        }
    }

    /// A name or path must be one line of visible text.
    pub(crate) fn text(&mut self, field: &str, value: &str) {
        if value.trim().is_empty() {
            self.report(field, format_args!("{value:?}"), "text that is not blank");
        } else if value.chars().any(char::is_control) {
            self.report(field, format_args!("{value:?}"), "one line of plain text");
        } else if value.chars().count() > LONGEST_TEXT {
            let count = value.chars().count();
            let allowed = format_args!("at most {LONGEST_TEXT} characters");
            self.report(field, format_args!("{count} characters long"), allowed);
        }
    }

    /// A list must have something in it.
    pub(crate) fn not_empty<T>(&mut self, field: &str, list: &[T]) {
        if list.is_empty() {
            self.report(field, "empty", "a list of at least one");
        }
    }

    /// No two elements of a list may have the same key; `suffix` follows `list[index]`.
    pub(crate) fn distinct<K: Ord>(
        &mut self,
        list: &str,
        suffix: &str,
        keys: impl Iterator<Item = (K, String)>,
    ) {
        let mut seen = BTreeMap::new();
        for (i, (key, shown)) in keys.enumerate() {
            if let Some(first) = seen.get(&key) {
                let allowed = format!(
                    "different from {}",
                    self.path_of(&format_args!("{list}[{first}]{suffix}"))
                );
                self.report(format_args!("{list}[{i}]{suffix}"), shown, allowed);
            } else {
                seen.insert(key, i);
            }
        }
    }

    fn path_of(&self, field: &dyn fmt::Display) -> String {
        let field = field.to_string();
        match (self.path.as_str(), field.as_str()) {
            ("", field) => field.to_owned(),
            (path, "") => path.to_owned(),
            (path, field) => format!("{path}.{field}"),
        }
    }
}

/// A number as a person would write it: no three hundred zeros.
pub(crate) struct Number(pub(crate) f64);

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let size = self.0.abs();
        if size == 0.0 || !size.is_finite() || (1e-6..1e9).contains(&size) {
            write!(f, "{}", self.0)
        } else {
            write!(f, "{:e}", self.0)
        }
    }
}

/// The numbers above `low` up to and including `high`.
pub(crate) fn above(low: f64, high: f64) -> (Bound<f64>, Bound<f64>) {
    (Bound::Excluded(low), Bound::Included(high))
}

/// "above 0 and at most 10".
fn in_words(range: &impl RangeBounds<f64>) -> String {
    let low = match range.start_bound() {
        Bound::Included(a) => Some(format!("at least {}", Number(*a))),
        Bound::Excluded(a) => Some(format!("above {}", Number(*a))),
        Bound::Unbounded => None,
    };
    let high = match range.end_bound() {
        Bound::Included(b) => Some(format!("at most {}", Number(*b))),
        Bound::Excluded(b) => Some(format!("below {}", Number(*b))),
        Bound::Unbounded => None,
    };
    match (low, high) {
        (Some(low), Some(high)) => format!("{low} and {high}"),
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => "finite".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn problems_are_sentences_with_path_value_and_range() {
        let mut c = Checker::default();
        c.within("core", |c| {
            c.within("hatch", |c| {
                c.number("spacing_mm", 0.0, above(0.0, 10.0));
                c.numbers("three", [1.0, f64::NAN, f64::INFINITY], &(0.0..90.0));
                c.number("fine", 10.0, 0.0..=10.0);
            });
            c.text("name", " ");
            c.distinct("list", ".name", ["a", "b", "a"].map(|k| (k, format!("{k:?}"))).into_iter());
        });
        c.number("huge", -1e300, -1.0..);
        let problems: Vec<_> = c.finish().unwrap_err().iter().map(ToString::to_string).collect();
        let expected = [
            "core.hatch.spacing_mm is 0; it must be above 0 and at most 10",
            "core.hatch.three[1] is NaN; it must be at least 0 and below 90",
            "core.hatch.three[2] is inf; it must be at least 0 and below 90",
            "core.name is \" \"; it must be text that is not blank",
            "core.list[2].name is \"a\"; it must be different from core.list[0].name",
            "huge is -1e300; it must be at least -1",
        ];
        assert_eq!(problems, expected);
    }
}
