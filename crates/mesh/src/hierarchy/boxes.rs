//! Closed boxes in single precision.

/// A closed box in single precision.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bounds {
    pub(super) lo: [f32; 3],
    pub(super) hi: [f32; 3],
}

impl Bounds {
    pub(super) const EMPTY: Self = Self { lo: [f32::INFINITY; 3], hi: [f32::NEG_INFINITY; 3] };

    /// The smallest box in single precision that holds these points.
    pub(super) fn around(points: &[[f64; 3]]) -> Self {
        let mut lo = [f64::INFINITY; 3];
        let mut hi = [f64::NEG_INFINITY; 3];
        for p in points {
            for k in 0..3 {
                lo[k] = lo[k].min(p[k]);
                hi[k] = hi[k].max(p[k]);
            }
        }
        Self { lo: lo.map(round_down), hi: hi.map(round_up) }
    }

    #[inline]
    pub(super) fn join(&mut self, other: &Self) {
        for k in 0..3 {
            self.lo[k] = lesser(self.lo[k], other.lo[k]);
            self.hi[k] = greater(self.hi[k], other.hi[k]);
        }
    }

    /// Without branches: six comparisons are cheaper than a misprediction.
    #[inline]
    #[expect(clippy::needless_bitwise_bool, reason = "see above")]
    pub(super) fn overlaps(&self, other: &Self) -> bool {
        (self.lo[0] <= other.hi[0])
            & (other.lo[0] <= self.hi[0])
            & (self.lo[1] <= other.hi[1])
            & (other.lo[1] <= self.hi[1])
            & (self.lo[2] <= other.hi[2])
            & (other.lo[2] <= self.hi[2])
    }

    pub(super) fn holds(&self, other: &Self) -> bool {
        (0..3).all(|k| self.lo[k] <= other.lo[k] && other.hi[k] <= self.hi[k])
    }

    /// Whether the ray from `p` in the direction of +X meets the box.
    pub(super) fn meets_ray_along_x(&self, p: [f64; 3]) -> bool {
        f64::from(self.hi[0]) >= p[0]
            && (1..3).all(|k| f64::from(self.lo[k]) <= p[k] && p[k] <= f64::from(self.hi[k]))
    }

    /// Half the surface; 0 for an empty box.
    #[inline]
    pub(super) fn half_area(&self) -> f32 {
        let [x, y, z] = [0, 1, 2].map(|k| (self.hi[k] - self.lo[k]).max(0.0));
        x * y + y * z + z * x
    }

    /// Twice the centre, as a box of one point.
    #[inline]
    pub(super) fn twice_centre(&self) -> Self {
        let twice = [0, 1, 2].map(|k| self.lo[k] + self.hi[k]);
        Self { lo: twice, hi: twice }
    }
}

/// Like `f32::min`, but one instruction: no coordinate is NaN.
#[inline]
pub(super) fn lesser(a: f32, b: f32) -> f32 {
    if b < a { b } else { a }
}

#[inline]
pub(super) fn greater(a: f32, b: f32) -> f32 {
    if b > a { b } else { a }
}

#[expect(clippy::cast_possible_truncation, reason = "rounding is corrected on the next line")]
pub(super) fn round_down(x: f64) -> f32 {
    let near = x as f32;
    if f64::from(near) > x { near.next_down() } else { near }
}

pub(super) fn round_up(x: f64) -> f32 {
    -round_down(-x)
}
