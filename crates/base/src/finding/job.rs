//! What is wrong with a job as a whole, and what nesting could not do.

use super::entry::{Entry, said};
use super::kind::Kind;
use super::limit::Source::{CommonPractice, Geometry, Job, Machine, Program, Published, Recipe};

/// How much the correction of power may differ between the middle and the corners of a part, percent.
pub const UNEVEN_POWER_PERCENT: f64 = 2.0;
/// The same of beam offsets, mm.
pub const UNEVEN_OFFSET_MM: f64 = 0.01;

/// Problems of the job, before any layer is computed.
#[derive(Clone, Debug, PartialEq)]
pub enum JobProblem {
    /// A file was written by an earlier version of the program.
    EarlierVersion {
        /// What it is: `job`, `machine` or `recipe`.
        document: &'static str,
        /// The version of its form.
        version: u32,
        /// The version that is written today.
        newest: u32,
        /// What is assumed because the file does not say it, in a sentence.
        assumed: Option<&'static str>,
    },
    /// A recipe's growth in Z is no whole number of layers.
    GrowthRounded {
        /// What the recipe says, mm.
        growth_mm: f64,
        /// How many layers are left out for it.
        layers: u32,
        /// Height of a layer, mm.
        layer_mm: f64,
    },
    /// A hatch brings less or more energy than was published for dense parts.
    EnergyOutsideWindow {
        /// Which regions of the recipe it fills: `core`, `up-facing regions`, `down-facing regions`.
        regions: &'static str,
        /// What it brings, J/mm³.
        energy_j_mm3: f64,
        /// Least and most, J/mm³: as published, in proportion to the energy that melts this powder.
        window_j_mm3: [f64; 2],
        /// As published, J/mm³, and where: "for polyamide 12 by …".
        published_j_mm3: [f64; 2],
        /// See there.
        source: &'static str,
    },
    /// A value of a recipe is far from what people usually take.
    OutsideCommonPractice {
        /// What it is, with its number: "layer thickness of 0.4 mm".
        what: String,
        /// What is usual, with its unit.
        usual: String,
        /// What to expect of it, in a sentence.
        effect: &'static str,
    },
    /// The mesh of a part cannot be had.
    MissingMesh {
        /// Name of the part.
        part: String,
    },
    /// A placement reaches out of the build space.
    OutsideBuildSpace {
        /// By how much and where: "0.500 mm at +X", one for each side.
        over: Vec<String>,
        /// Size of the build space, mm.
        build_space_mm: [f64; 3],
    },
    /// A placement reaches over places that the machine's field corrections treat differently.
    UnevenCorrection {
        /// How much the power at a corner differs most from that in the middle, percent.
        power_percent: f64,
        /// The same of beam offsets, mm.
        offset_mm: f64,
    },
    /// There is no layer.
    NothingToBuild,
    /// Nesting found no room for copies of a part.
    Unplaced {
        /// How many copies.
        copies: u64,
    },
    /// Nesting of a selection found no room for all of it.
    SelectionDoesNotFit,
    /// What a person has accepted is not found any more, or is another by now.
    AcceptanceGone {
        /// Of which kind it was.
        kind: Kind,
        /// Why it was accepted.
        reason: String,
    },
    /// The job accepts what nobody can accept.
    NotAcceptable {
        /// Of which kind it is.
        kind: Kind,
        /// Why somebody wanted to.
        reason: String,
    },
}

