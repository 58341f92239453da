//! How the corners of an offset are joined.

/// How a corner that opens is filled: an outer corner of an outset, a reflex corner of an inset.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Join {
    /// An arc about the corner.
    Round {
        /// How far the polygon drawn for the arc may lie off it, nm; at least 1 is taken.
        chord_tolerance_nm: u32,
    },
    /// The moved edges are prolonged until they meet. An edge that vanishes on the way takes part
    /// only as long as it lasts or, where the engine is needed, with its whole tip; either way the
    /// boundary is at least the distance away, and at most the farthest tip.
    Mitre {
        /// A tip farther from the corner than this many times the offset distance is cut off
        /// squarely at that distance; 1 to 1000 is taken.
        limit: f64,
    },
}
