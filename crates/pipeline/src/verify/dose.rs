//! Dose in narrow walls: at points of straight walls it has to be, to 20 %, what lines of the asked energy
//! leave across a wall of the widths that there are nearby; elsewhere no more than 3 times the hatch's.

use super::expected::Required;
use super::facing::Facing;
use super::grid::{Xy, length};
use super::narrow::{FACING_RAD, FEWEST, WIDTH_NM, is_surely_narrow};
use super::outcome::{Check, Marks, Tally};
use super::wall_rules::WallRule;
use super::walls::Walls;
use crate::strokes::strokes;
use base::NM_PER_MM;
use base::finding::VectorsProblem;
use estimate::{Beam, DoseField};
use scan_path::RegionKind;
use std::f64::consts::FRAC_1_SQRT_2;

/// Energies come in steps of a tenth, half a step either way; ends, bends and neighbours are worth the rest.
const OFF: f64 = 0.2;

/// As far along the wall as a beam reaches its width may not change by more than [`WIDENS_NM`], nm.
const ALONG_NM: f64 = 500_000.0;
const WIDENS_NM: f64 = 40_000.0;

/// Ways along which other kinds of region are looked for, there and back.
const WAYS: [Xy; 4] =
    [[1.0, 0.0], [0.0, 1.0], [FRAC_1_SQRT_2, FRAC_1_SQRT_2], [FRAC_1_SQRT_2, -FRAC_1_SQRT_2]];

/// Nowhere is more than this, as a multiple of the mean dose of the hatch that brings most.
const MOST: f64 = 3.0;

/// A point in a narrow wall, and the kind of region it lies in.
pub(super) type Place = (Xy, RegionKind);

/// Compares the dose at places in narrow walls.
pub(super) fn check(
    check: &mut Check,
    required: &Required,
    walls: &Walls,
    facing: &Facing,
    marks: &Marks,
    places: &[Place],
) {
    if places.is_empty() {
        return;
    }
    let recipe = check.build.placed[check.row].recipe;
    let beam = check.build.melt(recipe).beam;
    let strokes = strokes(marks.blocks.iter().copied(), &check.build.header.exposures);
    let Ok(field) = DoseField::new(&strokes, beam) else {
        return; // numbers that are none were found in the tables
    };
    let rules = required.kinds.iter().filter_map(|kind| kind.walls.as_ref());
    let most = MOST * rules.map(WallRule::mean_j_mm2).fold(0.0, f64::max);
    let mut off = Tally::default();
    for (p, region) in places {
        let Some(rule) = required.walls(*region) else { continue };
        let found = field.at(p.map(|c| c / NM_PER_MM));
        check.outcome.points_tested += 1;
        let is_one_kind = |along: &Xy| {
            [-1.0, -0.75, -0.5, -0.25, 0.25, 0.5, 0.75, 1.0].iter().all(|t| {
                let there = [0, 1].map(|k| p[k] + t * ALONG_NM * along[k]);
                facing.kind(there).is_none_or(|kind| kind == *region)
            })
        };
        let straight = wall_at(walls, rule, *p).filter(|_| WAYS.iter().all(is_one_kind));
        let is_off = match straight {
            Some(wall) => {
                let by = (wall.halves[1] - wall.halves[0] + 2.0 * WIDTH_NM) / 8.0;
                let from = wall.halves[0] - WIDTH_NM;
                let doses =
                    (0..=8).map(|i| rule.dose(beam, from + f64::from(i) * by, wall.from_middle));
                let (low, high) = doses
                    .fold((f64::MAX, 0.0), |(l, h), dose| (f64::min(l, dose), f64::max(h, dose)));
                !(low * (1.0 - OFF)..=high * (1.0 + OFF)).contains(&found)
            }
            None => found > most,
        };
        if is_off {
            off.add(*p, 0.0);
        }
    }
    if off.count < FEWEST {
        return;
    }
    off.report(check, |t| VectorsProblem::DoseDiffers { places: t.count });
}

/// A wall at a place.
struct Wall {
    /// Least and most half width nearby, nm.
    halves: [f64; 2],
    /// How far the place lies from the middle, nm.
    from_middle: f64,
}

/// The wall at a place; `None` where it widens too soon, or ends nearby.
fn wall_at(walls: &Walls, rule: &WallRule, p: Xy) -> Option<Wall> {
    let most = rule.half_narrow() + 50_000.0;
    let disc = |p: Xy| walls.touching_disc(p, most).filter(|(.., angle)| *angle > FACING_RAD);
    let (middle, half, _) = disc(p)?;
    let across = [p[0] - middle[0], p[1] - middle[1]];
    let from_middle = length(across);
    if from_middle < 1_000.0 {
        return None; // no direction
    }
    let along = [-across[1] / from_middle, across[0] / from_middle];
    // at mouths of walls rings reach further in than the width tells
    let absent = (0..rule.depths.len()).map(|ring| rule.half_from(ring)).find(|from| half < *from);
    let absent = absent.unwrap_or_else(|| rule.half_narrow());
    for by in [-ALONG_NM, 0.0, ALONG_NM] {
        let there = [middle[0] + by * along[0], middle[1] + by * along[1]];
        if !is_surely_narrow(walls, there, absent) {
            return None;
        }
    }
    let mut halves = [half; 2];
    for by in [-ALONG_NM, -0.5 * ALONG_NM, 0.5 * ALONG_NM, ALONG_NM] {
        let there = disc([p[0] + by * along[0], p[1] + by * along[1]])?.1;
        if (there - half).abs() > WIDENS_NM {
            return None;
        }
        halves = [halves[0].min(there), halves[1].max(there)];
    }
    Some(Wall { halves, from_middle })
}

impl WallRule {
    /// Mean dose of the hatch, J/mm².
    fn mean_j_mm2(&self) -> f64 {
        self.hatch_j_mm / (self.spacing / NM_PER_MM)
    }

    /// Dose across a long wall of a half width, at a distance from its middle.
    fn dose(&self, beam: Beam, half: f64, from_middle: f64) -> f64 {
        let lines = self.lines(half).into_iter();
        lines.map(|(at, energy)| beam.dose_of_line(energy, (from_middle - at) / NM_PER_MM)).sum()
    }
}
