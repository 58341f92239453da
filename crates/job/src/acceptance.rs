//! What a person has looked at and takes as it is, with a reason: kept in the job, so that the next one to
//! look at it reads why.

use crate::check::Checker;
use base::{Finding, Kind, Severity};
use serde::{Deserialize, Serialize};

/// Findings that a person takes as they are. It stands with the part concerned, or with the job: then it covers
/// all findings of its kind, wherever they are.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Acceptance {
    /// Of which kind, by the name that `check --json` prints.
    pub kind: Kind,
    /// Of a part: only at the placement of this number, from 0; at all of them when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub placement: Option<u32>,
    /// Only within these layers, from 0, both included; in all when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub layers: Option<(u32, u32)>,
    /// Only as long as this is what is said, word for word; whatever is said when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub says: Option<String>,
    /// Why, in a sentence of the person's.
    pub reason: String,
}

impl Acceptance {
    /// One that covers a finding, and as little else as can be said: its placement if there is one. A stop, and
    /// what is said of a recipe, is covered only as it is worded now, since the next of its kind may be worse.
    pub fn of(finding: &Finding, is_of_part: bool, reason: &str) -> Self {
        let place = &finding.place;
        let copy = place.placement.as_ref().and_then(|at| u32::try_from(at.id.copy).ok());
        let is_worded = finding.severity() == Severity::Stop || !is_of_part && place.part.is_some();
        Self {
            kind: finding.kind(),
            placement: copy.filter(|_| is_of_part),
            layers: None,
            says: is_worded.then(|| finding.sentence().to_owned()),
            reason: reason.to_owned(),
        }
    }

    pub(crate) fn check(&self, c: &mut Checker) {
        c.text("reason", &self.reason);
        if let Some((first, last)) = self.layers.filter(|(first, last)| first > last) {
            c.report("layers", format_args!("({first}, {last})"), "the first layer, then the last");
        }
    }
}
