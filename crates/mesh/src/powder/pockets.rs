//! Chambers in numbers: what they hold, and where a hole would be shortest.

use super::grid::{count, narrow};
use super::regions::{FIRST_CHAMBER, OUTSIDE, Regions};
use super::rooms::{REACHED, Rooms, SHUT_IN};
use super::solid::SOLID;
use super::{Hole, Passage, Pocket};
use crate::{Hierarchy, Mesh};
use base::vec3::{Vec3, add, length, scale, sub};

/// Sums over the voxels of one owner.
#[derive(Clone, Default)]
struct Sums {
    /// Voxels of powder away from the surface.
    voxels: u64,
    /// Those beside them at the surface whose centres are powder.
    rim: u64,
    /// Whether there is a way, however narrow, to the outside.
    is_open: bool,
    /// The voxel farthest from the surface, the first of equals, and the square of its distance.
    middle: Option<(u16, u32)>,
    /// Smallest and largest centre, mm.
    bounds_mm: Option<(Vec3, Vec3)>,
    /// The shortest way through material to the outside: in voxels, and measured.
    hole: Option<(u32, Hole)>,
}

/// A pocket with the bounds of its voxels' centres.
pub(super) struct Found {
    pub(super) pocket: Pocket,
    pub(super) bounds_mm: (Vec3, Vec3),
}

/// The pockets, those joined by powder as one, in the order of their first voxels.
pub(super) fn pockets(mesh: &Mesh, tree: &Hierarchy, rooms: &Rooms, of: &Regions) -> Vec<Found> {
    let joined = joined(rooms, of);
    let mut sums = vec![Sums::default(); usize::from(of.owners)];
    let mut counted = vec![false; rooms.voxels.len()];
    let reach = f64::from(rooms.squares.first().copied().unwrap_or(0)).sqrt();
    for voxel in 0..narrow(rooms.voxels.len()) {
        let owner = of.owner[voxel as usize];
        if owner < FIRST_CHAMBER {
            continue;
        }
        let sum = &mut sums[usize::from(joined[usize::from(owner)])];
        sum.add(rooms, voxel);
        for direction in 0..6 {
            let Some(next) = rooms.grid.next(voxel, direction) else { continue };
            if of.owner[next as usize] == OUTSIDE {
                sum.is_open = true;
            } else if !rooms.is_powder(next) {
                let is_new = !std::mem::replace(&mut counted[next as usize], true);
                sum.rim += u64::from(is_new && rooms.voxels[next as usize] & SOLID == 0);
                let is_room = usize::from(owner - FIRST_CHAMBER) < rooms.chambers.len();
                if is_room && !sees(rooms, voxel, direction ^ 1, reach, SHUT_IN) {
                    continue;
                }
                let Some((thick, to)) = through(rooms, of, next, direction, reach) else {
                    continue;
                };
                // Voxels are off by one, so that lines one longer are measured, too.
                if sum.hole.is_none_or(|(known, _)| thick <= known + 1) {
                    let [from, to] = [voxel, to].map(|voxel| rooms.grid.centre(voxel));
                    let hole = measured(mesh, tree, from, to);
                    let known_mm = sum.hole.map_or(f64::INFINITY, |(_, hole)| hole.length_mm);
                    let shorter = hole.filter(|hole| hole.length_mm < known_mm - 1e-9);
                    sum.hole = shorter.map(|hole| (thick, hole)).or(sum.hole);
                }
            }
        }
    }
    sums.into_iter().filter_map(|sum| sum.finish(rooms)).collect()
}

impl Sums {
    fn add(&mut self, rooms: &Rooms, voxel: u32) {
        self.voxels += 1;
        let square = rooms.squares[voxel as usize];
        if self.middle.is_none_or(|(known, _)| square > known) {
            self.middle = Some((square, voxel));
        }
        let centre = rooms.grid.centre(voxel);
        let (lo, hi) = self.bounds_mm.get_or_insert((centre, centre));
        for k in 0..3 {
            lo[k] = lo[k].min(centre[k]);
            hi[k] = hi[k].max(centre[k]);
        }
    }

