//! What the estimate of the dose says will not come out as drawn.

use super::entry::{Entry, counted, said};
use super::kind::Kind;
use super::limit::Source::Geometry;

/// Pieces and holes of a part, over layers that follow each other, that the melt does not keep.
#[derive(Clone, Debug, PartialEq)]
pub enum DoseProblem {
    /// A piece in which nothing melts.
    PieceVanishes(Lost),
    /// Two pieces that melt into one.
    PiecesMerge(Lost),
    /// A hole that melts over.
    HoleFills(Lost),
}

/// What is lost: a piece, the gap between two, or a hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lost {
    /// Its width in the layer in which it is widest, mm.
    pub width_mm: f64,
    /// In how many of the layers that were looked at.
    pub layers: u64,
    /// What the powder's depth is taken to be, as an adjective.
    pub depth: &'static str,
}

impl DoseProblem {
    pub(super) fn entry(&self) -> Entry {
        match self {
            Self::PieceVanishes(lost) => {
                said(Kind::PieceVanishes, lost.sentence("A piece", "does not melt"))
                    .caution("Thicken it, or let the recipe expose thinner walls.")
                    .limit("melt in every piece of a section", Geometry)
            }
            Self::PiecesMerge(lost) => {
                said(Kind::PiecesMerge, lost.sentence("A gap between two pieces", "melts over"))
                    .caution("Widen it, or check the beam offset: the two become one.")
                    .limit("no melt from one piece to the next", Geometry)
            }
            Self::HoleFills(lost) => said(Kind::HoleFills, lost.sentence("A hole", "melts over"))
                .caution("Widen it, or check the beam offset.")
                .limit("powder left in every hole of a section", Geometry),
        }
    }
}

impl Lost {
    fn sentence(self, what: &str, becomes: &str) -> String {
        let Self { width_mm, layers, depth } = self;
        format!(
            "{what} up to {width_mm:.3} mm wide {becomes}, in {} by the estimated dose at {depth} \
             powder depth.",
            counted(layers, "layer", "layers")
        )
    }
}
