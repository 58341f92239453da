//! How much a file may hold, so that a hostile one fills neither memory nor the day.

/// What one mesh file may hold. More is refused with [`super::ImportError::TooLarge`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Most bytes of the file, and of each unpacked part of a 3MF file.
    pub bytes: u64,
    /// Most triangles, all objects and their components together.
    pub triangles: u64,
    /// Most objects that a 3MF file puts together, components within components counted each time: a
    /// few lines that double each other twenty times name a million.
    pub instances: u64,
}

impl Default for Limits {
    /// A file for the largest chamber that we design for, 60 million triangles, is well within. More
    /// than these takes tens of gigabytes of memory, so that it should be meant.
    fn default() -> Self {
        Self { bytes: 4 << 30, triangles: 100_000_000, instances: 200_000 }
    }
}

impl Limits {
    /// So many times as much of everything; triangles stay below what 32 bits can number.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
        let more = |limit: u64| (limit as f64 * factor) as u64;
        Self {
            bytes: more(self.bytes),
            triangles: more(self.triangles).min(MAX_TRIANGLES),
            instances: more(self.instances),
        }
    }
}

/// Most triangles in one file, whatever the limits: safely below what `u32` can number.
pub const MAX_TRIANGLES: u64 = 400_000_000;

/// A part of a 3MF file may also unpack to no more than this many times its packed size, or to
/// [`FREE_INFLATED_BYTES`] if that is more. The text of meshes packs 5 to 15 times, of regular
/// ones up to 90 times; deflate can reach 1032 times, with nothing but repetition.
pub const MAX_INFLATE_RATIO: u64 = 200;

/// See [`MAX_INFLATE_RATIO`].
pub const FREE_INFLATED_BYTES: u64 = 16 << 20;

/// Most bytes in a part that only names other parts.
pub(super) const MAX_SMALL_PART_BYTES: u64 = 4 << 20;

/// The most bytes that an entry of so many packed bytes may unpack to.
pub(super) fn inflate_limit(packed: u64, limits: &Limits) -> u64 {
    packed.saturating_mul(MAX_INFLATE_RATIO).max(FREE_INFLATED_BYTES).min(limits.bytes)
}
