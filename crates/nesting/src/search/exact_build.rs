//! Makes one build of the search exact, and lists the placements that violate a clearance or block
//! removal.
//!
//! Voxels rounded to nearest leave some parts a little too near to each other. [`crate::exact`] moves
//! all of them apart at once; what is still wrong afterwards is found by [`crate::judge`].

use crate::exact::placed_bodies::PlacedBodies;
use crate::exact::separation::Goal;
use crate::judge::proof::proof;
use crate::judge::removal::removal;
use crate::model::{Item, Placed, Space};
use crate::solid::{bodies_of, take_poses};
use base::{Cancelled, Progress};

/// Most rounds of linear programs. More hardly ever bring anything, and each takes some hundredths of a
/// second for a hundred parts.
const ROUNDS: u32 = 25;

/// A build with exact poses.
#[derive(Clone, Debug)]
pub(crate) struct ExactBuild {
    pub(crate) placements: Vec<Placed>,
    /// Indices into `placements` of what would have to go, none of it locked: without these all
    /// clearances are kept by what may move, and all of it can be taken out. Empty if the build is valid.
    pub(crate) offenders: Vec<usize>,
}

/// Moves the parts of one build, but for the locked ones, apart where they are too near and then, if
/// the goal says so, as low as they get. Needs a clearance.
///
/// # Errors
/// [`Cancelled`] on request.
pub(crate) fn separated(
    items: &[Item],
    build: &[Placed],
    space: &Space,
    goal: Goal,
    progress: &Progress,
) -> Result<ExactBuild, Cancelled> {
    moved_and_judged(items, build, space, progress, |all, may_move| {
        all.separate(may_move, goal, ROUNDS, progress).map(drop)
    })
}

/// Presses the parts of one build together, but for the locked ones, where they may touch.
///
/// # Errors
/// [`Cancelled`] on request.
pub(crate) fn pressed_together(
    items: &[Item],
    build: &[Placed],
    space: &Space,
    progress: &Progress,
) -> Result<ExactBuild, Cancelled> {
    moved_and_judged(items, build, space, progress, |all, may_move| {
        all.press_together(may_move, progress)
    })
}

/// A build as it is, with what violates a clearance or blocks removal.
///
/// # Errors
/// [`Cancelled`] on request.
pub(crate) fn judged(
    items: &[Item],
    build: &[Placed],
    space: &Space,
    progress: &Progress,
) -> Result<ExactBuild, Cancelled> {
    moved_and_judged(items, build, space, progress, |_, _| Ok(()))
}

/// Whether every part of a build can be taken out.
///
/// # Errors
/// [`Cancelled`] on request.
pub(crate) fn is_removable(
    items: &[Item],
    build: &[Placed],
    progress: &Progress,
) -> Result<bool, Cancelled> {
    Ok(removal(&bodies_of(items, build, progress)?, progress)?.is_free())
}

/// A build after `work` on its bodies; `work` is passed which of them may move.
fn moved_and_judged(
    items: &[Item],
    build: &[Placed],
    space: &Space,
    progress: &Progress,
    work: impl FnOnce(&mut PlacedBodies, &[bool]) -> Result<(), Cancelled>,
) -> Result<ExactBuild, Cancelled> {
    let bodies = bodies_of(items, build, progress)?;
    let mut all = PlacedBodies::new(bodies, *space);
    let may_move: Vec<bool> = build.iter().map(|p| !p.locked).collect();
    work(&mut all, &may_move)?;
    let mut placements = build.to_vec();
    take_poses(&mut placements, &all.bodies);
    let offenders = offenders(&all, &may_move, progress)?;
    Ok(ExactBuild { placements, offenders })
}

/// What would have to go for the rest to be valid; of two parts the one with the smaller box, since it
/// finds another place more easily.
fn offenders(
    all: &PlacedBodies,
    may_move: &[bool],
    progress: &Progress,
) -> Result<Vec<usize>, Cancelled> {
    let box_mm3 = |body: usize| {
        all.bounds[body].map_or(0.0, |b| (0..3).map(|k| b.hi[k] - b.lo[k]).product::<f64>())
    };
    let proof = proof(&all.bodies, &all.space, progress)?;
    let walls = proof.walls.iter().filter(|w| w.violates).map(|w| vec![w.body]);
    let pairs = proof.pairs.iter().filter(|p| p.violates).map(|p| p.bodies.to_vec());
    let removal = removal(&all.bodies, progress)?;
    let held = removal.trapped.iter().map(|t| [&[t.body], t.by.as_slice()].concat());
    let mut offenders: Vec<usize> = Vec::new();
    for bodies in walls.chain(pairs).chain(held) {
        if bodies.iter().any(|b| offenders.contains(b)) {
            continue;
        }
        // Locked placements are as they are, valid or not.
        let may_go = bodies.into_iter().filter(|b| may_move[*b]);
        offenders.extend(may_go.min_by(|a, b| box_mm3(*a).total_cmp(&box_mm3(*b)).then(a.cmp(b))));
    }
    Ok(offenders)
}
