//! Pseudo-random numbers from a seed: the same on every machine.

/// `SplitMix64` (Steele, Lea & Flood 2014, "Fast splittable pseudorandom number generators").
#[derive(Clone, Debug)]
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ self.0 >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ z >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ z >> 31
    }

    /// From 0 to below `n`; 0 for `n` = 0. The bias of the remainder is far below what matters.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        #[expect(clippy::cast_possible_truncation, reason = "less than n")]
        let below = (self.next() % (n.max(1) as u64)) as usize;
        below
    }

    /// From 0 to below 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
}
