//! Marks of centrelines: along the middle of narrow walls or along their rings; once in those too thin for
//! contours.

use super::disc::Disc;
use super::expected::{CentrelineRule, Required, TOLERANCE_NM};
use super::grid::Xy;
use super::narrow::{FEWEST, WIDTH_NM, may_be_cut};
use super::outcome::{Check, Tally};
use super::tracks::{Mark, Tracks};
use super::wall_rules::{line_energy, melting_energy};
use super::walls::{Walls, point};
use base::finding::VectorsProblem;
use base::{NM_PER_MM, Point};
use scan_path::RegionKind;

/// How far a centreline may lie off the true middle: the tolerance of the centrelines, 5 µm, half as
/// much again for bends, nm.
const OFF_MIDDLE_NM: f64 = 7_500.0;

/// Farther off the middle than this is astray whatever the shape, nm: clipped ends and bends leave less.
const FAR_OFF_NM: f64 = 60_000.0;

/// How far to both sides of a mark the middle is looked for, nm.
const ASIDE_NM: f64 = 20_000.0;

/// Shorter marks turn too sharply at junctions for either side to mean much, nm.
const STRAIGHT_NM: f64 = 300_000.0;

/// Shorter marks may bridge two junctions, and then two lines share them, nm.
const BRIDGE_NM: f64 = 150_000.0;

/// Sides of a wall face each other if its middle sees them under more than this, rad.
const FACING_RAD: f64 = 2.9;

#[derive(Default)]
struct Faults {
    outside: Tally,
    astray: Tally,
    repeated: Tally,
    energy: Tally,
}

/// Compares the centrelines of a placement in a layer with what is asked for. Where one is missing is
/// for [`super::thin`] to find.
pub(super) fn check(check: &mut Check, required: &Required, walls: &Walls, tracks: &Tracks) {
    let Some(rule) = &required.centrelines else { return };
    let melt = check.build.melt(check.build.placed[check.row].recipe);
    let energy = |mark: &Mark| line_energy(check.build, mark.exposure);
    let single_half = required.half_single - WIDTH_NM;
    let is_single = |mark: &Mark| {
        let disc = || Disc::touching(walls, mark.at(0.5), single_half);
        mark.region == RegionKind::Core && disc().is_some()
    };
    let mut faults = Faults::default();
    let mut near = Vec::new();
    for mark in &tracks.marks {
        let middle = mark.at(0.5);
        if leaves(walls, mark) {
            faults.outside.add(middle, 0.0);
        } else if is_astray(walls, rule, mark) && !is_ring(required, walls, mark) {
            faults.astray.add(middle, 0.0);
        }
        // Lines along wider walls are run as often as the hatch has passes; there the dose tells.
        let is_core = mark.region == RegionKind::Core && mark.length() > BRIDGE_NM;
        let single = is_core.then(|| Disc::touching(walls, middle, single_half)).flatten();
        if let Some(disc) = single {
            if disc.angle > FACING_RAD
                && !melting_energy(melt, [disc.radius - WIDTH_NM, disc.radius + WIDTH_NM])
                    .contains(&energy(mark))
            {
                faults.energy.add(middle, 0.0);
            }
            tracks.near(middle, OFF_MIDDLE_NM, &mut near);
            if tracks.passages(&near, is_single) > 1 {
                faults.repeated.add(middle, mark.length());
            }
        }
    }
    if faults.energy.count >= FEWEST {
        faults.energy.report(check, |t| VectorsProblem::DoseDiffers { places: t.count });
    }
    faults.outside.report(check, |t| VectorsProblem::MarkOutside { marks: t.count });
    faults.astray.report(check, |t| VectorsProblem::CentrelineAstray { marks: t.count });
    faults
        .repeated
        .report(check, |t| VectorsProblem::CentrelineRepeated { length_mm: t.amount / NM_PER_MM });
}

fn leaves(walls: &Walls, mark: &Mark) -> bool {
    let [a, b]: [Point; 2] = [mark.ends.0, mark.ends.1].map(point);
    walls.boundaries().any(|boundary| {
        boundary.is_outside(a, TOLERANCE_NM)
            || boundary.is_outside(b, TOLERANCE_NM)
            || boundary.crossing(a, b, TOLERANCE_NM).is_some()
    })
}

/// Whether a mark belongs to a ring along a narrow wall, or to where such a ring is cut off.
fn is_ring(required: &Required, walls: &Walls, mark: &Mark) -> bool {
    let Some(rule) = required.walls(mark.region) else { return false };
    let p = mark.at(0.5);
    let deepest = rule.depths.last().copied().unwrap_or(0.0);
    let Some(near) = walls.nearest(p, required.corners.reach(deepest) + 1_000.0) else {
        return false;
    };
    (1..rule.depths.len()).any(|ring| {
        let (depth, half) = (rule.depths[ring], rule.half_from(ring));
        let far = near.corner.map_or(depth, |bend| required.corners.farthest(depth, bend));
        (required.corners.certain(depth) - 30.0..=far + 30.0).contains(&near.distance)
            || may_be_cut(walls, p, half)
    })
}

/// Whether a mark lies deeper than thin walls are, or beside the middle over all its length.
fn is_astray(walls: &Walls, rule: &CentrelineRule, mark: &Mark) -> bool {
    let most = rule.half_narrow;
    let reach = 2.0 * most + ASIDE_NM;
    let depth = |p: Xy| walls.nearest(p, reach).map_or(reach, |near| near.distance);
    let here = depth(mark.at(0.5));
    // towards a cap lines go on beyond where the wall is as wide as that
    let deeper = f64::max(depth(mark.ends.0), depth(mark.ends.1));
    if here > most + OFF_MIDDLE_NM || deeper < rule.min_width / 2.0 - OFF_MIDDLE_NM {
        return true;
    }
    let disc = Disc::touching(walls, mark.at(0.5), most + OFF_MIDDLE_NM);
    if let Some(Disc { centre: [x, y], .. }) = disc.filter(|disc| disc.angle > FACING_RAD)
        && (x - mark.at(0.5)[0]).hypot(y - mark.at(0.5)[1]) > FAR_OFF_NM
    {
        return true;
    }
    let length = mark.length();
    if length < STRAIGHT_NM {
        return false;
    }
    let (a, b) = mark.ends;
    let aside = [-(b[1] - a[1]) / length * ASIDE_NM, (b[0] - a[0]) / length * ASIDE_NM];
    [1.0, -1.0].into_iter().any(|side| {
        [0.25, 0.5, 0.75].into_iter().all(|t| {
            let p = mark.at(t);
            let q = [p[0] + side * aside[0], p[1] + side * aside[1]];
            depth(q) > depth(p) + OFF_MIDDLE_NM
        })
    })
}
