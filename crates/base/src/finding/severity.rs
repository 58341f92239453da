//! How much a finding matters.

use serde::{Deserialize, Serialize};
use std::fmt;

/// How much a finding matters; the worst is the largest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing; the result is right.
    Note,
    /// The result may not be what the person wants.
    Caution,
    /// The job must not be run like this.
    Stop,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Note => "note",
            Self::Caution => "caution",
            Self::Stop => "stop",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_is_the_largest() {
        assert!(Severity::Stop > Severity::Caution && Severity::Caution > Severity::Note);
    }
}
