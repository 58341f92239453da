//! What stands against an arrangement: clearance, and whether parts come out.

use super::entry::{Entry, said};
use super::kind::Kind;
use super::limit::Source::{Geometry, Job, Machine, Program};
use crate::PlacementName;

/// Problems of one placement among the others.
#[derive(Clone, Debug, PartialEq)]
pub enum ArrangementProblem {
    /// It shares space with another.
    Overlap {
        /// The other one.
        other: PlacementName,
    },
    /// It is too near to another.
    Clearance {
        /// The other one.
        other: PlacementName,
        /// How far apart they are, mm.
        distance_mm: f64,
        /// How far apart the job wants them, mm.
        wanted_mm: f64,
    },
    /// It is too near to a wall of the build space, or beyond it.
    WallClearance {
        /// Which wall, in a sentence after "the".
        wall: &'static str,
        /// How far away, mm; negative beyond it.
        distance_mm: f64,
        /// How far away the job wants it, mm.
        wanted_mm: f64,
    },
    /// It lies within another and sees nothing but its walls.
    Enclosed {
        /// What holds it.
        by: Vec<PlacementName>,
    },
    /// No straight move draws it and another apart.
    Hooked {
        /// What holds it.
        by: Vec<PlacementName>,
    },
    /// It passes through another and comes off only along one line.
    Threaded {
        /// What holds it.
        by: Vec<PlacementName>,
    },
    /// Others are in the way of every straight move.
    Held {
        /// What holds it.
        by: Vec<PlacementName>,
    },
}

impl ArrangementProblem {
    /// Whether a person may take it as it is. Chains are linked on purpose, and parts may be nearer than is
    /// usual; what shares space or lies beyond a wall cannot be built as it is drawn.
    pub(super) fn is_acceptable(&self) -> bool {
        match self {
            Self::Overlap { .. } => false,
            Self::WallClearance { distance_mm, .. } => *distance_mm >= 0.0,
            Self::Clearance { .. }
            | Self::Enclosed { .. }
            | Self::Hooked { .. }
            | Self::Threaded { .. }
            | Self::Held { .. } => true,
        }
    }

    pub(super) fn entry(&self) -> Entry {
        match self {
            Self::Overlap { other } => said(Kind::Overlap, format!("The part overlaps {other}."))
                .stop("Move one of the two.")
                .limit("none: parts are built apart", Geometry),
            Self::Clearance { other, distance_mm, wanted_mm } => said(
                Kind::Clearance,
                format!("The part is {distance_mm:.3} mm from {other}; {wanted_mm} mm are wanted."),
            )
            .stop("Move one of the two.")
            .limit(format!("at least {wanted_mm} mm"), Job),
            Self::WallClearance { wall, distance_mm, wanted_mm } => {
                wall_clearance(wall, *distance_mm, *wanted_mm)
            }
            Self::Enclosed { by } => {
                said(Kind::Enclosed, format!("The part is enclosed by {}.", named(by)))
                    .stop("Move it out.")
                    .limit("none", Geometry)
            }
            Self::Hooked { by } => said(
                Kind::Hooked,
                format!(
                    "The part and {} are hooked through each other: no straight move draws them \
                     apart.",
                    named(by)
                ),
            )
            .stop("Move one of the two.")
            .limit("one of 26 straight directions", Program),
            Self::Threaded { by } => said(
                Kind::Threaded,
                format!(
                    "The part and {} pass through each other: they come apart only along one line.",
                    named(by)
                ),
            )
            .caution("Move one of the two, unless that is meant.")
            .limit("two of 26 straight directions that are not opposite", Program),
            Self::Held { by } => said(
                Kind::Held,
                format!(
                    "The part cannot be lifted out by a straight move: {} are in the way and \
                     cannot leave before it.",
                    named(by)
                ),
            )
            .stop("Move some of them.")
            .limit("one of 26 straight directions", Program),
        }
    }
}

fn wall_clearance(wall: &str, distance_mm: f64, wanted_mm: f64) -> Entry {
    if distance_mm < 0.0 {
        let sentence = format!("The part reaches {:.3} mm beyond the {wall}.", -distance_mm);
        return said(Kind::WallClearance, sentence)
            .stop("Move it.")
            .limit("inside the build space", Machine);
    }
    let sentence =
        format!("The part is {distance_mm:.3} mm from the {wall}; {wanted_mm} mm are wanted.");
    said(Kind::WallClearance, sentence)
        .stop("Move it.")
        .limit(format!("at least {wanted_mm} mm"), Job)
}

/// The first few, so that a sentence stays a sentence.
fn named(all: &[PlacementName]) -> String {
    const MOST: usize = 5;
    let first: Vec<String> = all.iter().take(MOST).map(ToString::to_string).collect();
    let more = if all.len() > MOST { " and others" } else { "" };
    first.join(", ") + more
}
