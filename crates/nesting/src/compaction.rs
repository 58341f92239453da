//! Lets the parts of an arrangement sink from where they are.
//!
//! The moves are those of [`crate::exact`]; [`crate::judge`] decides whether the result may stay.

use crate::exact::placed_bodies::PlacedBodies;
use crate::exact::slide::SHORTEST_MM;
use crate::exact::touching::{LAST_PATIENCE, sink_touching};
use crate::judge::removal::removal;
use crate::model::{Item, Placed, Space};
use crate::solid::{bodies_of, take_poses};
use base::{Cancelled, Progress};

/// Lets the parts of one build sink from where they are, by exact distances and without rotating
/// them; true if any moved. What is locked stays, and parts that are too near to something do not
/// move. If a part could not be taken out afterwards that could before, everything stays.
///
/// When `progress` is cancelled, what was reached until then counts, if there is time to see that it may:
/// `closing` ends that, too.
///
/// # Errors
/// [`Cancelled`] before anything was done, or by `closing`: everything is as it was.
pub fn compaction(
    items: &[Item],
    build: &mut [Placed],
    space: &Space,
    rounds: u32,
    progress: &Progress,
    closing: &Progress,
) -> Result<bool, Cancelled> {
    progress.check()?;
    let bodies = bodies_of(items, build, closing)?;
    let before = removal(&bodies, closing)?;
    let mut now = build.to_vec();
    let bodies = if space.clearance_mm > SHORTEST_MM {
        let mut all = PlacedBodies::new(bodies, *space);
        all.sink(|i| !build[i].locked, rounds, progress).ok();
        take_poses(&mut now, &all.bodies);
        all.bodies
    } else if space.clearance_mm > 0.0 {
        return Ok(false); // steps shorter than twice the clearance would get nowhere
    } else {
        let (fixed, mut movable): (Vec<Placed>, Vec<Placed>) = now.iter().partition(|p| p.locked);
        sink_touching(items, &fixed, &mut movable, space, LAST_PATIENCE, progress).ok();
        let mut moved = movable.into_iter();
        for p in now.iter_mut().filter(|p| !p.locked) {
            *p = moved.next().unwrap_or(*p);
        }
        bodies_of(items, &now, closing)?
    };
    if now == build || removal(&bodies, closing)?.trapped.len() > before.trapped.len() {
        return Ok(false);
    }
    build.copy_from_slice(&now);
    Ok(true)
}
