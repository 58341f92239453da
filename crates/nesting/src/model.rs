//! What is to be arranged, where, and the arrangement that came of it.

use crate::solid::Solid;
use base::vec3::Vec3;
use base::{Affine, Cancelled};
use mesh::Mesh;
use std::sync::Arc;

/// The orientations in which a part may be built.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Orientations {
    /// Only the one of its mesh.
    Fixed,
    /// Rotated about Z only, so that the face that looks up keeps looking up.
    AboutZ {
        /// Number of equal steps in a full revolution, 4 for quarter turns; 0 counts as 1.
        steps: u32,
    },
    /// The 24 rotations that take the coordinate axes to coordinate axes.
    QuarterTurns,
    /// Those 24 and more, spread evenly over all rotations.
    Many {
        /// How many beyond the 24.
        extra: u32,
    },
}

/// A part to be arranged, and how many copies of it.
#[derive(Clone, Debug)]
pub struct Item {
    /// For messages.
    pub name: String,
    /// The part, mm, part frame.
    pub solid: Arc<Solid>,
    /// Factors along X, Y, Z of the build space by which the rotated part is scaled, against
    /// shrinkage; 1 for none.
    pub scale: [f64; 3],
    /// Copies, locked ones included.
    pub quantity: u32,
    /// Orientations in which it may be built.
    pub orientations: Orientations,
    /// Rank of its due date: lower is due earlier, none is due last. A part is never put into a
    /// later build than a part that is due after it.
    pub due: Option<u32>,
}

impl Item {
    /// Its mesh, mm, part frame.
    pub fn mesh(&self) -> &Mesh {
        self.solid.mesh()
    }
}

/// One copy of an item: how results name what was placed or not. It is no identity of a placement in
/// a job: who made the items from a job knows which placement each copy stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CopyId {
    /// Index into the items.
    pub item: usize,
    /// Copy of the item, from 0; locked copies come first, in the order in which they were given.
    pub copy: u32,
}

/// A copy that stays where it is, in the first build.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Locked {
    /// Index of the item.
    pub item: usize,
    /// Build space from part frame: a rotation, the item's scaling and a translation, nothing else.
    pub pose: Affine,
}

/// The build space: a box with its origin at the centre of the build platform, Z up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Space {
    /// Width, depth, height, mm.
    pub size_mm: [f64; 3],
    /// Least distance of every part from each of the six walls, platform included, mm.
    pub wall_clearance_mm: f64,
    /// Least distance between parts, mm.
    pub clearance_mm: f64,
}

impl Space {
    /// Lowest and highest coordinates that the clearance to the walls leaves, mm.
    pub(crate) fn limits(&self) -> (Vec3, Vec3) {
        let [width, depth, height] = self.size_mm;
        let wall = self.wall_clearance_mm;
        let low = [wall - width / 2.0, wall - depth / 2.0, wall];
        (low, [width / 2.0 - wall, depth / 2.0 - wall, height - wall])
    }

    /// The room that the clearance to the walls leaves: its lowest corner and its size, mm.
    pub(crate) fn room(&self) -> (Vec3, Vec3) {
        let [width, depth, height] = self.size_mm;
        let wall = self.wall_clearance_mm;
        (self.limits().0, [width - 2.0 * wall, depth - 2.0 * wall, height - 2.0 * wall])
    }
}

/// How to search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Equal seeds give equal arrangements, whatever the number of threads.
    pub seed: u64,
    /// Edge of the finest voxels, mm; chosen from clearance and sizes if `None`.
    pub voxel_mm: Option<f64>,
    /// Also even out the fused area along Z, once the height is settled.
    pub even_area: bool,
    /// Most builds to fill; what fits none of them is reported as unplaced.
    pub max_builds: usize,
    /// Rounds of search without a better arrangement after which it counts as converged.
    pub patience: u32,
}

impl Default for Options {
    fn default() -> Self {
        Self { seed: 1, voxel_mm: None, even_area: false, max_builds: 16, patience: 700 }
    }
}

/// One copy of an item in a build.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Index of the item.
    pub item: usize,
    /// Copy of the item, from 0; see [`CopyId`].
    pub copy: u32,
    /// Build space from part frame, mm.
    pub pose: Affine,
    /// Whether it was locked there.
    pub locked: bool,
}

impl Placed {
    /// Which copy it is.
    pub fn id(&self) -> CopyId {
        CopyId { item: self.item, copy: self.copy }
    }
}

/// Called with every arrangement that is better than the one before; false stops the search.
pub type OnBetter<'a> = &'a mut dyn FnMut(&Arrangement) -> bool;

/// The few numbers that every arrangement comes with; [`crate::figures()`] has more.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Summary {
    /// Highest point of the highest build above the platform, mm.
    pub height_mm: f64,
    /// Sum of the heights of all builds, mm: what the recoater has to spread.
    pub total_height_mm: f64,
    /// Volume of all parts over the sum of (platform area × height) of the builds. Clearance does
    /// not count as part.
    pub density: f64,
}

/// Where every copy goes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Arrangement {
    /// The builds in the order in which they should run. Within a build the parts are listed, after
    /// the locked ones, such that on the search's voxels, from the last to the first, each can be
    /// taken out straight along an axis. After the moves by exact distances that follow, all of them
    /// can still be taken out one after the other, but perhaps in another order; see
    /// [`crate::removal()`].
    pub builds: Vec<Vec<Placed>>,
    /// What fits no build.
    pub unplaced: Vec<CopyId>,
    /// Height and density.
    pub summary: Summary,
    /// Whether the search ended by itself; false while it goes on or was stopped.
    pub converged: bool,
}

/// Why nothing could be arranged.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NestError {
    /// A part without triangles, or with a corner that does not exist or is not finite.
    #[error("part \"{name}\" has no usable triangles; repair or leave it out")]
    UnusableMesh {
        /// Index of the item.
        item: usize,
        /// Its name.
        name: String,
    },
    /// A factor that would flatten, mirror or blow up a part.
    #[error("the scale of part \"{name}\" is {value}; it must be from 0.01 to 100")]
    BadScale {
        /// Index of the item.
        item: usize,
        /// Its name.
        name: String,
        /// The factor.
        value: f64,
    },
    /// A size, clearance or voxel that cannot be.
    #[error("{what} is {value} mm; it must be a finite number {need}")]
    BadMeasure {
        /// Which one.
        what: &'static str,
        /// What it is, mm.
        value: f64,
        /// What it should be.
        need: &'static str,
    },
    /// The walls' clearance leaves no room.
    #[error("the clearance to the walls leaves no room in the build space; make it smaller")]
    NoRoom,
    /// A locked placement of an item that does not exist or has fewer copies, or whose pose is not
    /// a rotation, the item's scaling and a translation.
    #[error(
        "locked copy {copy} of part \"{name}\" is not a rotation and a translation of a listed copy"
    )]
    BadLock {
        /// Index into `locked`.
        index: usize,
        /// The item it names.
        item: usize,
        /// Name of that item; empty if there is no such item.
        name: String,
        /// Which of the item's locked copies it is, from 1.
        copy: u32,
    },
    /// More copies than are arranged at once.
    #[error(
        "there are {copies} copies to arrange, more than {limit}, the limit; ask for fewer, or set the \
         environment variable HATCHWRIGHT_LIMITS to 2 to allow twice as many"
    )]
    TooManyCopies {
        /// All copies of all parts.
        copies: u64,
        /// Most of them.
        limit: u64,
    },
    /// Cancelled before there was any arrangement. Not a failure.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
