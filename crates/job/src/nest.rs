//! How copies of a part may be arranged by nesting.

use crate::check::Checker;
use serde::{Deserialize, Serialize};

/// How many copies of a part nesting arranges, and what it may do with them. Everything has a
/// default; `nest: ()` nests as many copies as there are placements.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct NestRules {
    /// Copies in all, locked ones included; as many as there are placements when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub quantity: Option<u32>,
    /// Which ways up the part may be built.
    pub allowed_orientations: AllowedOrientations,
    /// Placements that stay where they are, by their numbers within this part, from 0.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub locked: Vec<u32>,
    /// Rank of the due date, at least 1: lower is due earlier, none is due last. A part is never put
    /// into a later build than a part that is due after it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub due: Option<u32>,
}

/// How far parts keep from each other and from the walls, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Clearances {
    /// Least distance between the surfaces of two parts.
    pub parts_mm: f64,
    /// Least distance of parts from the walls and the platform of the build space.
    pub walls_mm: f64,
}

impl Default for Clearances {
    /// 3 mm and 5 mm: common practice, no source; how far heat bleeds depends on powder and machine.
    fn default() -> Self {
        Self { parts_mm: 3.0, walls_mm: 5.0 }
    }
}

impl Clearances {
    /// What a clearance may be, mm.
    pub const RANGE_MM: std::ops::RangeInclusive<f64> = 0.0..=100.0;

    pub(crate) fn check(&self, c: &mut Checker) {
        c.number("parts_mm", self.parts_mm, Self::RANGE_MM);
        c.number("walls_mm", self.walls_mm, Self::RANGE_MM);
    }

    pub(crate) fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

/// The orientations that nesting may give to the copies of a part.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum AllowedOrientations {
    /// Only as the first placement has it, or the file if there is none.
    AsPlaced,
    /// As the first placement has it, or the file if there is none, rotated about Z in steps of 15°.
    RotatedAboutZ,
    /// The 24 orientations in which the axes of the file lie along axes of the build.
    #[default]
    QuarterTurns,
    /// The 24 quarter turns and 48 more, spread evenly over all orientations: denser, and slower to
    /// search.
    Many,
}

impl AllowedOrientations {
    /// All of them, the strictest first.
    pub const ALL: [Self; 4] =
        [Self::AsPlaced, Self::RotatedAboutZ, Self::QuarterTurns, Self::Many];
}

/// Most copies of one part.
const MOST_COPIES: u32 = 100_000;

impl NestRules {
    pub(crate) fn check(&self, c: &mut Checker, placements: usize) {
        if let Some(quantity) = self.quantity {
            c.count("quantity", quantity, 0..=MOST_COPIES);
            if (quantity as usize) < self.locked.len() {
                let allowed = format_args!("at least the {} locked placements", self.locked.len());
                c.report("quantity", quantity, allowed);
            }
        }
        if self.due == Some(0) {
            c.report("due", 0, "at least 1, the earliest; leave it out where nothing is due");
        }
        for (i, number) in self.locked.iter().enumerate() {
            if *number as usize >= placements {
                let allowed =
                    format_args!("the number of one of the {placements} placements, from 0");
                c.report(format_args!("locked[{i}]"), number, allowed);
            }
        }
        let numbers = self.locked.iter().map(|number| (*number, number.to_string()));
        c.distinct("locked", "", numbers);
    }
}
