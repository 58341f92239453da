//! Findings: what a check found, as a sentence with a place and a severity.

use serde::{Deserialize, Serialize};
use std::fmt;

/// How much a finding matters.
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

/// Where a finding lies. Every field is optional; empty means the whole job.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// File or part name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// Index of the placement in the job, from 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub placement: Option<u32>,
    /// First and last layer concerned, from 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub layers: Option<(u32, u32)>,
    /// A point to look at, mm, in the frame the check worked in (part frame for mesh health,
    /// build space for everything after placement).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub point_mm: Option<[f64; 3]>,
}

/// One thing that a check found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// How much it matters.
    pub severity: Severity,
    /// Stable short name of the kind of finding, `snake_case`, for machines and tests.
    pub kind: String,
    /// Where it lies.
    pub place: Place,
    /// What is wrong and what to do, one or two plain sentences.
    pub sentence: String,
}

impl Finding {
    /// A finding about the whole job; narrow its place with the `at_…` methods.
    pub fn new(severity: Severity, kind: &str, sentence: impl Into<String>) -> Self {
        Self { severity, kind: kind.to_owned(), place: Place::default(), sentence: sentence.into() }
    }

    /// Names the part or file concerned.
    #[must_use]
    pub fn at_part(mut self, part: impl Into<String>) -> Self {
        self.place.part = Some(part.into());
        self
    }

    /// Names the placement concerned.
    #[must_use]
    pub fn at_placement(mut self, placement: u32) -> Self {
        self.place.placement = Some(placement);
        self
    }

    /// Names the first and last layer concerned.
    #[must_use]
    pub fn at_layers(mut self, first: u32, last: u32) -> Self {
        self.place.layers = Some((first, last));
        self
    }

    /// Points at a position, mm.
    #[must_use]
    pub fn at_point(mut self, point_mm: [f64; 3]) -> Self {
        self.place.point_mm = Some(point_mm);
        self
    }
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

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.severity, self.sentence)?;
        let place = &self.place;
        let mut parts = Vec::new();
        if let Some(part) = &place.part {
            parts.push(part.clone());
        }
        if let Some(placement) = place.placement {
            parts.push(format!("placement {placement}"));
        }
        match place.layers {
            Some((a, b)) if a == b => parts.push(format!("layer {a}")),
            Some((a, b)) => parts.push(format!("layers {a} to {b}")),
            None => {}
        }
        if let Some([x, y, z]) = place.point_mm {
            parts.push(format!("at ({x:.3}, {y:.3}, {z:.3}) mm"));
        }
        if parts.is_empty() { Ok(()) } else { write!(f, " [{}]", parts.join(", ")) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_finding_reads_as_a_sentence_with_its_place() {
        let finding = Finding::new(Severity::Caution, "open_edges", "3 edges have one triangle.")
            .at_part("hinge")
            .at_layers(4, 9)
            .at_point([1.0, 2.0, 3.0]);
        assert_eq!(
            finding.to_string(),
            "caution: 3 edges have one triangle. [hinge, layers 4 to 9, at (1.000, 2.000, 3.000) mm]"
        );
        assert!(Severity::Stop > Severity::Caution && Severity::Caution > Severity::Note);
    }
}