impl JobProblem {
    pub(super) fn entry(&self) -> Entry {
        match self {
            Self::EarlierVersion { document, version, newest, assumed } => said(
                Kind::EarlierVersion,
                format!(
                    "The {document} was written by an earlier version of this program: its form is \
                     {version}, today's is {newest}. It is read as it was meant.{}",
                    assumed.map_or(String::new(), |assumed| format!(" {assumed}"))
                ),
            )
            .note(match assumed {
                Some(_) => {
                    "Put in your own numbers. It is written in the new form when it is saved."
                }
                None => "It is written in the new form when it is saved.",
            })
            .limit(format!("form {newest}"), Program),
            Self::GrowthRounded { growth_mm, layers, layer_mm } => said(
                Kind::GrowthRounded,
                format!(
                    "Growth in Z of {growth_mm} mm acts as {:.3} mm: {layers} of the lowest layers of \
                     overhangs are left out, and a layer cannot be left out in part.",
                    f64::from(*layers) * layer_mm
                ),
            )
            .note("Give a whole number of layers, or mind the difference in the shrinkage along Z.")
            .limit(format!("layers of {layer_mm} mm"), Recipe),
            Self::EnergyOutsideWindow {
                regions,
                energy_j_mm3,
                window_j_mm3: [least, most],
                published_j_mm3: [from, to],
                source,
            } => said(
                Kind::EnergyOutsideWindow,
                format!(
                    "The hatch of the {regions} brings {energy_j_mm3:.2} J/mm³, {} for dense parts: \
                     {least:.2} to {most:.2} J/mm³ for this powder, in proportion to the energy that melts \
                     it ({from} to {to} J/mm³ {source}).",
                    if energy_j_mm3 > most { "more than was published" } else { "less than was published" },
                ),
            )
            .caution(if energy_j_mm3 > most {
                "Check power, speed and spacing. Too much energy smokes, chars the powder and can set it on \
                 fire: build coupons first, and watch them."
            } else {
                "Check power, speed and spacing. Too little energy leaves pores, or layers that come apart: \
                 build coupons first."
            })
            .limit(format!("{least:.2} to {most:.2} J/mm³"), Published),
            Self::OutsideCommonPractice { what, usual, effect } => said(
                Kind::OutsideCommonPractice,
                format!("The {what} is outside of what is usual, {usual}. {effect}"),
            )
            .caution("Check for a slip of the decimal point; else build coupons first.")
            .limit(usual.clone(), CommonPractice),
            Self::MissingMesh { part } => missing_mesh(part),
            Self::OutsideBuildSpace { over, build_space_mm: [x, y, z] } => said(
                Kind::OutsideBuildSpace,
                format!("The part reaches out of the build space by {}.", over.join(", ")),
            )
            .stop("Move it, rotate it or leave it out.")
            .limit(format!("{x} × {y} × {z} mm"), Machine),
            Self::UnevenCorrection { power_percent, offset_mm } => said(
                Kind::UnevenCorrection,
                format!(
                    "The part is so wide that, from its middle to a corner of its bounding box, the \
                     correction by place changes by up to {power_percent:.1} % of power and \
                     {offset_mm:.3} mm of beam offset. A part is corrected as one, as its middle asks."
                ),
            )
            .caution("Build it where the correction changes less, or expect its far ends to be off.")
            .limit(
                format!("{UNEVEN_POWER_PERCENT} % of power, {UNEVEN_OFFSET_MM} mm of beam offset"),
                Program,
            ),
            Self::NothingToBuild => said(
                Kind::NothingToBuild,
                "Nothing is placed above the build platform, so there is no layer.",
            )
            .stop("Place a part above the platform.")
            .limit("at least one layer", Program),
            Self::Unplaced { copies } => said(
                Kind::Unplaced,
                format!("{copies} copies fit no build, in none of the orientations allowed."),
            )
            .stop("Allow more orientations or builds, or less clearance.")
            .limit("all copies that the job asks for", Job),
            Self::SelectionDoesNotFit => said(
                Kind::SelectionDoesNotFit,
                "Not all of the selection fits around the rest, so nothing was moved.",
            )
            .caution("Unlock more, or allow more orientations or less clearance.")
            .limit("all that is selected", Geometry),
            Self::AcceptanceGone { kind, reason } => acceptance_gone(*kind, reason),
            Self::NotAcceptable { kind, reason } => not_acceptable(*kind, reason),
        }
    }
}

fn missing_mesh(part: &str) -> Entry {
    let sentence = format!("The mesh of part {part:?} is missing, so the part is left out.");
    said(Kind::MissingMesh, sentence)
        .stop("Say where the file is, or take the part out of the job.")
        .limit("every mesh that the job names", Job)
}

fn acceptance_gone(kind: Kind, reason: &str) -> Entry {
    let kind = kind.words();
    let sentence =
        format!("What was accepted is gone, or another by now: {kind}, \u{201c}{reason}\u{201d}.");
    said(Kind::AcceptanceGone, sentence)
        .note("Take the acceptance out of the job, or look anew.")
        .limit("a finding for each acceptance", Job)
}

fn not_acceptable(kind: Kind, reason: &str) -> Entry {
    let kind = kind.words();
    let sentence = format!(
        "The job accepts what nobody can accept, and it counts as before: {kind}, \u{201c}{reason}\u{201d}."
    );
    said(Kind::NotAcceptable, sentence)
        .caution("Put right what was found, and take the acceptance out of the job.")
        .limit("no file that is false, and nothing that cannot be built as it is drawn", Program)
}
