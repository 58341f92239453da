//! The hatch frame: the plane rotated so that hatch lines are level.
//!
//! `u` runs along the lines, `v` across them; both in nm from the origin of the build space, so
//! that equal angles give lines that match across parts, layers and jobs.

use base::Point;
use base::affine::sin_cos_deg;

/// The finest hatch spacing that is still hatched, nm. Below it a layer could hold more lines
/// than memory; no powder is that fine.
pub const MIN_SPACING_NM: f64 = 1000.0;

/// Adding this to a number of magnitude below 2³¹ leaves its nearest integer (ties to even) in
/// the low bits: 1.5 · 2⁵². Several times faster than `f64::round` where the target has no
/// rounding instruction, and the same on every target.
const ROUND: f64 = 6_755_399_441_055_744.0;

/// A rotated frame with lines at `v = (k + ½) · spacing`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Frame {
    sin: f64,
    cos: f64,
    /// Distance of the lines, nm.
    pub(crate) spacing: f64,
}

impl Frame {
    /// The frame whose `u` axis points `angle_deg` from +X. `None` if the angle is not finite or
    /// the spacing is below [`MIN_SPACING_NM`] or not finite.
    pub(crate) fn new(angle_deg: f64, spacing_nm: f64) -> Option<Self> {
        let usable =
            angle_deg.is_finite() && spacing_nm.is_finite() && spacing_nm >= MIN_SPACING_NM;
        let (sin, cos) = sin_cos_deg(angle_deg);
        usable.then_some(Self { sin, cos, spacing: spacing_nm })
    }

    /// The direction of `u`, of length 1.
    pub(crate) fn direction(&self) -> [f64; 2] {
        [self.cos, self.sin]
    }

    /// `u` of a point, nm.
    #[inline]
    pub(crate) fn u(&self, p: Point) -> f64 {
        self.cos * f64::from(p.x) + self.sin * f64::from(p.y)
    }

    /// `v` of a point, nm.
    #[inline]
    pub(crate) fn v(&self, p: Point) -> f64 {
        self.cos * f64::from(p.y) - self.sin * f64::from(p.x)
    }

    /// `v` of line `k`, nm.
    #[inline]
    pub(crate) fn line_v(&self, k: i32) -> f64 {
        (f64::from(k) + 0.5) * self.spacing
    }

    /// Maps positions on line `k` back to the grid; a value so that the products with `v` are
    /// made once per line.
    #[inline]
    pub(crate) fn line(&self, k: i32) -> Line {
        let v = self.line_v(k);
        Line { sin: self.sin, cos: self.cos, x0: -self.sin * v, y0: self.cos * v }
    }
}

/// One hatch line: makes grid points of `u`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    sin: f64,
    cos: f64,
    x0: f64,
    y0: f64,
}

impl Line {
    /// The grid point nearest to `u` on this line.
    #[inline]
    pub(crate) fn at(&self, u: f64) -> Point {
        Point::new(round(self.cos * u + self.x0), round(self.sin * u + self.y0))
    }
}

/// Nearest integer, ties to even. Right for |x| < 2³¹, which the grid limit guarantees.
#[inline]
#[expect(clippy::cast_possible_truncation, reason = "the low 32 bits are the rounded integer")]
pub(crate) fn round(x: f64) -> i32 {
    (x + ROUND).to_bits() as i32
}

/// Smallest integer not below `x`, for |x| < 2³¹.
#[inline]
pub(crate) fn ceil(x: f64) -> i32 {
    let nearest = round(x);
    nearest + i32::from(f64::from(nearest) < x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn rounding_agrees_with_the_standard_library(x in -2e9..2e9, n in -2_000_000_000..2_000_000_000) {
            let n: i32 = n;
            for x in [x, f64::from(n), f64::from(n) + 0.5, f64::from(n).next_up(), f64::from(n).next_down()] {
                prop_assert!((f64::from(round(x)) - x.round_ties_even()).abs() < 0.5);
                prop_assert!((f64::from(ceil(x)) - x.ceil()).abs() < 0.5);
            }
        }

        #[test]
        fn the_frame_turns_there_and_back(
            x in -1_000_000_000..1_000_000_000i32,
            k in -5_000..5_000i32,
            angle in -720.0..720.0,
        ) {
            let frame = Frame::new(angle, 100_000.0).unwrap();
            let p = frame.line(k).at(f64::from(x).clamp(-5e8, 5e8));
            // half a grid step each way, diagonal
            prop_assert!((frame.v(p) - frame.line_v(k)).abs() <= 0.71);
            prop_assert!((frame.u(p) - f64::from(x).clamp(-5e8, 5e8)).abs() <= 0.71);
        }
    }

    #[test]
    fn what_cannot_be_hatched_has_no_frame() {
        for (angle, spacing) in [
            (f64::NAN, 1e5),
            (0.0, 0.0),
            (0.0, -1e5),
            (0.0, f64::NAN),
            (f64::INFINITY, 1e5),
            (0.0, 1.0),
        ] {
            assert!(Frame::new(angle, spacing).is_none(), "{angle} {spacing}");
        }
    }
}
