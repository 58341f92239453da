//! How a verb ended.

use base::{Finding, Severity};

/// How a verb that could run ended.
pub(crate) enum Outcome {
    /// Exit code 0.
    Done,
    /// Exit code 1: a stop finding.
    Stopped,
}

impl Outcome {
    /// Stopped if some finding says so.
    pub(crate) fn of(findings: &[Finding]) -> Self {
        if findings.iter().any(|finding| finding.severity() == Severity::Stop) {
            Self::Stopped
        } else {
            Self::Done
        }
    }
}

/// A sentence for the person; exit code 2.
pub(crate) struct Failure(pub(crate) String);

impl<E: std::error::Error> From<E> for Failure {
    fn from(error: E) -> Self {
        Self(error.to_string())
    }
}
