//! The section of one placed mesh at any layer.

use crate::chains::{self, Chain};
use crate::cut::{Cut, Trace, Visited};
use crate::posed::Posed;
use crate::straight::straightened;
use crate::{Section, SectionReport, SlicingError};
use base::{Affine, GRID_LIMIT_NM, Point, Progress};
use mesh::{Mesh, Topology};
use region::{FillRule, Region};
use std::ops::Range;
use std::sync::Arc;

/// One placed mesh, ready to be cut at any layer, in any order, on any number of threads.
///
/// Layer `k` is cut at mid-height, `z = (k + ½)·t` above the build platform. A vertex on the plane
/// counts as above it.
///
/// Holds its own copy of what it needs, ordered by layer: 24 B per triangle that crosses a plane and
/// 24 B per vertex; shared by all copies made with [`Self::moved`]. Mesh and topology may go.
#[derive(Clone, Debug)]
pub struct Slicer {
    posed: Arc<Posed>,
    shift_nm: [i32; 2],
    /// Layers up from the pose.
    lift: i32,
}

/// Working space of one thread; takes any slicer. One bit per triangle of the largest mesh.
#[derive(Clone, Debug, Default)]
pub struct Scratch {
    visited: Visited,
    points: Vec<Point>,
    before: Vec<Point>,
}

impl Slicer {
    /// Places a mesh and orders its triangles by layer. O(n).
    ///
    /// | argument             | meaning                                                     |
    /// |----------------------|-------------------------------------------------------------|
    /// | `topology`           | made from the same mesh                                     |
    /// | `pose`               | part frame to build space; may mirror                       |
    /// | `layer_thickness_mm` | above zero                                                  |
    /// | `progress`           | steps in proportion to vertices and triangles               |
    ///
    /// The pose's translation in the plane is rounded to the grid's fineness apart from the rest,
    /// so poses that differ by whole nm give sections that do, too.
    ///
    /// # Errors
    /// [`SlicingError`]: an argument is out of range, a placed vertex lies outside the grid, the
    /// topology is another mesh's, or the work was cancelled.
    pub fn new(
        mesh: &Mesh,
        topology: &Topology,
        pose: &Affine,
        layer_thickness_mm: f64,
        progress: &Progress,
    ) -> Result<Self, SlicingError> {
        let posed = Posed::new(mesh, topology, pose, layer_thickness_mm, progress)?;
        Ok(Self { posed: Arc::new(posed), shift_nm: [0, 0], lift: 0 })
    }

    /// The same part elsewhere: moved in the plane by whole nm, and up by whole layers. O(1); the
    /// sections are those of `self`, moved, bit for bit.
    ///
    /// # Errors
    /// [`SlicingError::MovedOffGrid`] if the part would leave the grid.
    pub fn moved(&self, dx_nm: i32, dy_nm: i32, up_layers: i32) -> Result<Self, SlicingError> {
        let off_grid = SlicingError::MovedOffGrid { dx_nm, dy_nm };
        let [lo, hi] = self.posed.bounds_nm;
        let add = |old: i32, by: i32, lo: i32, hi: i32| {
            let new = old.checked_add(by)?;
            let limit = i64::from(GRID_LIMIT_NM);
            let fits = |c: i32| (i64::from(c) + i64::from(new)).abs() < limit;
            (fits(lo) && fits(hi)).then_some(new)
        };
        let [x, y] = self.shift_nm;
        match (add(x, dx_nm, lo.x, hi.x), add(y, dy_nm, lo.y, hi.y)) {
            (Some(x), Some(y)) => Ok(Self {
                posed: self.posed.clone(),
                shift_nm: [x, y],
                lift: self.lift.saturating_add(up_layers),
            }),
            _ => Err(off_grid),
        }
    }

    /// The same part as its pose has it in the plane, in the layers of `self`.
    #[must_use]
    pub fn unmoved(&self) -> Self {
        Self { shift_nm: [0, 0], ..self.clone() }
    }

    /// How far the part was moved: nm to the right and to the back, and layers up.
    pub fn moved_by(&self) -> ([i32; 2], i32) {
        (self.shift_nm, self.lift)
    }

