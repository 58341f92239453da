//! Connected sets of lattice points.

use super::lattice::{Bits, Lattice};

/// A connected set of lattice points.
pub(super) struct Piece {
    /// Diagonal of its bounding box, nm.
    pub(super) extent_nm: f64,
    /// Its points, nm; at least one.
    pub(super) points: Vec<[f64; 2]>,
}

/// Splits set points into pieces whose points touch, corners included.
pub(super) fn pieces(lattice: &Lattice, mut bits: Bits) -> Vec<Piece> {
    let all: Vec<(usize, usize)> = bits.points().collect();
    let mut found = Vec::new();
    let mut queue = Vec::new();
    for &(column, row) in &all {
        if !bits.get(column, row) {
            continue; // taken by an earlier piece
        }
        bits.clear(column, row);
        queue.push((column, row));
        let mut points = vec![lattice.position(column, row)];
        let (mut low, mut high) = ((column, row), (column, row));
        while let Some((c, r)) = queue.pop() {
            low = (low.0.min(c), low.1.min(r));
            high = (high.0.max(c), high.1.max(r));
            for (nc, nr) in lattice.neighbours(c, r) {
                if bits.get(nc, nr) {
                    bits.clear(nc, nr);
                    queue.push((nc, nr));
                    points.push(lattice.position(nc, nr));
                }
            }
        }
        let extent = ((high.0 - low.0) as f64).hypot((high.1 - low.1) as f64);
        found.push(Piece { extent_nm: (extent + 1.0) * lattice.pitch_nm(), points });
    }
    found
}
