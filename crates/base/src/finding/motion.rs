//! What the mirrors and the laser cannot do as they are asked to.

use super::entry::{Entry, counted, said};
use super::kind::Kind;
use super::limit::Source::Machine;

/// Marks of one placement, over all its layers, that a head cannot run as the recipe asks.
#[derive(Clone, Debug, PartialEq)]
pub enum MotionProblem {
    /// Paths whose first mark begins before the beam is at full speed.
    PathsStartSlowly {
        /// How many.
        paths: u64,
        /// Lowest speed at such a start, mm/s.
        speed_mm_s: f64,
        /// What that one should have, mm/s.
        wanted_mm_s: f64,
        /// Run-in with which it would have it, mm.
        run_in_mm: f64,
    },
    /// Corners that are run at less than full speed.
    CornersSlow {
        /// How many.
        corners: u64,
        /// Lowest speed in one, mm/s.
        speed_mm_s: f64,
        /// What that one should have, mm/s.
        wanted_mm_s: f64,
    },
    /// The light is on for less time than it can be.
    LightTooShort {
        /// How many times.
        times: u64,
        /// The shortest, µs.
        shortest_us: f64,
        /// What the laser can do, µs.
        least_us: f64,
    },
    /// The light is on for longer than it can be at a stretch.
    LightTooLong {
        /// How many times.
        times: u64,
        /// The longest, µs.
        longest_us: f64,
        /// What the laser can do, µs.
        most_us: f64,
    },
    /// A placement reaches out of what the mirrors can reach.
    OutsideField {
        /// By how much and where: "0.500 mm at +X", one for each side.
        over: Vec<String>,
        /// Size of the field, mm.
        field_mm: [f64; 2],
    },
}

impl MotionProblem {
    pub(super) fn entry(&self) -> Entry {
        match self {
            Self::PathsStartSlowly { paths, speed_mm_s, wanted_mm_s, run_in_mm } => said(
                Kind::PathsStartSlowly,
                format!(
                    "{} before the beam is at full speed, the slowest at {speed_mm_s:.0} of {wanted_mm_s:.0} \
                     mm/s: more energy gets there.",
                    counted(*paths, "row of marks begins", "rows of marks begin")
                ),
            )
            .note("Let run-in and run-out follow from the head, in the exposure, if the lines need it.")
            .limit(format!("a run-in of {run_in_mm:.3} mm there"), Machine),
            Self::CornersSlow { corners, speed_mm_s, wanted_mm_s } => said(
                Kind::CornersSlow,
                format!(
                    "{} at full speed, the slowest is run at {speed_mm_s:.0} of {wanted_mm_s:.0} mm/s: more \
                     energy gets there.",
                    counted(*corners, "corner cannot be run", "corners cannot be run")
                ),
            )
            .note("Expose contours more slowly, or choose otherwise how the machine runs corners.")
            .limit("v = √(a·r) on an arc within the corner tolerance", Machine),
            Self::LightTooShort { times, shortest_us, least_us } => said(
                Kind::LightTooShort,
                format!(
                    "The light would be on for less time than it can be: {}, for {shortest_us:.1} µs at the \
                     least.",
                    counted(*times, "time", "times")
                ),
            )
            .caution("Leave out shorter lines, in the recipe, or expose them more slowly.")
            .limit(format!("at least {least_us} µs"), Machine),
            Self::LightTooLong { times, longest_us, most_us } => said(
                Kind::LightTooLong,
                format!(
                    "The light would be on for longer than it can be: {}, for {longest_us:.0} µs at the most.",
                    counted(*times, "time", "times")
                ),
            )
            .caution("Divide the hatch into narrower stripes or cells, or expose faster.")
            .limit(format!("at most {most_us} µs"), Machine),
            Self::OutsideField { over, field_mm: [x, y] } => said(
                Kind::OutsideField,
                format!("The part reaches out of what the mirrors can reach by {}.", over.join(", ")),
            )
            .stop("Move it, rotate it or leave it out.")
            .limit(format!("{x} × {y} mm around the middle"), Machine),
        }
    }
}
