//! What single placements have otherwise than their recipe: power and speed of named exposures, as for
//! a row of coupons.

use crate::check::{Checker, Number};
use crate::recipe::{Exposure, Recipe, ranges};
use serde::{Deserialize, Serialize};

/// Power or speed that a named exposure of the recipe has for one placement.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExposureChange {
    /// Name of the exposure in the recipe of the part.
    pub name: String,
    /// Laser power at the bed, W; the recipe's when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub power_w: Option<f64>,
    /// Speed of the mark, mm/s; the recipe's when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub speed_mm_s: Option<f64>,
}

impl ExposureChange {
    /// The exposure of the recipe as the placement has it: with the recipe's name, run-in and run-out.
    /// `None` if the recipe has no exposure of this name.
    pub fn of(&self, recipe: &Recipe) -> Option<Exposure> {
        let own = recipe.exposure(&self.name)?.clone();
        let power_w = self.power_w.unwrap_or(own.power_w);
        let speed_mm_s = self.speed_mm_s.unwrap_or(own.speed_mm_s);
        Some(Exposure { power_w, speed_mm_s, ..own })
    }

    /// What is changed, for tables and lists: "hatch, 20 W, 1500 mm/s".
    pub fn label(&self) -> String {
        let power = self.power_w.map_or(String::new(), |power| format!(", {} W", Number(power)));
        let speed = self.speed_mm_s.map_or(String::new(), |v| format!(", {} mm/s", Number(v)));
        format!("{}{power}{speed}", self.name)
    }

    pub(crate) fn check(&self, c: &mut Checker) {
        c.text("name", &self.name);
        if let Some(power_w) = self.power_w {
            c.number("power_w", power_w, ranges::power_w());
        }
        if let Some(speed_mm_s) = self.speed_mm_s {
            c.number("speed_mm_s", speed_mm_s, ranges::speed_mm_s());
        }
        if self.power_w.is_none() && self.speed_mm_s.is_none() {
            c.report("", "without power and speed", "given at least one of the two");
        }
    }
}
