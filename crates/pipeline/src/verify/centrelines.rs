//! Centrelines: in walls too thin for contours, along their middle, once.

use super::expected::{CentrelineRule, Required, TOLERANCE_NM};
use super::grid::Xy;
use super::hatch::Tally;
use super::outcome::{Check, Marks};
use super::tracks::{Mark, Tracks};
use super::walls::{Walls, point};
use base::finding::VectorsProblem;
use base::{NM_PER_MM, Point};
use scan_path::ExposureKind;

/// How far a centreline may lie off the true middle: the tolerance of the centrelines, 5 µm, half as
/// much again for bends, nm.
const OFF_MIDDLE_NM: f64 = 7_500.0;

/// How far to both sides of a mark the middle is looked for, nm.
const ASIDE_NM: f64 = 20_000.0;

/// Shorter marks turn too sharply at junctions for either side to mean much, nm.
const STRAIGHT_NM: f64 = 300_000.0;

/// Shorter marks may bridge two junctions, and then two lines share them, nm.
const BRIDGE_NM: f64 = 150_000.0;

#[derive(Default)]
struct Faults {
    outside: Tally,
    astray: Tally,
    repeated: Tally,
}

/// Compares the centrelines of a placement in a layer with what is asked for. Where one is missing is
/// for [`super::thin`] to find.
pub(super) fn check(
    check: &mut Check,
    required: &Required,
    walls: &Walls,
    marks: &Marks,
    cell: f64,
) {
    let Some(rule) = &required.centrelines else { return };
    let tracks = Tracks::new(marks, ExposureKind::Centreline, cell);
    let mut faults = Faults::default();
    let mut near = Vec::new();
    for mark in tracks.marks.iter().filter(|mark| mark.exposure == rule.exposure) {
        let middle = mark.at(0.5);
        if leaves(walls, mark) {
            faults.outside.add(middle, 0.0);
        } else if is_astray(walls, rule, required.offset, mark) {
            faults.astray.add(middle, 0.0);
        }
        if mark.length() > BRIDGE_NM {
            tracks.near(middle, OFF_MIDDLE_NM, &mut near);
            if tracks.passages(&near, |_| true) > 1 {
                faults.repeated.add(middle, mark.length());
            }
        }
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

/// Whether a mark lies deeper than thin walls are, or beside the middle over all its length.
fn is_astray(walls: &Walls, rule: &CentrelineRule, offset: f64, mark: &Mark) -> bool {
    let reach = 2.0 * offset + ASIDE_NM;
    let depth = |p: Xy| walls.nearest(p, reach).map_or(reach, |near| near.distance);
    let here = depth(mark.at(0.5));
    if here > offset + OFF_MIDDLE_NM || here < rule.min_width / 2.0 - OFF_MIDDLE_NM {
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
