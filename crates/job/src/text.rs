//! Reading and writing the three kinds of file as RON text.

use crate::Invalid;
use crate::rewrite::rewritten;
use crate::upgrade::Upgraded;
use ron::extensions::Extensions;
use ron::ser::PrettyConfig;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

/// Why the text of a job, machine or recipe could not be used. Names no file: the caller knows it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum JobError {
    /// The text is not RON, or not of the expected shape.
    #[error("line {line}, column {column} of the {document}: {message}. {advice}")]
    Text {
        /// What the text was read as: "job", "machine" or "recipe".
        document: &'static str,
        /// Line, from 1.
        line: usize,
        /// Column, characters from 1.
        column: usize,
        /// What is wrong there.
        message: String,
        /// What to do about it.
        advice: &'static str,
    },
    /// One of the other two kinds of file.
    #[error("this is a {found}, but a {document} is wanted here; name the file of a {document}")]
    OtherKind {
        /// What the text was read as: "job", "machine" or "recipe".
        document: &'static str,
        /// What it is.
        found: &'static str,
    },
    /// Written for a later release of this program.
    #[error(
        "the {document} has version {version}, but this program reads only up to version \
         {newest}; use a newer program, or write the {document} for version {newest}"
    )]
    TooNew {
        /// What the text was read as: "job", "machine" or "recipe".
        document: &'static str,
        /// Version in the text.
        version: u32,
        /// Newest version that this program reads.
        newest: u32,
    },
    /// Values out of range or that do not go together: all of them, in the order of the fields.
    #[error("the {document} cannot be used as it is: {}", sentences(.problems))]
    Invalid {
        /// What the text was read as: "job", "machine" or "recipe".
        document: &'static str,
        /// At least one problem.
        problems: Vec<Invalid>,
    },
}

fn sentences(problems: &[Invalid]) -> String {
    problems.iter().map(ToString::to_string).collect::<Vec<_>>().join(". ")
}

/// What the three kinds of file have in common.
pub(crate) trait Document: Clone + PartialEq + Serialize + DeserializeOwned {
    const KIND: &'static str;
    const NEWEST: u32;
    fn set_version(&mut self, version: u32);
    fn problems(&self) -> Result<(), Vec<Invalid>>;
    /// Puts values right that an earlier version meant differently; names are replaced already.
    fn upgrade(&mut self);
}

/// The one field that is read before anything else is believed.
#[derive(Deserialize)]
struct Version {
    version: u32,
}

/// RON in which an optional value is written without `Some(…)`; both spellings are read.
fn dialect() -> ron::Options {
    ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME)
}

/// Reads and validates. Of an earlier version the value keeps the number, so that it can be told; its
/// content is as the newest version has it.
///
/// `kind_of` says which kind of file a text is, for one that is not of this kind.
pub(crate) fn read<T: Document>(
    text: &str,
    kind_of: impl Fn(&str) -> Option<&'static str>,
) -> Result<T, JobError> {
    // Other programs put a byte order mark in front of UTF-8; it carries nothing.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    // A later version may have names unknown here; say that, not that one of them is unknown.
    let version = dialect().from_str(text).ok().map(|Version { version }| version);
    if let Some(version) = version.filter(|version| *version > T::NEWEST) {
        return Err(JobError::TooNew { document: T::KIND, version, newest: T::NEWEST });
    }
    let today = Upgraded::new(text, version);
    let mut value: T =
        dialect().from_str(&today.text).map_err(|error| match kind_of(&today.text) {
            Some(found) => JobError::OtherKind { document: T::KIND, found },
            None => text_error(T::KIND, &error, &today),
        })?;
    value.upgrade();
    if today.is_newer_than_stated {
        value.set_version(T::NEWEST);
    }
    match value.problems() {
        Ok(()) => Ok(value),
        Err(problems) => Err(JobError::Invalid { document: T::KIND, problems }),
    }
}

/// The kind of a type, if the text reads as one.
pub(crate) fn reads_as<T: Document>(text: &str) -> Option<&'static str> {
    dialect().from_str::<T>(text).is_ok().then_some(T::KIND)
}

/// Writes the newest version, with line breaks and indents; the same value gives the same bytes on every
/// system.
pub(crate) fn write<T: Document>(value: &T) -> String {
    let mut value = value.clone();
    value.set_version(T::NEWEST);
    let style = PrettyConfig::new()
        .new_line("\n")
        .indentor("    ")
        .struct_names(false)
        .extensions(Extensions::IMPLICIT_SOME);
    let mut text = dialect()
        .to_string_pretty(&value, style)
        .expect("numbers, text and lists always have a RON form, and a String takes any length");
    text.push('\n');
    text
}

/// Writes the newest version over an earlier text, whose comments and layout stay.
pub(crate) fn write_over<T: Document>(
    value: &T,
    earlier: &str,
    kind_of: impl Fn(&str) -> Option<&'static str>,
) -> String {
    let wanted = write(value);
    let Ok(there) = read::<T>(earlier, &kind_of) else { return wanted };
    let earlier = earlier.strip_prefix('\u{feff}').unwrap_or(earlier);
    let version = dialect().from_str(earlier).ok().map(|Version { version }| version);
    let today = Upgraded::new(earlier, version);
    let mut newest = value.clone();
    newest.set_version(T::NEWEST);
    let is_right = |text: &String| read::<T>(text, &kind_of).as_ref() == Ok(&newest);
    rewritten(&today.text, &write(&there), &wanted).filter(is_right).unwrap_or(wanted)
}

fn text_error(
    document: &'static str,
    error: &ron::error::SpannedError,
    today: &Upgraded,
) -> JobError {
    use ron::Error as E;
    let advice = match &error.code {
        E::NoSuchStructField { .. } => "Correct the name of the field, or take it out",
        E::NoSuchEnumVariant { .. } => "Use one of those words",
        E::MissingStructField { .. } => "Add the field within these brackets",
        E::DuplicateStructField { .. } => "Keep one of the two",
        E::Eof | E::ExpectedStructLikeEnd | E::ExpectedArrayEnd | E::ExpectedComma => {
            "Put a comma between fields and close every bracket that was opened"
        }
        E::ExpectedInteger | E::IntegerOutOfBounds | E::InvalidIntegerDigit { .. } => {
            "Write a whole number that is not negative"
        }
        E::ExpectedFloat | E::FloatUnderscore => "Write a number, such as 0.25",
        E::ExpectedString | E::ExpectedStringEnd => "Put the text in double quotes",
        E::ExpectedArray => "Write a list in square brackets",
        E::ExpectedStructLike | E::ExpectedNamedStructLike(_) => "Write it in round brackets",
        E::ExpectedDifferentLength { .. } => "Write as many values as that",
        E::TrailingCharacters => "Take out what follows the last bracket",
        _ => "Correct the text there",
    };
    let (line, column) = (error.span.start.line, error.span.start.col);
    let message = match &error.code {
        E::MissingStructField { field, .. } => format!("The field `{field}` is missing"),
        E::NoSuchStructField { expected, found, .. } => {
            let found = today.name(line, column, found);
            format!("There is no field `{found}` here; there are `{}`", expected.join("`, `"))
        }
        E::DuplicateStructField { field, .. } => {
            format!("The field `{}` is there twice", today.name(line, column, field))
        }
        other => other.to_string(),
    };
    JobError::Text { document, line, column: today.column(line, column), message, advice }
}
