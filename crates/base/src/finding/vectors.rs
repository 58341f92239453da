//! What is wrong with the vectors of a file against the job that it is to build.

use super::entry::{Advised, Entry, counted, said};
use super::kind::Kind;
use super::limit::Source::{FileFormat, Geometry, Job, Recipe};

/// Problems of a vector file against its job.
#[derive(Clone, Debug, PartialEq)]
pub enum VectorsProblem {
    /// A table of the file is not that of the job.
    HeaderDiffers {
        /// Which entry.
        what: String,
        /// What the file says.
        file: String,
        /// What the job says.
        job: String,
    },
    /// What the file was made from is not what there is now.
    SourcesChanged {
        /// Which of them, in words.
        what: String,
    },
    /// Blocks that the recipe does not ask for.
    NotAskedFor {
        /// How many.
        blocks: u64,
    },
    /// Things follow each other in another order than the recipe asks for.
    OrderDiffers {
        /// Which things, in words.
        what: String,
    },
    /// Marks leave the part's section.
    MarkOutside {
        /// How many.
        marks: u64,
    },
    /// Contours or hatch lie nearer to the boundary than the recipe says.
    MarkShallow {
        /// How many marks.
        marks: u64,
    },
    /// Marks lie in another kind of region than their block says, or where the hatch leaves a gap.
    MarkElsewhere {
        /// How many.
        marks: u64,
    },
    /// Hatch marks do not run along the scan angle.
    HatchAstray {
        /// How many.
        marks: u64,
    },
    /// Hatch marks do not lie on the lines of the hatch spacing.
    HatchSpacing {
        /// How many.
        marks: u64,
    },
    /// Hatch marks run against the scan direction where all are to run along it.
    HatchBackwards {
        /// How many.
        marks: u64,
    },
    /// Lines of the hatch are not marked over all their length, or not as often as asked for.
    HatchMissing {
        /// How much is missing, mm.
        length_mm: f64,
    },
    /// Lines of the hatch are marked more often than asked for.
    HatchRepeated {
        /// Over what length, mm.
        length_mm: f64,
    },
    /// A contour is missing, or not run as often as asked for.
    ContourMissing {
        /// Over what length of the boundary about, mm.
        length_mm: f64,
    },
    /// A contour is run more often than asked for.
    ContourRepeated {
        /// Over what length of the boundary about, mm.
        length_mm: f64,
    },
    /// Marks of contours lie at a depth that no contour has.
    ContourAstray {
        /// How many.
        marks: u64,
    },
    /// Contours end where they should go on.
    ContourOpen {
        /// How many ends.
        contours: u64,
    },
    /// A thin wall has no centreline.
    CentrelineMissing {
        /// How far the wall reaches, mm.
        reach_mm: f64,
    },
    /// A centreline is run more than once.
    CentrelineRepeated {
        /// Over what length, mm.
        length_mm: f64,
    },
    /// Marks of centrelines lie beside the middle of a thin wall.
    CentrelineAstray {
        /// How many.
        marks: u64,
    },
    /// Narrow walls get more or less energy than their lines should leave.
    DoseDiffers {
        /// At how many of the places looked at.
        places: u64,
    },
}

const WRITE_AGAIN: &str = "Do not run this file; write it again from the job.";

