//! Where a ball can be, and which of these places it can leave.

use super::grid::{Grid, narrow};
use super::reach::squares;
use super::solid::{SOLID, SURFACE, voxels};
use crate::{Hierarchy, Mesh};
use base::{Cancelled, Progress};

/// A ball whose middle is here can get outside.
pub(super) const REACHED: u8 = 4;
/// A ball whose middle is here cannot.
pub(super) const SHUT_IN: u8 = 8;
/// No ball has its middle here; asked exactly.
const NO_BALL: u8 = 16;

/// Half the diagonal of a voxel: no point of it is farther from its centre.
const HALF_DIAGONAL: f64 = 0.866_025_403_784_438_6;

/// What of the voxels a ball can reach.
pub(super) struct Rooms {
    pub(super) grid: Grid,
    /// What holds of each voxel, in bits.
    pub(super) voxels: Vec<u8>,
    /// Squares of distances from material or surface, in voxels, up to a ball's radius and a little more.
    pub(super) squares: Vec<u16>,
    /// The voxels of each room that a ball cannot leave.
    pub(super) chambers: Vec<Vec<u32>>,
}

struct Search<'a> {
    mesh: &'a Mesh,
    tree: &'a Hierarchy,
    /// Voxels' centres that are farther than this from the surface hold a ball, mm. A ball that gets through
    /// in truth also gets through from centre to centre: each point of its way has a centre within half a
    /// diagonal.
    radius_mm: f64,
    /// Squares in voxels at and above which a centre surely holds a ball, and below which surely not.
    sure: [f64; 2],
    rooms: Rooms,
}

impl Rooms {
    /// Finds what a ball of `radius_mm` can leave.
    pub(super) fn new(
        mesh: &Mesh,
        tree: &Hierarchy,
        grid: Grid,
        radius_mm: f64,
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let radius = radius_mm / grid.step_mm;
        // Distances of centres from centres differ from those of the surface by half a diagonal, and half a
        // voxel more where the surface slips between the lines of centres.
        let (yes, no) = (radius + 0.5, (radius - 2.0 * HALF_DIAGONAL).max(0.0));
        let voxels = voxels(mesh, &grid, progress)?;
        let most = u16::try_from(super::grid::count(yes) + 1).unwrap_or(100).min(100);
        let squares = squares(&grid, &voxels, most, |voxel| voxel & (SOLID | SURFACE) != 0);
        progress.check()?;
        let mut search = Search {
            mesh,
            tree,
            radius_mm: (radius_mm - HALF_DIAGONAL * grid.step_mm).max(0.0),
            sure: [yes * yes, no * no],
            rooms: Self { grid, voxels, squares, chambers: Vec::new() },
        };
        search.flood_outside();
        progress.check()?;
        for voxel in 0..narrow(search.rooms.voxels.len()) {
            if search.surely_holds(voxel) && search.marks(voxel) & (REACHED | SHUT_IN) == 0 {
                search.flood_chamber(voxel, progress)?;
            }
        }
        Ok(search.rooms)
    }
}

impl Search<'_> {
    fn marks(&self, voxel: u32) -> u8 {
        self.rooms.voxels[voxel as usize]
    }

    fn mark(&mut self, voxel: u32, mark: u8) {
        self.rooms.voxels[voxel as usize] |= mark;
    }

    fn surely_holds(&self, voxel: u32) -> bool {
        f64::from(self.rooms.squares[voxel as usize]) >= self.sure[0]
    }

    /// Whether a ball can have its middle here; asks the surface where voxels cannot tell.
    fn holds(&mut self, voxel: u32) -> bool {
        let square = f64::from(self.rooms.squares[voxel as usize]);
        if square >= self.sure[0] {
            return true;
        }
        if square < self.sure[1] || self.marks(voxel) & (SOLID | NO_BALL) != 0 {
            return false;
        }
        let centre = self.rooms.grid.centre(voxel);
        let is_free = self.tree.nearest(self.mesh, centre, self.radius_mm, |_| true).is_none();
        if !is_free {
            self.mark(voxel, NO_BALL);
        }
        is_free
    }

    /// From the rim of the grid, as far as there is no doubt.
    fn flood_outside(&mut self) {
        let grid = self.rooms.grid;
        let mut waiting = vec![0_u32];
        self.mark(0, REACHED);
        while let Some(voxel) = waiting.pop() {
            for next in grid.beside(voxel) {
                if self.marks(next) & REACHED == 0 && self.surely_holds(next) {
                    self.mark(next, REACHED);
                    waiting.push(next);
                }
            }
        }
    }

    /// From a place that was not reached: either the outside is met, or a chamber is found.
    fn flood_chamber(&mut self, first: u32, progress: &Progress) -> Result<(), Cancelled> {
        let grid = self.rooms.grid;
        let mut seen = vec![first];
        self.mark(first, SHUT_IN);
        let mut looked_at = 0;
        while let Some(&voxel) = seen.get(looked_at) {
            looked_at += 1;
            if looked_at % 4096 == 0 {
                progress.check()?;
            }
            for next in grid.beside(voxel) {
                if self.marks(next) & REACHED != 0 {
                    for voxel in seen {
                        self.rooms.voxels[voxel as usize] ^= SHUT_IN | REACHED;
                    }
                    return Ok(());
                }
                if self.marks(next) & SHUT_IN == 0 && self.holds(next) {
                    self.mark(next, SHUT_IN);
                    seen.push(next);
                }
            }
        }
        self.rooms.chambers.push(seen);
        Ok(())
    }
}
