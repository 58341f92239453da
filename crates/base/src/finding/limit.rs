//! What a check allows, and who says so.

use serde::Serialize;
use std::borrow::Cow;
use std::fmt;

/// What a check allows, and where that comes from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Limit {
    /// In words, with its number and unit where it has one.
    pub allowed: Cow<'static, str>,
    /// Who says so.
    pub source: Source,
}

impl Limit {
    /// A limit from a source.
    pub(super) fn new(allowed: impl Into<Cow<'static, str>>, source: Source) -> Self {
        Self { allowed: allowed.into(), source }
    }
}

impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.allowed, self.source)
    }
}

/// Where a limit comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// The machine file.
    Machine,
    /// The recipe.
    Recipe,
    /// The job.
    Job,
    /// The specification of the file's format: of a mesh file, or `SPEC.md` of the vector file.
    FileFormat,
    /// It follows from geometry, whatever is built.
    Geometry,
    /// How this program works: what it can follow, or undertakes to keep.
    Program,
    /// A publication that the sentence names.
    Published,
    /// What people who build parts take for granted; nobody's publication.
    CommonPractice,
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Machine => "from the machine",
            Self::Recipe => "from the recipe",
            Self::Job => "from the job",
            Self::FileFormat => "from the file format",
            Self::Geometry => "follows from geometry",
            Self::Program => "a rule of this program",
            Self::Published => "published",
            Self::CommonPractice => "common practice, no source",
        })
    }
}