impl VectorsProblem {
    #[expect(clippy::too_many_lines, reason = "one match over an enum")]
    pub(super) fn entry(&self) -> Entry {
        match self {
            Self::HeaderDiffers { what, file, job } => said(
                Kind::HeaderDiffers,
                format!(
                    "The {what} of the file and of the job differ: {file} in the file, {job} in \
                     the job. The file was written from another job or machine."
                ),
            )
            .stop("Write it again.")
            .limit("the same", Job),
            Self::SourcesChanged { what } => said(
                Kind::SourcesChanged,
                format!("Since the file was written, something else has changed: {what}."),
            )
            .note("Its vectors are compared with what the files say now; write it again if that is not meant.")
            .limit("the digests in the file", FileFormat),
            Self::NotAskedFor { blocks } => counted_fault(
                Kind::NotAskedFor,
                &counted(*blocks, "block of marks has", "blocks of marks have"),
                "an exposure, a kind or a region that the recipe does not ask for",
            )
            .limit("what the recipe names for contours, hatch and thin walls", Recipe),
            Self::OrderDiffers { what } => {
                fault(Kind::OrderDiffers, format!("The order is not the recipe's: {what}."))
                    .limit("the sequence, order and list of exposures", Recipe)
            }
            Self::MarkOutside { marks } => counted_fault(
                Kind::MarkOutside,
                &counted(*marks, "mark leaves", "marks leave"),
                "the part's section",
            )
            .limit("none outside by more than 10 nm, which is rounding", Geometry),
            Self::MarkShallow { marks } => counted_fault(
                Kind::MarkShallow,
                &counted(*marks, "mark lies", "marks lie"),
                "nearer to the boundary than the recipe says",
            )
            .limit("the beam offset, contours and hatch gap", Recipe),
            Self::MarkElsewhere { marks } => counted_fault(
                Kind::MarkElsewhere,
                &counted(*marks, "mark lies", "marks lie"),
                "where the recipe asks for none of its kind",
            )
            .limit("core, up-facing and down-facing regions, each with its own marks", Recipe),
            Self::HatchAstray { marks } => counted_fault(
                Kind::HatchAstray,
                &hatch_marks(*marks),
                "not run along the layer's scan angle",
            )
            .limit("the scan angle of the layer", Recipe),
            Self::HatchSpacing { marks } => counted_fault(
                Kind::HatchSpacing,
                &hatch_marks(*marks),
                "not lie on the lines of the hatch spacing",
            )
            .limit("the hatch spacing", Recipe),
            Self::HatchBackwards { marks } => counted_fault(
                Kind::HatchBackwards,
                &hatch_marks(*marks),
                "not run in the scan direction, but against it",
            )
            .limit("one way for all lines", Recipe),
            Self::HatchMissing { length_mm } => fault(
                Kind::HatchMissing,
                format!("{length_mm:.3} mm of the hatch's lines are not marked as they should."),
            )
            .limit(EACH_LINE, Recipe),
            Self::HatchRepeated { length_mm } => fault(
                Kind::HatchRepeated,
                format!("{length_mm:.3} mm of the hatch's lines are marked too often."),
            )
            .limit(EACH_LINE, Recipe),
            Self::ContourMissing { length_mm } => fault(
                Kind::ContourMissing,
                format!("About {length_mm:.3} mm of contours are missing."),
            )
            .limit(EACH_CONTOUR, Recipe),
            Self::ContourRepeated { length_mm } => fault(
                Kind::ContourRepeated,
                format!("About {length_mm:.3} mm of contours are run too often."),
            )
            .limit(EACH_CONTOUR, Recipe),
            Self::ContourAstray { marks } => counted_fault(
                Kind::ContourAstray,
                &counted(*marks, "mark of a contour lies", "marks of contours lie"),
                "deeper in the part than the contour should",
            )
            .limit("the beam offset and the spacing of contours", Recipe),
            Self::ContourOpen { contours } => counted_fault(
                Kind::ContourOpen,
                &counted(*contours, "end of a contour lies", "ends of contours lie"),
                "where it should go on",
            )
            .limit("closed, but where kinds of region meet", Geometry),
            Self::CentrelineMissing { reach_mm } => fault(
                Kind::CentrelineMissing,
                format!(
                    "A wall that reaches over {reach_mm:.2} mm and is wide enough has no \
                     centreline."
                ),
            )
            .limit("the least width and length of thin walls", Recipe),
            Self::CentrelineRepeated { length_mm } => fault(
                Kind::CentrelineRepeated,
                format!("{length_mm:.3} mm of centrelines are run more than once."),
            )
            .limit("once along each thin wall", Recipe),
            Self::CentrelineAstray { marks } => counted_fault(
                Kind::CentrelineAstray,
                &counted(*marks, "mark of a centreline lies", "marks of centrelines lie"),
                "beside the middle of a thin wall",
            )
            .limit("the middle of narrow walls", Recipe),
            Self::DoseDiffers { places } => counted_fault(
                Kind::DoseDiffers,
                &counted(*places, "place in a narrow wall gets", "places in narrow walls get"),
                "more or less energy than the recipe asks for",
            )
            .limit("6 % of each line across a wall: energies come in steps of a tenth", Recipe),
        }
    }
}

const EACH_LINE: &str = "each line from end to end, once for each exposure";
const EACH_CONTOUR: &str = "each contour all along, once for each exposure";

/// "3 marks of the hatch do", to be followed by what they do not.
fn hatch_marks(marks: u64) -> String {
    counted(marks, "mark of the hatch does", "marks of the hatch do")
}

/// So many of something, and what is wrong with them.
fn counted_fault(kind: Kind, what: &str, how: &str) -> Advised {
    fault(kind, format!("{what} {how}."))
}

fn fault(kind: Kind, sentence: String) -> Advised {
    said(kind, sentence).stop(WRITE_AGAIN)
}
