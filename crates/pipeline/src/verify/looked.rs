//! A section and its marks on a lattice: what the tests of coverage look at.

use super::lattice::{Bits, Lattice, edges};
use super::outcome::Marks;
use base::NM_PER_MM;
use region::Region;

/// A section and the marks in it, on a lattice.
pub(super) struct Looked<'a> {
    pub(super) lattice: Lattice,
    pub(super) region: &'a Region,
    pub(super) marks: &'a Marks<'a>,
    /// The points inside the section.
    pub(super) inside: Bits,
}

impl Looked<'_> {
    /// The points within a depth of the boundary, nm; inside and outside.
    pub(super) fn shallower_than(&self, depth: f64) -> Bits {
        let mut bits = self.lattice.empty();
        for (a, b) in self.region.rings().flat_map(edges) {
            self.lattice.add_stadium(&mut bits, a, b, depth);
        }
        bits
    }

    /// The points within a reach of any mark, nm.
    pub(super) fn near_marks(&self, reach: f64) -> Bits {
        let mut bits = self.lattice.empty();
        for (a, b) in self.marks.segments(None) {
            self.lattice.add_stadium(&mut bits, a, b, reach);
        }
        bits
    }

    pub(super) fn point_mm2(&self) -> f64 {
        (self.lattice.pitch_nm() / NM_PER_MM).powi(2)
    }
}
