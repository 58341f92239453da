//! ½·erf from a table, for grids of many million points.

use std::f64::consts::FRAC_2_SQRT_PI;

/// Entries per unit. Between two of them a cubic with the right values and slopes at both is wrong
/// by at most max|f⁗|/384 per 4th power of the step: 2.2/384/64⁴ = 3.5e-10.
const PER_UNIT: f64 = 64.0;

/// Where the table ends: ½·erf(4.5) is ½ less 1e-10.
const LIMIT: f64 = 4.5;

/// ½·erf(x), wrong by less than 5e-10.
pub(super) struct HalfErf {
    /// Coefficients of the cubic in each interval of 0..=LIMIT, by rising power.
    cubics: Vec<[f64; 4]>,
}

impl HalfErf {
    pub(super) fn new() -> Self {
        let step = PER_UNIT.recip();
        let value = |x: f64| 0.5 * libm::erf(x);
        let slope = |x: f64| 0.5 * FRAC_2_SQRT_PI * libm::exp(-x * x) * step;
        let cubic = |entry: f64| {
            let (x0, x1) = (entry * step, (entry + 1.0) * step);
            let (rise, s0, s1) = (value(x1) - value(x0), slope(x0), slope(x1));
            [value(x0), s0, 3.0 * rise - 2.0 * s0 - s1, s0 + s1 - 2.0 * rise]
        };
        let count = crate::buckets::whole(LIMIT * PER_UNIT) + 1; // one more, for the limit itself
        Self { cubics: (0..count).map(|entry| cubic(entry as f64)).collect() }
    }

    #[inline]
    pub(super) fn at(&self, x: f64) -> f64 {
        let scaled = x.abs().min(LIMIT) * PER_UNIT;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0..=288")]
        let entry = scaled as u32;
        let t = scaled - f64::from(entry);
        let [a, b, c, d] = self.cubics[entry as usize];
        (a + t * (b + t * (c + t * d))).copysign(x)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against `libm` 0.2.
    #[test]
    fn the_table_keeps_its_bound() {
        let table = HalfErf::new();
        let worst = (-70_000..=70_000)
            .map(|i| f64::from(i) * 1e-4)
            .map(|x| (table.at(x) - 0.5 * libm::erf(x)).abs())
            .fold(0.0, f64::max);
        assert!(worst < 5e-10, "{worst:e}");
        assert!(worst > 1e-11, "the bound is far too wide: {worst:e}");
    }
}
