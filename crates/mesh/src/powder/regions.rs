//! Which powder belongs to the outside, and which to a chamber.

use super::grid::narrow;
use super::rooms::{REACHED, Rooms};
use super::solid::{SOLID, SURFACE};

/// Powder from which the outside is nearer, along the powder, than any chamber.
pub(super) const OUTSIDE: u16 = 1;
/// Chambers have the numbers from here on.
pub(super) const FIRST_CHAMBER: u16 = 2;
const NONE: u16 = 0;

/// Closed spaces without a place for a ball count if a centre is so far from the surface, squared, in voxels:
/// smaller ones may be an accident of the voxels.
const LEAST_SQUARE: u16 = 6;

/// To whom each voxel of powder belongs.
pub(super) struct Regions {
    /// [`OUTSIDE`] or a chamber; 0 in material, at the surface, and in slits too narrow for voxels.
    pub(super) owner: Vec<u16>,
    /// The place of a ball of that owner from which it was got to.
    pub(super) from: Vec<u32>,
    /// How many owners there are: numbers are below.
    pub(super) owners: u16,
}

impl Regions {
    pub(super) fn new(rooms: &Rooms) -> Self {
        let count = rooms.voxels.len();
        let mut regions =
            Self { owner: vec![NONE; count], from: vec![0; count], owners: FIRST_CHAMBER };
        let mut front = Vec::new();
        for voxel in 0..narrow(count) {
            if rooms.voxels[voxel as usize] & REACHED != 0 {
                regions.owner[voxel as usize] = OUTSIDE;
                regions.from[voxel as usize] = voxel;
            }
        }
        for chamber in &rooms.chambers {
            let owner = regions.next_owner();
            for voxel in chamber {
                regions.owner[*voxel as usize] = owner;
                front.push(*voxel);
            }
        }
        // Deep within what is reached, there is nobody left to reach.
        let at_edge = |voxel: &u32| {
            regions.owner[*voxel as usize] == OUTSIDE
                && rooms.grid.beside(*voxel).any(|next| regions.is_unowned(rooms, next))
        };
        let edge: Vec<u32> = (0..narrow(count)).filter(at_edge).collect();
        front.extend(edge);
        regions.spread(rooms, front);
        for voxel in 0..narrow(count) {
            let is_large = rooms.squares[voxel as usize] >= LEAST_SQUARE;
            if is_large && regions.is_unowned(rooms, voxel) {
                regions.owner[voxel as usize] = regions.next_owner();
                regions.spread(rooms, vec![voxel]);
            }
        }
        regions
    }

    /// The last number is shared by all that come after it.
    fn next_owner(&mut self) -> u16 {
        let owner = self.owners;
        self.owners = self.owners.saturating_add(1);
        owner.min(u16::MAX - 1)
    }

    fn is_unowned(&self, rooms: &Rooms, voxel: u32) -> bool {
        self.owner[voxel as usize] == NONE && rooms.is_powder(voxel)
    }

    /// Gives powder to the owner who gets there first, ring by ring.
    fn spread(&mut self, rooms: &Rooms, mut front: Vec<u32>) {
        while !front.is_empty() {
            let mut further = Vec::new();
            for voxel in front {
                for next in rooms.grid.beside(voxel) {
                    if self.is_unowned(rooms, next) {
                        self.owner[next as usize] = self.owner[voxel as usize];
                        self.from[next as usize] = self.from[voxel as usize];
                        further.push(next);
                    }
                }
            }
            front = further;
        }
    }
}

impl Rooms {
    /// Whether a voxel is powder, and no surface goes through it.
    pub(super) fn is_powder(&self, voxel: u32) -> bool {
        self.voxels[voxel as usize] & (SOLID | SURFACE) == 0
    }
}