    /// Whether both are one posed part, wherever they were moved.
    pub fn is_copy_of(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.posed, &other.posed)
    }

    /// Layers from the first to the last that cut the part. What lies below the build platform has
    /// no layers.
    pub fn layers(&self) -> Range<u32> {
        let layer = |plane: i32| {
            let layer = i64::from(plane) + i64::from(self.lift);
            u32::try_from(layer.max(0)).unwrap_or(u32::MAX)
        };
        let planes = &self.posed.planes;
        layer(planes.start)..layer(planes.end).max(layer(planes.start))
    }

    /// The height of a layer's cutting plane above the build platform, mm.
    pub fn height_mm(&self, layer: u32) -> f64 {
        base::layers::middle_mm(layer, self.posed.thickness_mm)
    }

    /// Whether the mesh's triangles face inwards. Its sections are turned right side out; the
    /// report on the mesh should say so.
    pub fn is_inside_out(&self) -> bool {
        self.posed.inside_out
    }

    /// The rings in which a layer's plane cuts the part. A pure function of `self` and `layer`;
    /// empty outside [`Self::layers`]. O(triangles cut) for the most part.
    ///
    /// Where every edge has two triangles that agree on the outside, the rings follow the mesh's
    /// adjacency and are closed by construction. Elsewhere they are closed across the gaps, and
    /// the section says so. Successive points differ; rings that collapse to fewer than three
    /// points on the grid are dropped.
    pub fn section(&self, layer: u32, scratch: &mut Scratch) -> Section {
        let mut section = Section { exact: true, ..Section::default() };
        if !self.layers().contains(&layer) {
            return section;
        }
        let posed = &*self.posed;
        let plane = i64::from(layer) - i64::from(self.lift);
        let Ok(plane) = i32::try_from(plane) else { return section };
        let cut = Cut::new(posed, plane, self.shift_nm);
        let Scratch { visited, points, before } = scratch;
        visited.prepare(posed.index.triangle_count() as usize);

        let mut chains = Vec::new();
        for (all_cross, triangles) in posed.index.candidates(plane.abs_diff(posed.first_plane)) {
            for triangle in triangles {
                // Every triangle of a contour is a candidate exactly once: marks are cleared here.
                if visited.take(triangle) || !(all_cross || cut.crosses(triangle)) {
                    continue;
                }
                match cut.trace(triangle, visited, points, before) {
                    Trace::Closed => self.push_ring(&mut section.rings, points),
                    Trace::Open(first, last) => {
                        chains.push(Chain::new(points.clone(), first, last));
                    }
                }
                visited.take(triangle);
            }
        }

        if !chains.is_empty() {
            section.exact = false;
            let (mut rings, gaps) = chains::close(&chains);
            section.gaps = gaps;
            for ring in &mut rings {
                self.push_ring(&mut section.rings, ring);
            }
        }
        section
    }

    /// The region in which a layer's plane cuts the part: the points around which the rings of
    /// [`Self::section`] wind a positive number of times. So shells that overlap count once,
    /// cavities stay empty, and material is where the mesh faces outwards around it. Points on straight
    /// edges are left out, so that layers through upright walls have the same region.
    ///
    /// It is made where the pose has the part, and then moved: copies have the same region, moved, though
    /// crossings are rounded.
    pub fn proper_section(&self, layer: u32, scratch: &mut Scratch) -> (Region, SectionReport) {
        let [dx_nm, dy_nm] = self.shift_nm;
        let Section { rings, exact, gaps } = self.unmoved().section(layer, scratch);
        let region = region::resolve(&straightened(&rings), FillRule::Positive);
        let report = SectionReport { exact, gaps };
        if self.shift_nm == [0, 0] {
            return (region, report);
        }
        // on the grid: `moved` has looked at the whole part
        let region = region.translated(dx_nm, dy_nm).unwrap_or_default();
        (region, report.moved(self.shift_nm))
    }

    /// Adds a ring with the material on its left.
    fn push_ring(&self, rings: &mut Region, points: &mut [Point]) {
        if self.posed.reversed {
            points.reverse();
        }
        rings.push_ring(points);
    }
}
