//! What the machine needs more or less of away from the middle of its scan field.
//!
//! Towards the edges the beam falls in at a slant and is out of focus: its spot grows, and less power
//! arrives. How much is measured with coupons at a few places; in between it is interpolated.

use super::ranges::{BUILD_SPACE_MM, MOST_PLACES, OFFSET_CHANGE_MM, POWER_FACTOR};
use crate::check::{Checker, Number};
use serde::{Deserialize, Serialize};
use std::ops::RangeInclusive;

/// What coupons at one place of the build space asked for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FieldCorrection {
    /// Where it was measured, mm to the right of the centre of the platform.
    pub x_mm: f64,
    /// Where it was measured, mm to the back of the centre of the platform.
    pub y_mm: f64,
    /// How many times the power of an exposure is commanded there, so that as much arrives as the recipe asks
    /// for.
    pub power_factor: f64,
    /// How much farther inside contours lie there, mm: what the beam offset, and that of holes, get on top.
    pub offset_change_mm: f64,
}

/// What is corrected at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Correction {
    /// How many times the power of every exposure is commanded.
    pub power_factor: f64,
    /// What beam offsets get on top, mm.
    pub offset_change_mm: f64,
}

/// What is corrected for a part: in whole steps, so that parts with almost the same correction share
/// exposures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct StepCorrection {
    /// How much of the power of every exposure is commanded, percent.
    pub power_percent: i32,
    /// What beam offsets get on top, µm.
    pub offset_change_um: i32,
}

/// Nearer than a nanometre is at the place itself, mm.
const SAME_PLACE_MM: f64 = 1e-6;

impl Correction {
    /// Where nothing is corrected.
    const NONE: Self = Self { power_factor: 1.0, offset_change_mm: 0.0 };

    /// Between places: the mean of all of them, each weighted by one over the square of its distance
    /// (D. Shepard 1968, A two-dimensional interpolation function for irregularly-spaced data,
    /// Proc. 23rd ACM National Conference, 517–524, with his exponent of 2). At a place its own values,
    /// nowhere beyond the least and the largest of all; without places nothing.
    pub(super) fn between(places: &[FieldCorrection], [x_mm, y_mm]: [f64; 2]) -> Self {
        let (mut weights, mut power_factor, mut offset_change_mm) = (0.0, 0.0, 0.0);
        for place in places {
            let distance_mm = (place.x_mm - x_mm).hypot(place.y_mm - y_mm);
            if distance_mm < SAME_PLACE_MM {
                let FieldCorrection { power_factor, offset_change_mm, .. } = *place;
                return Self { power_factor, offset_change_mm };
            }
            let weight = 1.0 / (distance_mm * distance_mm);
            weights += weight;
            power_factor += weight * place.power_factor;
            offset_change_mm += weight * place.offset_change_mm;
        }
        if weights > 0.0 {
            Self {
                power_factor: power_factor / weights,
                offset_change_mm: offset_change_mm / weights,
            }
        } else {
            Self::NONE
        }
    }

    /// The nearest whole steps: 1 % of power, 1 µm of offset.
    pub fn in_steps(self) -> StepCorrection {
        StepCorrection {
            power_percent: nearest(100.0 * self.power_factor),
            offset_change_um: nearest(1000.0 * self.offset_change_mm),
        }
    }
}

impl StepCorrection {
    /// Whether nothing is corrected.
    pub fn is_none(self) -> bool {
        self == Correction::NONE.in_steps()
    }

    /// How many times the power of every exposure is commanded.
    pub fn power_factor(self) -> f64 {
        f64::from(self.power_percent) / 100.0
    }

    /// What beam offsets get on top, mm.
    pub fn offset_change_mm(self) -> f64 {
        f64::from(self.offset_change_um) / 1000.0
    }
}

/// The nearest whole number; a half goes up, also one that lost a billionth in the arithmetic, so that how
/// something is added up decides nothing.
fn nearest(value: f64) -> i32 {
    #[expect(clippy::cast_possible_truncation, reason = "a few hundred; saturates beyond")]
    let whole = (value + 0.5 + 1e-9).floor() as i32;
    whole
}

/// All places must lie in the build space, no two at one spot, with factors and changes in their ranges.
pub(super) fn check(c: &mut Checker, places: &[FieldCorrection], [width, depth, _]: [f64; 3]) {
    const FIELD: &str = "field_corrections";
    let count = places.len();
    if count > MOST_PLACES {
        let allowed = format_args!("a list of at most {MOST_PLACES}");
        c.report(FIELD, format_args!("{count} places long"), allowed);
        return;
    }
    c.each(FIELD, places, |c, place| {
        c.number("x_mm", place.x_mm, across(width));
        c.number("y_mm", place.y_mm, across(depth));
        c.number("power_factor", place.power_factor, POWER_FACTOR);
        c.number("offset_change_mm", place.offset_change_mm, OFFSET_CHANGE_MM);
    });
    let spots = places.iter().map(|place| {
        let (x, y) = (place.x_mm, place.y_mm);
        #[expect(clippy::cast_possible_truncation, reason = "within the build space, or refused")]
        let spot = [x, y].map(|mm| (mm / SAME_PLACE_MM).round() as i64);
        (spot, format!("at ({}, {}) mm", Number(x), Number(y)))
    });
    c.distinct(FIELD, "", spots);
}

