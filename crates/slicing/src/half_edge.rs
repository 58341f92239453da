//! Half-edges as contours are followed along them.
//!
//! A half-edge is named `4·t + k`: corner `k` to corner `(k + 1) % 3` of triangle `t`. Three of
//! four names are used; that spares a division by three at every step of a contour.

/// Instead of a name: nothing lies across.
pub(crate) const NO_PARTNER: u32 = u32::MAX;

/// One edge of one triangle.
#[derive(Clone, Copy, Debug)]
pub(crate) struct HalfEdge {
    /// The vertex at which it starts.
    pub(crate) start: u32,
    /// The name of the half-edge that runs along the same edge the other way, or [`NO_PARTNER`].
    pub(crate) partner: u32,
}

/// The triangle of a half-edge.
pub(crate) fn triangle(name: u32) -> u32 {
    name / 4
}

/// Where a half-edge is stored: three in a row for each triangle.
pub(crate) fn position(name: u32) -> usize {
    (name - name / 4) as usize
}

/// The next half-edge of the same triangle.
pub(crate) fn next(name: u32) -> u32 {
    if name % 4 == 2 { name - 2 } else { name + 1 }
}

/// The half-edge before, of the same triangle.
pub(crate) fn previous(name: u32) -> u32 {
    if name.is_multiple_of(4) { name + 2 } else { name - 1 }
}
