//! What one motion learns about pairs of bodies and the next can use.

use std::collections::BTreeMap;

/// What is known of pairs of bodies, kept from one motion to the next of the same bodies and perhaps
/// others, while nothing else moves. A pair is (moved body, other body).
#[derive(Default)]
pub(super) struct PairCache {
    /// Pairs that were nearer than the clearance when they first moved, and how near, mm; minus infinity
    /// for overlaps. They may stay as near as that.
    pub(super) limits: BTreeMap<(usize, usize), f64>,
    /// Triangles last found nearest.
    pub(super) hints: BTreeMap<(usize, usize), [u32; 2]>,
    /// The slack that a pair had at least, mm, and after how long a way it had it, mm.
    pub(super) slacks: BTreeMap<(usize, usize), [f64; 2]>,
    /// Bodies whose limits are known.
    pub(super) known: Vec<usize>,
    /// The way so far, mm: no two bodies have come nearer to each other by more.
    pub(super) way_mm: f64,
}