/// Where places may lie along an edge of the build space, mm; anywhere if that edge is refused itself.
fn across(size_mm: f64) -> RangeInclusive<f64> {
    let size_mm = if BUILD_SPACE_MM.contains(&size_mm) { size_mm } else { *BUILD_SPACE_MM.end() };
    -size_mm / 2.0..=size_mm / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(x_mm: f64, y_mm: f64, power_factor: f64, offset_change_mm: f64) -> FieldCorrection {
        FieldCorrection { x_mm, y_mm, power_factor, offset_change_mm }
    }

    #[track_caller]
    fn is(places: &[FieldCorrection], at: [f64; 2], power_factor: f64, offset_change_mm: f64) {
        let found = Correction::between(places, at);
        let off = (found.power_factor - power_factor)
            .abs()
            .max((found.offset_change_mm - offset_change_mm).abs());
        assert!(off < 1e-12, "{found:?} at {at:?}");
    }

    #[test]
    fn without_places_nothing_is_corrected_and_one_counts_everywhere() {
        is(&[], [30.0, -40.0], 1.0, 0.0);
        assert!(Correction::between(&[], [0.0; 2]).in_steps().is_none());
        let one = [place(80.0, 80.0, 1.06, 0.02)];
        for at in [[80.0, 80.0], [-80.0, 0.0], [0.0, 0.0], [1000.0, 1000.0]] {
            is(&one, at, 1.06, 0.02);
        }
    }

    /// By hand: 1/d² of 1/900 and 1/3600 are as 4 to 1, so that 1.00 and 1.10 give 1.02; of 1/1600, 1/900 and
    /// 1/2500 (sides of 40, 30 and 50 mm) as 5625 to 10000 to 3600, of 19225 in all.
    #[test]
    fn between_places_nearer_ones_count_more() {
        let two = [place(0.0, 0.0, 1.0, 0.0), place(90.0, 0.0, 1.1, 0.05)];
        is(&two, [30.0, 0.0], 1.02, 0.01);
        is(&two, [45.0, 0.0], 1.05, 0.025);
        is(&two, [45.0, 70.0], 1.05, 0.025);
        let three = [
            place(40.0, 0.0, 1.0, 0.03),
            place(0.0, 30.0, 1.2, -0.01),
            place(40.0, 30.0, 0.9, 0.0),
        ];
        let power = (5625.0 * 1.0 + 10_000.0 * 1.2 + 3600.0 * 0.9) / 19_225.0;
        let offset = (5625.0 * 0.03 - 10_000.0 * 0.01) / 19_225.0;
        is(&three, [0.0, 0.0], power, offset);
    }

    #[test]
    fn at_a_place_its_own_values_hold_to_the_last_bit() {
        let places = [place(0.0, 0.0, 1.0, 0.0), place(80.0, 80.0, 1.07, 0.013)];
        for near in [0.0, 1e-7, -1e-200] {
            let found = Correction::between(&places, [80.0 + near, 80.0]);
            assert_eq!(found, Correction { power_factor: 1.07, offset_change_mm: 0.013 });
        }
        // no jump beside it
        let beside = Correction::between(&places, [80.0 + 2e-6, 80.0]);
        assert!((beside.power_factor - 1.07).abs() < 1e-9, "{beside:?}");
    }

    #[test]
    fn steps_are_a_percent_and_a_micrometre_and_halves_go_up() {
        let steps = |power_factor, offset_change_mm| {
            let StepCorrection { power_percent, offset_change_um } =
                Correction { power_factor, offset_change_mm }.in_steps();
            (power_percent, offset_change_um)
        };
        assert_eq!(steps(1.0649, 0.0124), (106, 12));
        assert_eq!(steps(1.065, -0.0125), (107, -12));
        // 100 × 1.005 is a little less than 100.5
        assert_eq!(steps(1.005, 0.0005), (101, 1));
        assert_eq!(steps(0.994, -0.0006), (99, -1));
        let steps = StepCorrection { power_percent: 107, offset_change_um: -12 };
        assert_eq!((steps.power_factor(), steps.offset_change_mm()), (1.07, -0.012));
        assert!(!steps.is_none());
    }
}
