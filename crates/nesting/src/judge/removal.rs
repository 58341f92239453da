//! Whether every part can be lifted out of the part cake, one after the other, each straight along
//! one of 26 directions.
//!
//! The sweeps are exact ([`mesh::distance::is_in_the_way`]): no voxels. What they do not find are
//! ways out with a bend or a rotation in them: a part that has only such a way is reported as held.
//! What one file holds is one body, so links of a chain within it never count.

use crate::exact::distance::TOLERANCE_MM;
use crate::solid::{Body, Bounds, near_pairs};
use base::vec3::Vec3;
use base::{Cancelled, Progress};
use mesh::distance::is_in_the_way;
use rayon::prelude::*;

/// Why parts cannot be taken apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hold {
    /// One lies within the other and sees nothing but its walls.
    Enclosed,
    /// The two cannot be drawn apart along any of the 26 directions.
    Hooked,
    /// One passes through the other: they can be drawn apart, but only forth and back along one line.
    Threaded,
    /// Others are in the way along every direction, and cannot be taken out before it.
    Held,
}

/// A part that cannot be lifted out, and what holds it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trapped {
    /// Index of the body.
    pub body: usize,
    /// Indices of the bodies that hold it, in order.
    pub by: Vec<usize>,
    /// Why.
    pub hold: Hold,
}

/// How an arrangement comes apart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Removal {
    /// Index of a body and the direction in which it can be lifted out once those before it have been.
    /// Bodies that are hooked to each other are listed one after the other.
    pub order: Vec<(usize, [f64; 3])>,
    /// What is not in order.
    pub trapped: Vec<Trapped>,
}

impl Removal {
    /// Whether no part holds another.
    pub fn is_free(&self) -> bool {
        self.trapped.is_empty()
    }
}

/// Up first, then the others along axes, then along the diagonals of faces and of the cube. Opposite
/// directions follow each other.
fn directions() -> Vec<Vec3> {
    let mut all = Vec::with_capacity(26);
    for ones in 1..=3 {
        for z in [1, 0, -1] {
            for y in [1, 0, -1] {
                for x in [1, 0, -1] {
                    let d = [x, y, z];
                    let first = d.iter().rev().find(|c| **c != 0);
                    if d.iter().filter(|c| **c != 0).count() == ones && first == Some(&1) {
                        all.extend([d.map(f64::from), d.map(|c| f64::from(-c))]);
                    }
                }
            }
        }
    }
    all
}

/// Finds an order in which all bodies can be lifted out, and what prevents it. Bodies are identified by
/// their index in the list; they must not overlap. In parallel; the result does not depend on the
/// number of threads.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn removal(bodies: &[Body], progress: &Progress) -> Result<Removal, Cancelled> {
    let directions = directions();
    let bounds: Vec<Option<Bounds>> = bodies.par_iter().map(Bounds::of_body).collect();
    let mut trapped = trapped_pairs(bodies, &bounds, &directions, progress)?;
    let mut unit_of: Vec<usize> = (0..bodies.len()).collect();
    for t in trapped.iter().filter(|t| t.hold != Hold::Threaded) {
        let (keep, drop) = (unit_of[t.body], unit_of[t.by[0]]);
        for unit in &mut unit_of {
            if *unit == drop {
                *unit = keep;
            }
        }
    }
    let (mut order, gone) = (Vec::new(), vec![false; bodies.len()]);
    let mut disassembly =
        Disassembly { bodies, bounds: &bounds, directions: &directions, progress, gone };
    trapped.extend(disassembly.take_out_all(&unit_of, &mut order)?);
    trapped.sort_by(|a, b| (a.body, &a.by).cmp(&(b.body, &b.by)));
    Ok(Removal { order, trapped })
}

/// Pairs that do not come apart, or only along one line.
fn trapped_pairs(
    bodies: &[Body],
    bounds: &[Option<Bounds>],
    directions: &[Vec3],
    progress: &Progress,
) -> Result<Vec<Trapped>, Cancelled> {
    // Parts whose boxes do not meet come apart across the gap, along an axis, either of them.
    let pairs = near_pairs(bounds, 0.0);
    progress.add_total(pairs.len() as u64);
    let found = pairs
        .par_iter()
        .map(|&(i, j)| {
            let hold = pair_hold(&bodies[i], &bodies[j], directions, progress)?;
            progress.advance(1)?;
            Ok(hold.map(|(hold, swap)| {
                let (body, by) = if swap { (j, i) } else { (i, j) };
                Trapped { body, by: vec![by], hold }
            }))
        })
        .collect::<Result<Vec<_>, Cancelled>>()?;
    Ok(found.into_iter().flatten().collect())
}

/// How two parts hold each other, if they do, and whether it is the second that is enclosed.
fn pair_hold(
    a: &Body,
    b: &Body,
    directions: &[Vec3],
    progress: &Progress,
) -> Result<Option<(Hold, bool)>, Cancelled> {
    let mut line = None;
    for (n, d) in directions.iter().enumerate() {
        if blocks(b, a, *d, progress)? {
            continue;
        }
        match line {
            None => line = Some(n / 2),
            Some(other) if other != n / 2 => return Ok(None),
            Some(_) => {}
        }
    }
    let Some(line) = line else {
        let enclosed = |inner: &Body, outer: &Body| {
            let outer = outer.posed();
            inner
                .solid
                .points_within(&inner.pose, TOLERANCE_MM)
                .flatten()
                .all(|p| directions.iter().all(|d| outer.first_hit(p, *d).is_some()))
        };
        return Ok(Some(if enclosed(a, b) {
            (Hold::Enclosed, false)
        } else if enclosed(b, a) {
            (Hold::Enclosed, true)
        } else {
            (Hold::Hooked, false)
        }));
    };
    // One way only: a part in a pit. Both ways: one part goes through the other.
    let through = !blocks(b, a, directions[2 * line], progress)?
        && !blocks(b, a, directions[2 * line + 1], progress)?;
    Ok(through.then_some((Hold::Threaded, false)))
}

