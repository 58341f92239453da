//! Findings: what a check found, as a sentence with a place and a severity.
//!
//! Everything that can be found stands in one catalogue, a file per stage of the work. To add a
//! finding: a variant of that stage's enum, its line in the enum's `entry`, its name in [`Kind`],
//! and a fixture in `pipeline/tests/every_finding`. The compiler asks for the last three.

mod arrangement;
mod dose;
mod entry;
mod heat;
mod import;
mod job;
mod kind;
mod layers;
mod limit;
mod mesh;
mod motion;
mod place;
mod problem;
mod severity;
mod shape;
mod vector_file;
mod vectors;

pub use arrangement::ArrangementProblem;
pub use dose::{DoseProblem, Lost};
pub use heat::HeatProblem;
pub use import::{FileProblem, StlProblem, SuggestedUnit};
pub use job::{JobProblem, UNEVEN_OFFSET_MM, UNEVEN_POWER_PERCENT};
pub use kind::Kind;
pub use layers::{LONGEST_CLOSED_MM, LayerProblem};
pub use limit::{Limit, Source};
pub use mesh::{ShellProblem, SurfaceProblem};
pub use motion::MotionProblem;
pub use place::{NamedPlacement, Place};
pub use problem::Problem;
pub use severity::Severity;
pub use shape::{Asked, ShapeProblem};
pub use vector_file::{LayerFault, VectorFileProblem};
pub use vectors::VectorsProblem;

use entry::Entry;
use serde::{Serialize, Serializer};
use std::fmt;

/// One thing that a check found: a problem of the catalogue, and where it lies.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    problem: Problem,
    /// What the catalogue says of the problem; made once, since views ask in every frame.
    entry: Entry,
    /// Where it lies.
    pub place: Place,
}

impl Finding {
    /// A finding about the whole job; narrow its place with the `at_…` methods.
    pub fn new(problem: impl Into<Problem>) -> Self {
        let problem = problem.into();
        let entry = problem.entry();
        Self { problem, entry, place: Place::default() }
    }

    /// What was found, with its numbers.
    pub fn problem(&self) -> &Problem {
        &self.problem
    }

    /// Which kind of problem this is.
    pub fn kind(&self) -> Kind {
        self.entry.kind
    }

    /// How much it matters.
    pub fn severity(&self) -> Severity {
        self.entry.severity
    }

    /// Whether a person may take it as it is, with a reason, so that it no longer counts. What makes a file
    /// false, or cannot be built as it is drawn, may not be accepted; nor what is said of acceptances.
    pub fn is_acceptable(&self) -> bool {
        match &self.problem {
            Problem::VectorFile(_)
            | Problem::Vectors(_)
            | Problem::Job(JobProblem::AcceptanceGone { .. } | JobProblem::NotAcceptable { .. }) => {
                false
            }
            Problem::Arrangement(problem) => problem.is_acceptable(),
            Problem::Stl(_)
            | Problem::File(_)
            | Problem::Surface(_)
            | Problem::Shell(_)
            | Problem::Shape(_)
            | Problem::Job(_)
            | Problem::Layer(_)
            | Problem::Heat(_)
            | Problem::Motion(_)
            | Problem::Dose(_) => self.severity() != Severity::Stop,
        }
    }

    /// What is wrong, in one or two plain sentences.
    pub fn sentence(&self) -> &str {
        &self.entry.sentence
    }

    /// What to do about it, in one or two plain sentences; empty where there is nothing to do.
    pub fn advice(&self) -> &str {
        self.entry.advice
    }

    /// What would have been allowed, and who says so.
    pub fn limit(&self) -> &Limit {
        &self.entry.limit
    }

    /// Names the part or file concerned.
    #[must_use]
    pub fn at_part(mut self, part: impl Into<String>) -> Self {
        self.place.part = Some(part.into());
        self
    }

    /// Names the placement concerned.
    #[must_use]
    pub fn at_placement(mut self, placement: NamedPlacement) -> Self {
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

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.severity(), self.sentence())?;
        if !self.advice().is_empty() {
            write!(f, " {}", self.advice())?;
        }
        let place = self.place.to_string();
        if place.is_empty() { Ok(()) } else { write!(f, " [{place}]") }
    }
}

impl Serialize for Finding {
    /// Kind, severity, sentence, advice, limit and place.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Row<'a> {
            kind: Kind,
            severity: Severity,
            sentence: &'a str,
            advice: &'a str,
            limit: &'a Limit,
            place: &'a Place,
        }
        let Entry { kind, severity, ref sentence, advice, ref limit } = self.entry;
        Row { kind, severity, sentence, advice, limit, place: &self.place }.serialize(serializer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{PlacementId, PlacementName};

    #[test]
    fn a_finding_reads_as_a_sentence_with_what_to_do_and_its_place() {
        let name = PlacementName { part: "hinge".into(), copy: 2, copies: 4 };
        let finding = Finding::new(SurfaceProblem::OpenEdges { count: 3 })
            .at_placement(NamedPlacement { id: PlacementId::new(0, 1), name })
            .at_layers(4, 9)
            .at_point([1.0, 2.0, 3.0]);
        assert_eq!(
            finding.to_string(),
            "caution: 3 edges have a triangle on one side only: the surface has a hole or a gap \
             there. Contours that end at it are closed by a straight line. Check the layers \
             around it, or close the surface. [hinge 2 of 4, layers 4 to 9, at (1.000, 2.000, \
             3.000) mm]"
        );
    }
}
