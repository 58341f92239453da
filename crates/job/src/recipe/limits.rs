//! From where on a shape counts as one that will not come out as it is drawn.

use super::ranges::SHAPE_LIMIT_MM;
use crate::check::Checker;
use serde::{Deserialize, Serialize};

/// Limits of shapes, sizes of the finished part; each may be left out for what is usual, and 0 asks for
/// nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// Ways out that let no ball of this diameter through hold powder back, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_opening_mm: Option<f64>,
    /// Walls and pins thinner than this break, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_wall_mm: Option<f64>,
    /// Sides nearer to each other than this fuse, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_gap_mm: Option<f64>,
}

/// A limit, and who says it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// The limit, mm.
    pub mm: f64,
    /// Whether the recipe says it.
    pub by_recipe: bool,
}

/// What is usual with polymer powders, mm: common practice, no source.
const USUAL_OPENING_MM: f64 = 3.0;
const USUAL_WALL_MM: f64 = 0.7;
const USUAL_GAP_MM: f64 = 0.5;

impl Limits {
    /// What a way out has to let through.
    pub fn opening(&self) -> Limit {
        limit(self.least_opening_mm, USUAL_OPENING_MM)
    }

    /// How thick walls and pins have to be.
    pub fn wall(&self) -> Limit {
        limit(self.least_wall_mm, USUAL_WALL_MM)
    }

    /// How wide gaps have to be.
    pub fn gap(&self) -> Limit {
        limit(self.least_gap_mm, USUAL_GAP_MM)
    }

    /// Whether nothing is said.
    pub(super) fn is_usual(&self) -> bool {
        *self == Self::default()
    }

    pub(super) fn check(&self, c: &mut Checker) {
        for (field, mm) in [
            ("least_opening_mm", self.least_opening_mm),
            ("least_wall_mm", self.least_wall_mm),
            ("least_gap_mm", self.least_gap_mm),
        ] {
            if let Some(mm) = mm {
                c.number(field, mm, SHAPE_LIMIT_MM);
            }
        }
    }
}

fn limit(own: Option<f64>, usual: f64) -> Limit {
    Limit { mm: own.unwrap_or(usual), by_recipe: own.is_some() }
}
