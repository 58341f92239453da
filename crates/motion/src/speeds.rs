//! How fast the beam is at each point of a path.

use crate::corner;
use crate::head::{Corners, Head};
use base::{NM_PER_MM, Point};

/// A mark of some length.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Straight {
    /// Its number in the path.
    pub(crate) mark: usize,
    pub(crate) length_mm: f64,
    pub(crate) direction: [f64; 2],
    pub(crate) acceleration: f64,
    /// How much of it is free of the arcs in its corners, so that the speed can change there, mm.
    pub(crate) free_mm: f64,
    /// Highest speed on it, mm/s.
    pub(crate) most_mm_s: f64,
    /// Speeds at its start and end, mm/s.
    pub(crate) speeds: [f64; 2],
    /// Whether the corner at its end cannot be taken at full speed.
    pub(crate) is_sharp: bool,
    /// Whether the beam goes dark there and comes back, so that the next mark starts anew.
    pub(crate) is_parted: bool,
}

/// What a path asks for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Asked {
    pub(crate) speed_mm_s: f64,
    pub(crate) run_in_mm: f64,
    pub(crate) run_out_mm: f64,
}

/// The marks of a path that have a length, with their speeds, into `found`.
///
/// Ends first: what run-in and run-out allow; then corners; then no mark may ask for more than its acceleration
/// gives, from the front and from the back.
pub(crate) fn along(head: &Head, points: &[Point], asked: Asked, found: &mut Vec<Straight>) {
    found.clear();
    for (mark, ends) in points.windows(2).enumerate() {
        let [dx, dy] = [0, 1].map(|i| (ends[1].to_mm()[i]) - ends[0].to_mm()[i]);
        let length_mm = ends[0].distance(ends[1]) / NM_PER_MM;
        if length_mm > 0.0 {
            let direction = [dx / length_mm, dy / length_mm];
            let acceleration = head.acceleration_along(direction);
            found.push(Straight {
                mark,
                length_mm,
                free_mm: length_mm,
                most_mm_s: asked.speed_mm_s,
                direction,
                acceleration,
                speeds: [asked.speed_mm_s; 2],
                is_sharp: false,
                is_parted: false,
            });
        }
    }
    let full = asked.speed_mm_s;
    for next in 1..found.len() {
        let (a, b) = (found[next - 1], found[next]);
        let directions = [a.direction, b.direction];
        let arc = corner::arc(head, directions, [a.length_mm, b.length_mm]);
        if arc.speed_mm_s < full {
            found[next - 1].is_sharp = true;
            found[next - 1].is_parted = head.corners == Corners::RunPast;
            let (speed, reach_mm) = match head.corners {
                Corners::SlowDown => (arc.speed_mm_s, arc.reach_mm),
                Corners::Dwell { .. } => (0.0, 0.0),
                Corners::RunPast => (full, 0.0),
            };
            found[next - 1].free_mm = (a.free_mm - reach_mm).max(0.0);
            found[next].free_mm = b.free_mm - reach_mm;
            (found[next - 1].speeds[1], found[next].speeds[0]) = (speed, speed);
        }
    }
    for s in &mut *found {
        // between two corners: no faster than it could get, and slow down from, on what is free of arcs
        let squares = s.speeds[0] * s.speeds[0] + s.speeds[1] * s.speeds[1];
        let peak = f64::midpoint(2.0 * s.acceleration * s.free_mm, squares).sqrt();
        s.most_mm_s = full.min(peak.max(s.speeds[0]).max(s.speeds[1]));
    }
    let reached = |run_mm: f64, acceleration: f64| (2.0 * acceleration * run_mm).sqrt().min(full);
    if let Some(first) = found.first_mut() {
        first.speeds[0] = reached(asked.run_in_mm, first.acceleration);
    }
    if let Some(last) = found.last_mut() {
        last.speeds[1] = reached(asked.run_out_mm, last.acceleration);
    }
    keep_within_reach(found);
}

/// Lowers speeds until each is within reach of its neighbours.
fn keep_within_reach(found: &mut [Straight]) {
    let reach =
        |s: &Straight, speed: f64| (speed * speed + 2.0 * s.acceleration * s.length_mm).sqrt();
    for i in 0..found.len() {
        if i > 0 && !found[i - 1].is_parted {
            found[i].speeds[0] = found[i].speeds[0].min(found[i - 1].speeds[1]);
        }
        found[i].speeds[1] = found[i].speeds[1].min(reach(&found[i], found[i].speeds[0]));
    }
    for i in (0..found.len()).rev() {
        if let Some(next) = found.get(i + 1).map(|next| next.speeds[0])
            && !found[i].is_parted
        {
            found[i].speeds[1] = found[i].speeds[1].min(next);
        }
        found[i].speeds[0] = found[i].speeds[0].min(reach(&found[i], found[i].speeds[1]));
    }
}
