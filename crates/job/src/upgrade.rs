//! Files of earlier versions, read by the names of today.
//!
//! Names that have changed are replaced in the text before it is read, and fields that are newer are put
//! in, so that everything else about reading, the places in error messages among them, is the same for
//! old and new files. What is assumed for a newer field is told by [`crate::Recipe::assumed`] and
//! [`crate::Machine::assumed`].

use crate::tokens::{comment_length, name_length, quoted_length, raw_text_length};
use crate::{Machine, Recipe};
use std::borrow::Cow;
use std::ops::Range;

/// The version since which machines state the radius of the beam and recipes the material: the last one
/// that changed what files must say.
const SINCE_MATERIAL: u32 = 3;

/// What version 1 called a thing, and what it is called since version 2. One table does for jobs,
/// machines and recipes: none of these words meant anything else in another place.
const SINCE_VERSION_2: [(&str, &str); 9] = [
    ("turns", "allowed_orientations"),
    ("Fixed", "AsPlaced"),
    ("KeepUp", "RotatedAboutZ"),
    ("Axes", "QuarterTurns"),
    ("Any", "Many"),
    ("turns_deg", "rotation_deg"),
    ("turn_deg", "rotation_per_layer_deg"),
    ("run_in_mm", "path_run_in_mm"),
    ("run_out_mm", "path_run_out_mm"),
];

/// A field that files before version 3 do not have, and what is assumed in its place.
struct Assumed {
    /// The name before which the field is put: one that only this kind of file has, and needs.
    before: &'static str,
    /// Name of the field.
    field: &'static str,
    /// The field as RON.
    ron: &'static str,
    /// The assumption in a sentence.
    sentence: &'static str,
}

/// A beam as the shipped recipes suppose it.
const SPOT_RADIUS: Assumed = Assumed {
    before: "wavelength_nm",
    field: "spot_radius_mm",
    ron: "spot_radius_mm: 0.25, ",
    sentence: "It states no radius of the beam, so 0.25 mm (to 1/e²) is assumed.",
};

/// The numbers of [`crate::recipe::Material::PA12`]; `tests/versions.rs` compares them.
const MATERIAL: Assumed = Assumed {
    before: "layer_thickness_mm",
    field: "material",
    ron: "material: (bed_temperature_c: 170, melting_temperature_c: 187, heat_capacity_j_g_k: 2.5, \
          latent_heat_j_g: 100, bed_density_g_cm3: 0.4545, part_density_g_cm3: 0.95, \
          absorbed_fraction: 0.95), ",
    sentence: "It states no material, so that of polyamide 12 is assumed: bed at 170 °C, melting at \
               187 °C, 2.5 J/(g·K), 100 J/g, 0.4545 g/cm³ as powder, 0.95 g/cm³ as part, 0.95 of the \
               power absorbed.",
};

impl Machine {
    /// What is assumed because the file that the machine was read from is too old to say it: a sentence
    /// for the person. Nothing once the machine is written anew.
    pub fn assumed(&self) -> Option<&'static str> {
        (self.version < SINCE_MATERIAL).then_some(SPOT_RADIUS.sentence)
    }
}

impl Recipe {
    /// What is assumed because the file that the recipe was read from is too old to say it: a sentence
    /// for the person. Nothing once the recipe is written anew.
    pub fn assumed(&self) -> Option<&'static str> {
        (self.version < SINCE_MATERIAL).then_some(MATERIAL.sentence)
    }
}

/// Text in which every name is one of today and no field is missing that is newer, and how to find places
/// of it in the text as it was.
pub(crate) struct Upgraded<'a> {
    /// The text with today's names.
    pub(crate) text: Cow<'a, str>,
    /// Whether the text has a field that is newer than the version it states: then that was forgotten.
    pub(crate) is_newer_than_stated: bool,
    renamed: Vec<Renamed>,
}

/// A name that was replaced, or a field that was put in, which had no text.
struct Renamed {
    /// Line, from 1, the same in both texts: no name has a line break in it.
    line: usize,
    /// Column of it in today's text, characters from 1.
    column: usize,
    old: &'static str,
    new: &'static str,
}

