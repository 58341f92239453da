//! What warms and cools unevenly: areas that jump, flat starts, parts at the walls, long thin parts.

use super::entry::{Entry, counted, said};
use super::kind::Kind;
use super::limit::Source::{CommonPractice, Recipe};

/// Problems that follow from how much is fused where.
#[derive(Clone, Debug, PartialEq)]
pub enum HeatProblem {
    /// The fused area of the whole build changes at once.
    AreaJump {
        /// In how many layers.
        layers: u64,
        /// Fused area below and in the layer of the largest change, mm².
        from_to_mm2: [f64; 2],
        /// Largest change that is allowed, mm².
        allowed_mm2: f64,
    },
    /// A part begins with a large flat surface on loose powder.
    FlatStart {
        /// Area that begins in one layer, mm², at least.
        area_mm2: f64,
        /// Largest that is allowed, mm².
        allowed_mm2: f64,
    },
    /// A part is near a wall, where the bed is colder.
    NearWall {
        /// How near, mm.
        distance_mm: f64,
        /// How far it should be, mm.
        wanted_mm: f64,
    },
    /// A long thin part lies along the way of the spreader.
    LongAlongSpreading {
        /// Its length that way, mm.
        length_mm: f64,
        /// Its width across, mm.
        width_mm: f64,
        /// From which length on it matters, mm.
        from_mm: f64,
        /// From how many times its width on.
        times: f64,
    },
    /// Neighbouring marks heat spots again before the recipe wants them to.
    ReheatedSoon {
        /// How many spots, over all layers.
        spots: u64,
        /// The least time until it is heated again, ms.
        least_ms: f64,
        /// The shortest that is wanted, ms.
        wanted_ms: f64,
        /// Within which distance a mark heats a spot, mm.
        reach_mm: f64,
    },
}

impl HeatProblem {
    pub(super) fn entry(&self) -> Entry {
        match *self {
            Self::AreaJump { layers, from_to_mm2: [from, to], allowed_mm2 } => said(
                Kind::AreaJump,
                format!(
                    "The fused area jumps in {}, at most from {from:.0} to {to:.0} mm² in one: the bed's \
                     temperature follows late.",
                    counted(layers, "layer", "layers")
                ),
            )
            .note("Put parts at different heights, so that not all begin or end in one layer.")
            .limit(format!("{allowed_mm2:.0} mm² from one layer to the next"), CommonPractice),
            Self::FlatStart { area_mm2, allowed_mm2 } => said(
                Kind::FlatStart,
                format!(
                    "At least {area_mm2:.0} mm² of the part begin in one layer, flat on loose powder: its \
                     edges may curl up."
                ),
            )
            .caution("Tilt the part by some 10° to 15°, so that it grows little by little.")
            .limit(format!("{allowed_mm2:.0} mm²"), CommonPractice),
            Self::NearWall { distance_mm, wanted_mm } => said(
                Kind::NearWall,
                format!(
                    "The part is {distance_mm:.1} mm from a side wall, where the bed is colder: it may curl or \
                     come out weak."
                ),
            )
            .note("Move it inwards, or put parts there that matter less.")
            .limit(format!("{wanted_mm} mm"), CommonPractice),
            Self::LongAlongSpreading { length_mm, width_mm, from_mm, times } => said(
                Kind::LongAlongSpreading,
                format!(
                    "The part is {length_mm:.0} mm long and {width_mm:.0} mm wide, and lies along the way of \
                     the spreader: an end that curls up is caught and takes the part along."
                ),
            )
            .note("Turn it about Z, or tilt it.")
            .limit(format!("{from_mm} mm, or {times} times as long as wide"), CommonPractice),
            Self::ReheatedSoon { spots, least_ms, wanted_ms, reach_mm } => said(
                Kind::ReheatedSoon,
                format!(
                    "Marks come back too soon: {} within {reach_mm} mm of a later one, after {least_ms:.2} ms \
                     at the soonest; the heat of both adds up.",
                    counted(spots, "spot is", "spots are")
                ),
            )
            .caution("Use longer lines, cells in scattered order, or more time between passes.")
            .limit(format!("{wanted_ms} ms"), Recipe),
        }
    }
}
