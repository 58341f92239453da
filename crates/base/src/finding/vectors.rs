//! What is wrong with the vectors of a file against the job that it is to build.

use super::entry::{Entry, counted, said};
use super::kind::Kind;
use super::limit::Source::{Geometry, Job, Recipe};

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
    /// Length × spacing of the hatch is not its area.
    HatchSum {
        /// Length × spacing, mm².
        covered_mm2: f64,
        /// The area to be hatched, mm².
        area_mm2: f64,
    },
    /// A place near the boundary lies too far from any mark.
    ContourMissing {
        /// About how large it is, mm².
        area_mm2: f64,
        /// Where.
        band: ContourBand,
    },
    /// A place that only hatch can cover lies too far from any mark.
    HatchMissing {
        /// About how large it is, mm².
        area_mm2: f64,
        /// Whether it lies where core, up-facing and down-facing regions meet.
        at_border: bool,
    },
    /// A thin wall has no centreline.
    CentrelineMissing {
        /// How far the wall reaches, mm.
        reach_mm: f64,
    },
}

/// Where a contour is missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ContourBand {
    /// Less than the beam offset from the boundary.
    AlongBoundary,
    /// Between the contours, or between contours and hatch.
    BeforeHatch,
}

const WRITE_AGAIN: &str = "Do not run this file; write it again from the job.";

impl VectorsProblem {
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
            Self::MarkOutside { marks } => {
                let sentence = format!(
                    "{} the part's section.",
                    counted(*marks, "mark leaves", "marks leave")
                );
                said(Kind::MarkOutside, sentence)
                    .stop(WRITE_AGAIN)
                    .limit("none outside by more than 5 nm, which is rounding", Geometry)
            }
            Self::MarkShallow { marks } => {
                let what = counted(*marks, "mark lies", "marks lie");
                let sentence = format!("{what} nearer to the boundary than the recipe says.");
                said(Kind::MarkShallow, sentence)
                    .stop(WRITE_AGAIN)
                    .limit("the beam offset, contours and hatch gap", Recipe)
            }
            Self::HatchAstray { marks } => hatch_astray(*marks),
            Self::HatchSpacing { marks } => hatch_spacing(*marks),
            Self::HatchSum { covered_mm2, area_mm2 } => hatch_sum(*covered_mm2, *area_mm2),
            Self::ContourMissing { area_mm2, band } => contour_missing(*area_mm2, *band),
            Self::HatchMissing { area_mm2, at_border } => hatch_missing(*area_mm2, *at_border),
            Self::CentrelineMissing { reach_mm } => said(
                Kind::CentrelineMissing,
                format!(
                    "A wall that reaches over {reach_mm:.2} mm and is wide enough has no \
                     centreline."
                ),
            )
            .stop(WRITE_AGAIN)
            .limit("the least width and length of thin walls", Recipe),
        }
    }
}

fn hatch_astray(marks: u64) -> Entry {
    let what = counted(marks, "mark of the hatch does", "marks of the hatch do");
    said(Kind::HatchAstray, format!("{what} not run along the layer's scan angle."))
        .stop(WRITE_AGAIN)
        .limit("the scan angle of the layer", Recipe)
}

fn hatch_spacing(marks: u64) -> Entry {
    let what = counted(marks, "mark of the hatch does", "marks of the hatch do");
    said(Kind::HatchSpacing, format!("{what} not lie on the lines of the hatch spacing."))
        .stop(WRITE_AGAIN)
        .limit("the hatch spacing", Recipe)
}

fn hatch_sum(covered_mm2: f64, area_mm2: f64) -> Entry {
    let sentence = format!(
        "Hatch length × spacing is {covered_mm2:.3} mm², but {area_mm2:.3} mm² are to be hatched."
    );
    said(Kind::HatchSum, sentence)
        .stop(WRITE_AGAIN)
        .limit("the area, within the bound of a sum of chords", Geometry)
}

fn contour_missing(area_mm2: f64, band: ContourBand) -> Entry {
    let sentence = match band {
        ContourBand::AlongBoundary => format!(
            "About {area_mm2:.4} mm² along the boundary lie farther from any mark than the beam \
             offset."
        ),
        ContourBand::BeforeHatch => {
            format!("About {area_mm2:.4} mm² between contours and hatch lie too far from any mark.")
        }
    };
    said(Kind::ContourMissing, sentence)
        .stop(WRITE_AGAIN)
        .limit("the beam offset, and the steps between contours and to the hatch", Recipe)
}

fn hatch_missing(area_mm2: f64, at_border: bool) -> Entry {
    let place = if at_border { "where kinds of region meet" } else { "inside the hatched region" };
    said(Kind::HatchMissing, format!("About {area_mm2:.4} mm² {place} lie too far from any mark."))
        .stop(WRITE_AGAIN)
        .limit("half the hatch spacing", Recipe)
}
