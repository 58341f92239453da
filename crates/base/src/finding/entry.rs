//! What the catalogue says of one problem.

use super::kind::Kind;
use super::limit::{Limit, Source};
use super::severity::Severity;
use std::borrow::Cow;

/// What the catalogue says of one problem.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Entry {
    pub(super) kind: Kind,
    pub(super) severity: Severity,
    /// What is wrong, with its numbers.
    pub(super) sentence: String,
    /// What to do.
    pub(super) advice: &'static str,
    pub(super) limit: Limit,
}

/// What is wrong with one thing; [`Self::stop`], [`Self::caution`] and [`Self::note`] say how much
/// it matters and what to do, [`Advised::limit`] what would be allowed.
pub(super) struct Said {
    kind: Kind,
    sentence: String,
}

/// A problem in words: the beginning of an entry.
pub(super) fn said(kind: Kind, sentence: impl Into<String>) -> Said {
    Said { kind, sentence: sentence.into() }
}

impl Said {
    pub(super) fn stop(self, advice: &'static str) -> Advised {
        self.of(Severity::Stop, advice)
    }

    pub(super) fn caution(self, advice: &'static str) -> Advised {
        self.of(Severity::Caution, advice)
    }

    pub(super) fn note(self, advice: &'static str) -> Advised {
        self.of(Severity::Note, advice)
    }

    pub(super) fn of(self, severity: Severity, advice: &'static str) -> Advised {
        Advised { said: self, severity, advice }
    }
}

/// An entry that lacks only its limit.
pub(super) struct Advised {
    said: Said,
    severity: Severity,
    advice: &'static str,
}

impl Advised {
    /// What would have been allowed, and who says so.
    pub(super) fn limit(self, allowed: impl Into<Cow<'static, str>>, source: Source) -> Entry {
        let Self { said: Said { kind, sentence }, severity, advice } = self;
        Entry { kind, severity, sentence, advice, limit: Limit::new(allowed, source) }
    }
}

/// "1 edge has" or "3 edges have".
pub(super) fn counted(n: u64, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}
