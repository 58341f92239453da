//! What of a part's shape will not come out as it is drawn: powder that stays in, walls and gaps.

use super::entry::{Entry, said};
use super::kind::Kind;
use super::limit::Source::{self, CommonPractice, Recipe};

/// A limit, and whether the recipe says it; else it is what is usual.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// The limit, mm.
    pub mm: f64,
    /// Whether the recipe says it.
    pub by_recipe: bool,
}

impl Asked {
    fn source(self) -> Source {
        if self.by_recipe { Recipe } else { CommonPractice }
    }
}

/// What ends in less than this share of its limit runs out to nothing: an edge, or a rounding that meets a face.
/// Nearly every part has such places, so that they are worth a note, and no more. A judgement.
const RUNS_OUT: f64 = 0.1;

/// Problems of the shape of one mesh.
#[derive(Clone, Debug, PartialEq)]
pub enum ShapeProblem {
    /// A hollow that powder cannot leave.
    TrappedPowder {
        /// What it holds, mm³.
        volume_mm3: f64,
        /// How far off that may be, mm³; 0 where it follows from the shell itself.
        uncertainty_mm3: f64,
        /// Powder in it, g, as it lies in the bed, where the powder is known.
        mass_g: Option<f64>,
        /// Whether there is no way out at all.
        is_closed: bool,
        /// What a way out has to let through, a ball of this diameter.
        opening: Asked,
        /// Where a hole would be shortest: a point on the outside, part frame, and its length, mm.
        hole: Option<([f64; 3], f64)>,
    },
    /// A narrow way in, too deep for its powder to fall out.
    DeepPassage {
        /// How deep, mm.
        depth_mm: f64,
        /// What it holds deeper than is allowed, mm³.
        volume_mm3: f64,
        /// How deep it may be, mm.
        allowed_mm: f64,
        /// What counts as narrow.
        opening: Asked,
    },
    /// A wall or pin that is too thin.
    WeakWall {
        /// Diameter of the smallest ball that fills it, mm.
        least_mm: f64,
        /// Surface of all that is too thin, mm².
        area_mm2: f64,
        /// How thick it should be.
        wanted: Asked,
    },
    /// A gap so narrow that its sides fuse.
    NarrowGap {
        /// Diameter of the smallest ball that fills it, mm.
        least_mm: f64,
        /// Surface of all that is too near, mm².
        area_mm2: f64,
        /// How wide it should be.
        wanted: Asked,
    },
}

fn runs_out(least_mm: f64, wanted: Asked) -> bool {
    least_mm < RUNS_OUT * wanted.mm
}

impl ShapeProblem {
    pub(super) fn entry(&self) -> Entry {
        match self {
            Self::TrappedPowder {
                volume_mm3,
                uncertainty_mm3,
                mass_g,
                is_closed,
                opening,
                hole,
            } => {
                let off = if *uncertainty_mm3 > 0.0 {
                    format!(" ± {uncertainty_mm3:.1}")
                } else {
                    String::new()
                };
                let way = if *is_closed {
                    "it is closed all around".to_owned()
                } else {
                    format!("no way out lets a ball of {} mm through", opening.mm)
                };
                let hole = hole.map_or(String::new(), |([x, y, z], length_mm)| {
                    format!(
                        " The wall is thinnest at ({x:.1}, {y:.1}, {z:.1}) mm: {length_mm:.2} mm."
                    )
                });
                let mass = mass_g.map_or(String::new(), |mass_g| format!(", {mass_g:.2} g"));
                said(
                    Kind::TrappedPowder,
                    format!(
                        "Powder stays in a hollow of {volume_mm3:.1}{off} mm³{mass}: {way}.{hole}"
                    ),
                )
                .caution("Add a hole, best where the wall is thinnest, or fill the hollow if it is not meant.")
                .limit(format!("a way out {} mm wide", opening.mm), opening.source())
            }
            Self::DeepPassage { depth_mm, volume_mm3, allowed_mm, opening } => said(
                Kind::DeepPassage,
                format!(
                    "A passage narrower than {} mm is about {depth_mm:.0} mm deep: the powder in it, \
                     {volume_mm3:.1} mm³ beyond {allowed_mm} mm, does not fall out by itself.",
                    opening.mm
                ),
            )
            .caution("Widen it, or open it at its far end.")
            .limit(format!("{allowed_mm} mm deep"), CommonPractice),
            Self::WeakWall { least_mm, area_mm2, wanted } if runs_out(*least_mm, *wanted) => said(
                Kind::WeakWall,
                format!(
                    "Material runs out to less than {} mm, down to nothing: {area_mm2:.1} mm² of surface.",
                    wanted.mm
                ),
            )
            .note("Look whether the edge matters: as thin as that it will not come out.")
            .limit(format!("at least {} mm", wanted.mm), wanted.source()),
            Self::NarrowGap { least_mm, area_mm2, wanted } if runs_out(*least_mm, *wanted) => said(
                Kind::NarrowGap,
                format!(
                    "Surfaces run into each other, nearer than {} mm: {area_mm2:.1} mm² of surface.",
                    wanted.mm
                ),
            )
            .note("Look whether something should move or come apart there: it will fuse.")
            .limit(format!("at least {} mm", wanted.mm), wanted.source()),
            Self::WeakWall { least_mm, area_mm2, wanted } => said(
                Kind::WeakWall,
                format!(
                    "Walls or pins are thinner than {} mm: {least_mm:.3} mm at the thinnest, \
                     {area_mm2:.1} mm² of surface.",
                    wanted.mm
                ),
            )
            .caution("Thicken them, or handle the part with care: thin walls break when powder is removed.")
            .limit(format!("at least {} mm", wanted.mm), wanted.source()),
            Self::NarrowGap { least_mm, area_mm2, wanted } => said(
                Kind::NarrowGap,
                format!(
                    "Gaps are narrower than {} mm: {least_mm:.3} mm at the narrowest, {area_mm2:.1} mm² of \
                     surface. The sides may fuse.",
                    wanted.mm
                ),
            )
            .caution("Widen them where the sides should move or come apart.")
            .limit(format!("at least {} mm", wanted.mm), wanted.source()),
        }
    }
}
