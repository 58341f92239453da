//! What a cut yields: rings, and how far they can be trusted.

use base::NM_PER_MM;
use region::Region;

/// The rings in which a plane cuts a placed mesh, as they come: they may touch, cross or overlap
/// where the mesh does.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Section {
    /// Closed rings on the grid, in build space, material on the left of every edge. Not proper in
    /// general; [`crate::Slicer::proper_section`] gives the resolved region.
    pub rings: Region,
    /// Whether every ring was closed by the mesh's own adjacency. Then rounding to the grid is the
    /// only thing that separates it from the true section of the triangles.
    pub exact: bool,
    /// Where rings had to be closed across a gap in the mesh, in order of discovery.
    pub gaps: Vec<Gap>,
}

/// A straight piece that was added to close a ring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Where the mesh's own contour ends, mm in build space.
    pub from_mm: [f64; 2],
    /// Where it goes on, mm in build space.
    pub to_mm: [f64; 2],
}

impl Gap {
    /// Length, mm.
    pub fn length_mm(&self) -> f64 {
        (self.to_mm[0] - self.from_mm[0]).hypot(self.to_mm[1] - self.from_mm[1])
    }

    /// The same gap elsewhere. Its ends are grid points, which sums in whole nm keep.
    fn moved(&self, by_nm: [i32; 2]) -> Self {
        let moved = |end: [f64; 2]| {
            [0, 1].map(|k| ((end[k] * NM_PER_MM).round() + f64::from(by_nm[k])) / NM_PER_MM)
        };
        Self { from_mm: moved(self.from_mm), to_mm: moved(self.to_mm) }
    }
}

/// How a region came about.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SectionReport {
    /// See [`Section::exact`].
    pub exact: bool,
    /// See [`Section::gaps`].
    pub gaps: Vec<Gap>,
}

impl SectionReport {
    /// The report of the same section, moved to the right and to the back by whole nm.
    #[must_use]
    pub fn moved(&self, by_nm: [i32; 2]) -> Self {
        let gaps = self.gaps.iter().map(|gap| gap.moved(by_nm)).collect();
        Self { exact: self.exact, gaps }
    }
}