impl<'a> Upgraded<'a> {
    /// Replaces the names that have changed since the version that the text is of, and puts in the fields
    /// that are newer, whatever else is wrong with the text. O(n) time.
    ///
    /// Of a text that is too broken to tell, `version` is absent: then the word behind `version` counts.
    pub(crate) fn new(text: &'a str, version: Option<u32>) -> Self {
        let names = identifiers(text);
        let stated = || {
            let mut words = names.iter().map(|name| &text[name.clone()]);
            words.find(|word| *word == "version").and_then(|_| words.next()?.parse().ok())
        };
        let version = version.or_else(stated).unwrap_or(SINCE_MATERIAL);
        if version >= SINCE_MATERIAL {
            let text = Cow::Borrowed(text);
            return Self { text, is_newer_than_stated: false, renamed: Vec::new() };
        }
        let has = |word: &str| names.iter().any(|name| &text[name.clone()] == word);
        let mut missing = vec![&SPOT_RADIUS, &MATERIAL];
        missing.retain(|new| !has(new.field));
        let is_newer_than_stated = version > 0 && missing.len() < 2;
        let (mut out, mut renamed) = (String::with_capacity(text.len()), Vec::new());
        let (mut line, mut column, mut done) = (1, 1, 0);
        for name in names {
            let before = &text[done..name.start];
            line += before.matches('\n').count();
            column = match before.rsplit_once('\n') {
                Some((_, last)) => 1 + last.chars().count(),
                None => column + before.chars().count(),
            };
            out.push_str(before);
            done = name.end;
            let written = &text[name];
            let mut put = |old: &'static str, new: &'static str| {
                renamed.push(Renamed { line, column, old, new });
                out.push_str(new);
                column += new.len();
            };
            if let Some(at) = missing.iter().position(|new| new.before == written) {
                put("", missing.remove(at).ron);
            }
            let renamed = SINCE_VERSION_2.iter().find(|(old, _)| version == 1 && *old == written);
            if let Some((old, new)) = renamed {
                put(old, new);
            } else {
                out.push_str(written);
                column += written.chars().count();
            }
        }
        out.push_str(&text[done..]);
        Self { text: Cow::Owned(out), is_newer_than_stated, renamed }
    }

    /// The column in the text as it was, of a place in the text with today's names.
    pub(crate) fn column(&self, line: usize, column: usize) -> usize {
        let mut original = column;
        for name in self.renamed.iter().filter(|name| name.line == line) {
            let inside = column.saturating_sub(name.column);
            if inside >= name.new.len() {
                original = original + name.old.len() - name.new.len();
            } else {
                original -= inside - inside.min(name.old.len().saturating_sub(1));
            }
        }
        original
    }

    /// The name that stood, in the text as it was, where today's text has this one.
    pub(crate) fn name<'n>(&self, line: usize, column: usize, name: &'n str) -> &'n str {
        let is_here = |r: &&Renamed| (r.line, r.column, r.new) == (line, column, name);
        self.renamed.iter().find(is_here).map_or(name, |renamed| renamed.old)
    }
}

/// The names in RON text, from left to right: not what looks like one within text in quotes or within a
/// comment. Text that is no RON gives some ranges or other.
fn identifiers(text: &str) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(c) = text[at..].chars().next() {
        let rest = &text[at..];
        let length = name_length(rest);
        at += match c {
            '"' => quoted_length(rest),
            '/' if comment_length(rest) > 0 => comment_length(rest),
            'r' => raw_text_length(rest).unwrap_or_else(|| {
                found.push(at..at + length);
                length
            }),
            _ if length > 0 => {
                found.push(at..at + length);
                length
            }
            _ => c.len_utf8(),
        };
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_are_replaced_and_quoted_text_and_comments_are_not() {
        let old = concat!(
            "(version: 1, turns: Any, /* turns /* Any */ turns */ notes: \"turns: \\\"Any\\\"\", // turns\n",
            "  raw: r#\"turns \" turns\"#, µ: r#turns, turns_deg_x: (1, turns_deg: Fixed)) \"turns",
        );
        let new = concat!(
            "(version: 1, allowed_orientations: Many, /* turns /* Any */ turns */ notes: \"turns: ",
            "\\\"Any\\\"\", // turns\n  raw: r#\"turns \" turns\"#, µ: r#allowed_orientations, ",
            "turns_deg_x: (1, rotation_deg: AsPlaced)) \"turns",
        );
        assert_eq!(Upgraded::new(old, None).text, new);
        for other in ["version: 2", "version: 11", "colour: 1", "/* version: 1 */ version: 3"] {
            let other = old.replacen("version: 1", other, 1);
            assert_eq!(Upgraded::new(&other, None).text, other);
        }
    }

    #[test]
    fn places_are_those_of_the_text_as_it_was() {
        let upgraded = Upgraded::new("(ä: 1, version: 1,\n  turns: Any, turn_deg: ?", None);
        let column_of = |part: &str| {
            let line = upgraded.text.lines().nth(1).expect("two lines");
            upgraded.column(2, 1 + line.find(part).expect("it is there"))
        };
        assert_eq!(
            ["allowed", ": Many", "Many", "rotation", "?"].map(column_of),
            [3, 8, 10, 15, 25]
        );
        assert_eq!(column_of("_orientations"), 7, "the last character of `turns`");
        assert_eq!(upgraded.column(1, 5), 5);
        assert_eq!(upgraded.name(2, 3, "allowed_orientations"), "turns");
        assert_eq!(upgraded.name(1, 3, "allowed_orientations"), "allowed_orientations");
    }

    proptest! {
        #[test]
        fn any_text_can_be_upgraded(text in "[turnsdeg_r#\"/*\\\\\n ä]{0,60}") {
            let text = format!("version: 1 {text}");
            let upgraded = Upgraded::new(&text, None);
            prop_assert_eq!(upgraded.text.lines().count(), text.lines().count());
            for column in 1..80 {
                prop_assert!(upgraded.column(1, column) >= 1);
            }
        }
    }
}
