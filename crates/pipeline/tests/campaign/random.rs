//! Numbers that look random and are the same in every run.

/// `SplitMix64` (Steele, Lea and Flood 2014, "Fast splittable pseudorandom number generators").
pub(crate) struct Random(pub(crate) u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From `low` to `high`.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// The same, up or down.
    pub(crate) fn either_way(&mut self, low: f64, high: f64) -> f64 {
        let size = self.between(low, high);
        if self.next() & 1 == 0 { size } else { -size }
    }

    /// An index below `count`; `None` if there is none.
    pub(crate) fn below(&mut self, count: usize) -> Option<usize> {
        (count > 0).then(|| usize::try_from(self.next() % count as u64).unwrap_or(0))
    }

    /// One of the items.
    pub(crate) fn pick<T: Copy>(&mut self, items: &[T]) -> Option<T> {
        self.below(items.len()).map(|i| items[i])
    }
}
