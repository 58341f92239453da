//! Powder that stays in a part: hollows that it cannot leave, and passages too narrow and too deep.
//!
//! Powder is taken to flow through what a ball of a chosen diameter passes. All is looked at in voxels around
//! the mesh: where such a ball can have its middle (`rooms`), which of these places it can leave, which
//! powder lies nearer to a room that it cannot leave than to the outside (`regions`), and how much that is
//! (`pockets`). Whoever goes from voxel to voxel crosses no surface, however thin the wall is.
//!
//! Balls have half a diagonal of a voxel less radius than asked for, so that none is stopped by the voxels
//! alone: what is called shut in is shut in, while ways up to 1.75 voxels too narrow may pass as wide enough.

mod grid;
mod pockets;
mod reach;
mod regions;
mod rooms;
mod solid;

use crate::health::{Shell, ShellRole};
use crate::{Hierarchy, Mesh};
use base::vec3::{Vec3, midpoint};
use base::{Cancelled, Progress};
use grid::Grid;
use pockets::Found;
use regions::Regions;
use rooms::Rooms;

/// What to look for.
#[derive(Clone, Copy, Debug)]
pub struct Question {
    /// Powder flows through what a ball of this diameter passes, mm.
    pub opening_mm: f64,
    /// Powder comes out of narrower passages that are no deeper than this, mm.
    pub deepest_mm: f64,
    /// Voxels are an eighth of the opening, and larger where there would be more than so many. Each takes
    /// some 14 bytes.
    pub most_voxels: usize,
}

/// A hollow that powder cannot leave.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pocket {
    /// What it holds, mm³.
    pub volume_mm3: f64,
    /// How far off that may be, mm³; 0 where it is that of a closed shell.
    pub uncertainty_mm3: f64,
    /// Whether no way out was found, however narrow; ways narrower than two voxels are not seen.
    pub is_closed: bool,
    /// A point in it, far from its walls, mm.
    pub at_mm: Vec3,
    /// Where a hole along an axis would be shortest; `None` if none leads straight outside.
    pub hole: Option<Hole>,
}

/// A place for a hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hole {
    /// Where it begins, on the outside, mm.
    pub outside_mm: Vec3,
    /// How much material is in its way, mm.
    pub length_mm: f64,
}

/// Narrow passages.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passage {
    /// How deep the deepest is, mm, in a straight line from where a ball still fits; crooked ones are deeper.
    pub depth_mm: f64,
    /// What all of them hold beyond the depth allowed, mm³.
    pub volume_mm3: f64,
    /// Its far end, mm.
    pub at_mm: Vec3,
}

/// What stays in.
#[derive(Clone, Debug, PartialEq)]
pub struct Powder {
    /// Edge of the voxels, mm.
    pub voxel_mm: f64,
    /// Hollows, the largest first.
    pub pockets: Vec<Pocket>,
    /// The deepest of the passages that are too deep.
    pub passage: Option<Passage>,
}

/// Finds the powder that stays in a mesh, part frame; `shells` are those of its health report, and tell the
/// volumes of closed cavities exactly. Time and memory grow with the voxels: 1 million take some 0.1 s.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn powder(
    mesh: &Mesh,
    tree: &Hierarchy,
    shells: &[Shell],
    question: &Question,
    progress: &Progress,
) -> Result<Powder, Cancelled> {
    let Question { opening_mm, deepest_mm, most_voxels } = *question;
    let nothing = Powder { voxel_mm: opening_mm / 8.0, pockets: Vec::new(), passage: None };
    let Some(bounds) = tree.bounds().filter(|_| opening_mm > 0.0) else { return Ok(nothing) };
    let radius_mm = 0.5 * opening_mm;
    let grid = Grid::around(bounds, radius_mm, opening_mm / 8.0, most_voxels.max(1000));
    let rooms = Rooms::new(mesh, tree, grid, radius_mm, progress)?;
    let regions = Regions::new(&rooms);
    progress.check()?;
    let found = pockets::pockets(mesh, tree, &rooms, &regions);
    let passage = pockets::passage(&rooms, &regions, radius_mm, deepest_mm);
    let mut pockets = with_shells(found, shells, grid.step_mm);
    pockets.sort_by(|a, b| b.volume_mm3.total_cmp(&a.volume_mm3)); // stable
    Ok(Powder { voxel_mm: grid.step_mm, pockets, passage })
}

/// Exact volumes where a pocket is a cavity of the mesh, and cavities too small for voxels.
fn with_shells(mut found: Vec<Found>, shells: &[Shell], step_mm: f64) -> Vec<Pocket> {
    let mut small = Vec::new();
    for shell in shells.iter().filter(|shell| shell.role == ShellRole::Cavity) {
        let Some((lo, hi)) = shell.bounds_mm else { continue };
        let volume_mm3 = shell.volume_mm3.abs();
        let is_it = |found: &&mut Found| {
            let (low, high) = found.bounds_mm;
            (0..3).all(|k| {
                (low[k] - lo[k]).abs() < 2.0 * step_mm && (hi[k] - high[k]).abs() < 2.0 * step_mm
            })
        };
        let Some(Found { pocket, .. }) = found.iter_mut().find(is_it) else {
            let at_mm = midpoint(lo, hi);
            small.push(Pocket {
                volume_mm3,
                uncertainty_mm3: 0.0,
                is_closed: true,
                at_mm,
                hole: None,
            });
            continue;
        };
        pocket.is_closed = true;
        // Another solid in the cavity leaves less powder in it.
        if (pocket.volume_mm3 - volume_mm3).abs() <= pocket.uncertainty_mm3 {
            (pocket.volume_mm3, pocket.uncertainty_mm3) = (volume_mm3, 0.0);
        }
    }
    found.into_iter().map(|found| found.pocket).chain(small).collect()
}