/// Whether `other` is in the way of `body`.
fn blocks(other: &Body, body: &Body, d: Vec3, progress: &Progress) -> Result<bool, Cancelled> {
    is_in_the_way(&body.posed(), &other.posed(), d, TOLERANCE_MM, progress)
}

/// Takes bodies out, one unit after the other.
struct Disassembly<'a> {
    bodies: &'a [Body],
    bounds: &'a [Option<Bounds>],
    directions: &'a [Vec3],
    progress: &'a Progress,
    /// Per body whether it has been taken out.
    gone: Vec<bool>,
}

/// Bodies that are taken out together, since they do not come apart.
struct Unit {
    members: Vec<usize>,
    /// Per direction: how many (member, other) pairs are known not to block. The next one blocks as long
    /// as that other is there. What has been taken out never comes back, so no pair is tested twice.
    free: Vec<usize>,
    top: f64,
}

impl Disassembly<'_> {
    /// Fills `order`; returns what could not be taken out.
    fn take_out_all(
        &mut self,
        unit_of: &[usize],
        order: &mut Vec<(usize, Vec3)>,
    ) -> Result<Vec<Trapped>, Cancelled> {
        let n = self.bodies.len();
        let mut members_of: Vec<Vec<usize>> = vec![Vec::new(); n];
        unit_of.iter().enumerate().for_each(|(body, unit)| members_of[*unit].push(body));
        let mut units: Vec<Unit> = (0..n)
            .map(|unit| {
                let members = std::mem::take(&mut members_of[unit]);
                let tops = members.iter().filter_map(|&m| Some(self.bounds[m].as_ref()?.hi[2]));
                let top = tops.fold(f64::NEG_INFINITY, f64::max);
                Unit { members, free: vec![0; self.directions.len()], top }
            })
            .filter(|unit| !unit.members.is_empty())
            .collect();
        units.sort_by(|a, b| b.top.total_cmp(&a.top).then(a.members.cmp(&b.members)));
        self.progress.add_total(units.len() as u64);
        loop {
            let mut remaining = Vec::new();
            let before = order.len();
            // Straight up as long as anything goes that way, then in whichever direction.
            for up_only in [true, false] {
                if order.len() > before {
                    break;
                }
                units.append(&mut remaining);
                for mut unit in std::mem::take(&mut units) {
                    let tried = if up_only { 1 } else { self.directions.len() };
                    let mut out = None;
                    for direction in 0..tried {
                        if self.is_free(&mut unit, direction)? {
                            out = Some(self.directions[direction]);
                            break;
                        }
                    }
                    if let Some(d) = out {
                        for &m in &unit.members {
                            self.gone[m] = true;
                            order.push((m, d));
                        }
                        self.progress.advance(1)?;
                    } else {
                        remaining.push(unit);
                    }
                }
            }
            units = remaining;
            if units.is_empty() || order.len() == before {
                break;
            }
        }
        Ok(units.iter().map(|unit| self.held(unit)).collect())
    }

    fn is_free(&self, unit: &mut Unit, direction: usize) -> Result<bool, Cancelled> {
        let n = self.bodies.len();
        while unit.free[direction] < unit.members.len() * n {
            let (m, other) = (unit.members[unit.free[direction] / n], unit.free[direction] % n);
            let d = self.directions[direction];
            let counts = !self.gone[other]
                && !unit.members.contains(&other)
                && self.may_be_ahead(other, m, d);
            if counts && blocks(&self.bodies[other], &self.bodies[m], d, self.progress)? {
                return Ok(false);
            }
            unit.free[direction] += 1;
        }
        Ok(true)
    }

    /// Whether the box of a body moving this way, ever so far, would meet that of another: most are not even
    /// near its way, and their triangles need not be asked.
    fn may_be_ahead(&self, other: usize, body: usize, d: Vec3) -> bool {
        let (Some(a), Some(b)) = (&self.bounds[body], &self.bounds[other]) else { return false };
        let (mut from, mut to) = (0.0_f64, f64::INFINITY);
        for (k, along) in d.into_iter().enumerate() {
            let (first, last) =
                (b.lo[k] - TOLERANCE_MM - a.hi[k], b.hi[k] + TOLERANCE_MM - a.lo[k]);
            if along == 0.0 {
                if first > 0.0 || last < 0.0 {
                    return false;
                }
                continue;
            }
            let (near, far) = if along > 0.0 {
                (first / along, last / along)
            } else {
                (last / along, first / along)
            };
            (from, to) = (from.max(near), to.min(far));
        }
        from <= to
    }

    /// What holds a unit that cannot be taken out: for each direction the first body in the way.
    fn held(&self, unit: &Unit) -> Trapped {
        let n = self.bodies.len();
        let mut by: Vec<usize> = unit.free.iter().map(|f| f % n).collect();
        by.sort_unstable();
        by.dedup();
        Trapped { body: unit.members[0], by, hold: Hold::Held }
    }
}
