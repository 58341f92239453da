//! What is found while layers are computed: sections, thin walls, overlaps.

use super::entry::{Entry, counted, said};
use super::kind::Kind;
use super::limit::Source::{Geometry, Program, Recipe};
use crate::PlacementName;

/// Problems of one placement over all its layers.
#[derive(Clone, Debug, PartialEq)]
pub enum LayerProblem {
    /// Walls too narrow for two contours that get centrelines.
    ThinWallsRescued {
        /// Length of the centrelines, mm over all layers.
        length_mm: f64,
        /// Area of the walls along them, mm² over all layers.
        area_mm2: f64,
        /// The beam offset, mm.
        beam_offset_mm: f64,
    },
    /// Walls that are left out.
    ThinWallsLost {
        /// Their length, mm over all layers.
        length_mm: f64,
        /// Their area, mm² over all layers.
        area_mm2: f64,
        /// What the recipe still exposes, in words.
        exposed: String,
    },
    /// Pieces no thicker along Z than the growth, which leave nothing to expose.
    FilmsLost {
        /// Their area, mm²; the largest in any layer.
        area_mm2: f64,
        /// The recipe's growth in Z, mm.
        growth_mm: f64,
    },
    /// Contours that did not close by themselves.
    OpenSections {
        /// How many over all layers.
        gaps: u64,
        /// The longest straight piece that closes one, mm.
        longest_mm: f64,
    },
    /// Contours that met, though the mesh is not closed or not oriented there.
    InexactSections {
        /// In how many layers.
        layers: u64,
    },
    /// Two placements would be fused into one.
    PlacementsOverlap {
        /// The other one.
        other: PlacementName,
    },
    /// Centrelines could not be computed.
    CentrelinesFailed {
        /// Why not: what the first place of failure said.
        why: String,
    },
}

impl LayerProblem {
    pub(super) fn entry(&self) -> Entry {
        match self {
            Self::ThinWallsRescued { length_mm, area_mm2, beam_offset_mm } => said(
                Kind::ThinWallsRescued,
                format!(
                    "Walls too narrow for two contours get centrelines: {length_mm:.1} mm in all, \
                     {area_mm2:.2} mm² of section, with the energy that melts their width."
                ),
            )
            .note("")
            .limit(
                format!(
                    "where two contours at the beam offset of {beam_offset_mm} mm melt together"
                ),
                Recipe,
            ),
            Self::ThinWallsLost { length_mm, area_mm2, exposed } => said(
                Kind::ThinWallsLost,
                format!(
                    "Walls too thin to expose are left out: {area_mm2:.2} mm² of section, about \
                     {length_mm:.1} mm of wall."
                ),
            )
            .caution("Thicken them, or let the recipe expose thinner or shorter walls.")
            .limit(exposed.clone(), Recipe),
            Self::FilmsLost { area_mm2, growth_mm } => said(
                Kind::FilmsLost,
                format!(
                    "Flat pieces no thicker than the growth in Z vanish: {area_mm2:.2} mm² where most \
                     of them end. All their layers count as melted from above, and there is none \
                     above."
                ),
            )
            .caution("Thicken them, turn the part, or lower the growth in the recipe.")
            .limit(format!("growth in Z of {growth_mm} mm"), Recipe),
            Self::OpenSections { gaps, longest_mm } => open_sections(*gaps, *longest_mm),
            Self::InexactSections { layers } => said(
                Kind::InexactSections,
                format!(
                    "The mesh is not closed or not oriented where it is cut in {}; the contours \
                     meet all the same.",
                    counted(*layers, "layer", "layers")
                ),
            )
            .caution("Repair the mesh to be sure of these layers.")
            .limit("none: contours close by the mesh's own adjacency", Program),
            Self::PlacementsOverlap { other } => said(
                Kind::PlacementsOverlap,
                format!("The part overlaps {other}; they would be fused into one."),
            )
            .stop("Move one of them.")
            .limit("none: parts are built apart", Geometry),
            Self::CentrelinesFailed { why } => said(
                Kind::CentrelinesFailed,
                format!("Centrelines could not be found everywhere: {why}."),
            )
            .caution("Look at these layers: their thin walls are left out.")
            .limit("centrelines in every thin wall", Recipe),
        }
    }
}

/// Contours are closed by straight lines no longer than this without a stop, mm: about the width of a beam, so
/// that what is built differs by no more than one. A longer one makes up a wall, or leaves one out. By
/// judgement, no source.
pub const LONGEST_CLOSED_MM: f64 = 0.5;

fn open_sections(gaps: u64, longest_mm: f64) -> Entry {
    let what = counted(
        gaps,
        "contour did not close and was closed by a straight line",
        "contours did not close and were closed by straight lines",
    );
    let found = said(
        Kind::OpenSections,
        format!("The mesh has holes, so {what} of up to {longest_mm:.3} mm."),
    );
    let found = if longest_mm > LONGEST_CLOSED_MM {
        found.stop("Repair the mesh: where such a line runs, the part is a guess.")
    } else {
        found.caution("Repair the mesh, or look at these layers before you run the job.")
    };
    found.limit(format!("lines of at most {LONGEST_CLOSED_MM} mm"), Program)
}