    fn finish(self, rooms: &Rooms) -> Option<Found> {
        let ((_, middle), bounds_mm) = self.middle.zip(self.bounds_mm)?;
        let one = rooms.grid.step_mm.powi(3);
        let pocket = Pocket {
            volume_mm3: (self.voxels + self.rim) as f64 * one,
            uncertainty_mm3: self.rim.max(1) as f64 * one * 0.5,
            is_closed: !self.is_open,
            at_mm: rooms.grid.centre(middle),
            hole: self.hole.map(|(_, hole)| hole),
        };
        Some(Found { pocket, bounds_mm })
    }
}

/// Through material in one direction to powder that a ball outside can touch: how many voxels, and where to.
fn through(
    rooms: &Rooms,
    of: &Regions,
    first: u32,
    direction: usize,
    reach: f64,
) -> Option<(u32, u32)> {
    let (mut voxel, mut thick) = (first, 0);
    while !rooms.is_powder(voxel) {
        voxel = rooms.grid.next(voxel, direction)?;
        thick += 1;
    }
    let is_outside = of.owner[voxel as usize] == OUTSIDE;
    (is_outside && sees(rooms, voxel, direction, reach, REACHED)).then_some((thick, voxel))
}

/// Whether a place for a ball lies straight ahead, as near as at a flat wall: within a neck none does.
fn sees(rooms: &Rooms, from: u32, direction: usize, reach: f64, mark: u8) -> bool {
    let mut at = Some(from);
    for _ in 0..=count(reach) + 1 {
        let Some(voxel) = at.filter(|voxel| rooms.is_powder(*voxel)) else { return false };
        if rooms.voxels[voxel as usize] & mark != 0 {
            return true;
        }
        at = rooms.grid.next(voxel, direction);
    }
    false
}

/// A hole between two points in powder, measured on the mesh along the line between them; `None` if the line
/// only grazes material, as along the side of a neck.
fn measured(mesh: &Mesh, tree: &Hierarchy, from: Vec3, to: Vec3) -> Option<Hole> {
    let way = sub(to, from);
    let inside = tree.first_hit(mesh, from, way)?;
    let outside = tree.first_hit(mesh, to, scale(way, -1.0))?;
    let share = 1.0 - inside.along - outside.along;
    (share > 0.0).then(|| Hole {
        outside_mm: add(to, scale(way, -outside.along)),
        length_mm: share * length(way),
    })
}

/// The first of those that an owner is joined to.
fn root(first: &[u16], mut owner: u16) -> u16 {
    while first[usize::from(owner)] != owner {
        owner = first[usize::from(owner)];
    }
    owner
}

/// For each owner the first of those that powder joins it to.
fn joined(rooms: &Rooms, of: &Regions) -> Vec<u16> {
    let mut first: Vec<u16> = (0..of.owners).collect();
    for voxel in 0..narrow(rooms.voxels.len()) {
        let owner = of.owner[voxel as usize];
        if owner < FIRST_CHAMBER {
            continue;
        }
        for next in rooms.grid.beside(voxel) {
            let other = of.owner[next as usize];
            if other >= FIRST_CHAMBER && other != owner {
                let (a, b) = (root(&first, owner), root(&first, other));
                first[usize::from(a.max(b))] = a.min(b);
            }
        }
    }
    (0..of.owners).map(|owner| root(&first, owner)).collect()
}

/// The deepest narrow passage that belongs to the outside, if it is deeper than `allowed_mm` beyond what a ball
/// of `radius_mm` at its mouth fills, and what all such passages hold beyond that.
pub(super) fn passage(
    rooms: &Rooms,
    of: &Regions,
    radius_mm: f64,
    allowed_mm: f64,
) -> Option<Passage> {
    let mut deepest: Option<Passage> = None;
    let mut beyond = 0_u64;
    for voxel in 0..narrow(rooms.voxels.len()) {
        if of.owner[voxel as usize] != OUTSIDE || rooms.voxels[voxel as usize] & REACHED != 0 {
            continue;
        }
        let [at_mm, from] = [voxel, of.from[voxel as usize]].map(|v| rooms.grid.centre(v));
        let depth_mm = length(sub(at_mm, from)) - radius_mm;
        if depth_mm > allowed_mm {
            beyond += 1;
            if deepest.is_none_or(|known| depth_mm > known.depth_mm) {
                deepest = Some(Passage { depth_mm, volume_mm3: 0.0, at_mm });
            }
        }
    }
    let volume_mm3 = beyond as f64 * rooms.grid.step_mm.powi(3);
    deepest.map(|deepest| Passage { volume_mm3, ..deepest })
}
