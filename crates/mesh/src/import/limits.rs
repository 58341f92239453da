//! How much a file may hold, so that a hostile one fills no memory.

/// Most triangles in one file, all objects and copies together: seven times the largest chamber
/// that we design for (60 million), and safely below what `u32` can number.
pub const MAX_TRIANGLES: u64 = 400_000_000;

/// Most bytes that one part of a 3MF file may unpack to: the text of some 50 million triangles.
pub const MAX_INFLATED_BYTES: u64 = 4 << 30;

/// A part of a 3MF file may also unpack to no more than this many times its packed size, or to
/// [`FREE_INFLATED_BYTES`] if that is more. The text of meshes packs 5 to 15 times, of regular
/// ones up to 90 times; deflate can reach 1032 times, with nothing but repetition.
pub const MAX_INFLATE_RATIO: u64 = 200;

/// See [`MAX_INFLATE_RATIO`].
pub const FREE_INFLATED_BYTES: u64 = 16 << 20;

/// Most bytes in a part that only names other parts.
pub(super) const MAX_SMALL_PART_BYTES: u64 = 4 << 20;

/// The most bytes that an entry of so many packed bytes may unpack to.
pub(super) fn inflate_limit(packed: u64) -> u64 {
    packed.saturating_mul(MAX_INFLATE_RATIO).clamp(FREE_INFLATED_BYTES, MAX_INFLATED_BYTES)
}
