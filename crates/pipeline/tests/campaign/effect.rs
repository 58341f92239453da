//! What a mutation does to the part, measured on the marks alone: dose, melted outline, contours.

use super::cases::Case;
use super::planted::Planted;
use base::{NM_PER_MM, Point};
use scan_path::{Block, ExposureKind, Header, Layer};
use std::collections::BTreeMap;

/// Radius of the beam to 1/e², mm (facts.md, reference parameter set of C).
const BEAM_MM: f64 = 0.25;
/// What melts one layer, J/mm² (facts.md C8).
const MELTS: f64 = 0.006_476_625;
/// Distance of the points at which dose is summed, mm.
const GRID_MM: f64 = 0.05;

/// A change of dose counts over more than this, mm²: a quarter of the beam's own area.
const DOSE_MM2: f64 = 0.05;

/// How much a file differs from what it should be.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Effect {
    /// Where the dose differs by more than a tenth of the hatch's mean, mm² over all layers.
    pub(crate) dose_mm2: f64,
    /// How far the melted outline moves at most, µm.
    pub(crate) outline_um: f64,
    /// How far a contour lies from where it should at most, µm.
    pub(crate) contour_um: f64,
    /// Whether a table says something else.
    pub(crate) table: bool,
    /// Whether things happen in another order than the recipe asks for.
    pub(crate) order: bool,
}

impl Effect {
    /// Whether a part, or what is said of it, is noticeably another one.
    pub(crate) fn is_harmful(&self) -> bool {
        let dose = self.dose_mm2 > DOSE_MM2;
        dose || self.outline_um > 10.0 || self.contour_um > 10.0 || self.table || self.order
    }
}

/// A straight mark with its exposure: ends in nm, power and speed in bits.
type Mark = ([i32; 4], u64, u64);

/// Measures a mutated file; `table` and `order` are for others to say.
pub(crate) fn effect(file: &Planted) -> Effect {
    let mut effect = Effect::default();
    let case = file.case;
    for (now, before) in file.layers.iter().zip(&case.layers) {
        if now == before && file.header.exposures == case.header.exposures {
            continue;
        }
        dose(&mut effect, case, &bag(before, &case.header), &bag(now, &file.header));
        let moved = contours_moved(before, now);
        effect.contour_um = effect.contour_um.max(moved);
    }
    effect
}

/// All marks of a layer and how often each is run, whichever way.
fn bag(layer: &Layer, header: &Header) -> BTreeMap<Mark, i32> {
    let mut bag = BTreeMap::new();
    for block in &layer.blocks {
        let row = &header.exposures[usize::from(block.exposure)];
        for [a, b] in marks(block) {
            let (a, b) = if (a.x, a.y) < (b.x, b.y) { (a, b) } else { (b, a) };
            let mark = ([a.x, a.y, b.x, b.y], row.power_w.to_bits(), row.speed_mm_s.to_bits());
            *bag.entry(mark).or_default() += 1;
        }
    }
    bag
}

fn marks(block: &Block) -> impl Iterator<Item = [Point; 2]> + '_ {
    block.paths.iter().flat_map(|path| path.windows(2).map(|mark| [mark[0], mark[1]]))
}

/// Sums the difference in dose around all marks that differ.
fn dose(effect: &mut Effect, case: &Case, before: &BTreeMap<Mark, i32>, now: &BTreeMap<Mark, i32>) {
    let mut change: BTreeMap<Mark, i32> = now.clone();
    for (mark, count) in before {
        *change.entry(*mark).or_default() -= count;
    }
    change.retain(|_, count| *count != 0);
    let mut added: BTreeMap<[i64; 2], f64> = BTreeMap::new();
    for (mark, count) in &change {
        around(mark, |at, dose| *added.entry(at).or_default() += dose * f64::from(*count));
    }
    let tenth = hatch_mean(case) / 10.0;
    effect.dose_mm2 +=
        added.values().filter(|d| d.abs() > tenth).count() as f64 * GRID_MM * GRID_MM;
    let mut total: BTreeMap<[i64; 2], f64> = BTreeMap::new();
    for (mark, count) in before {
        around(mark, |at, dose| *total.entry(at).or_default() += dose * f64::from(*count));
    }
    for (&[i, j], change) in added.iter().filter(|(_, d)| d.abs() > tenth / 50.0) {
        let at = |i, j| total.get(&[i, j]).copied().unwrap_or(0.0);
        let slope = [at(i + 1, j) - at(i - 1, j), at(i, j + 1) - at(i, j - 1)];
        let slope = slope[0].hypot(slope[1]) / (2.0 * GRID_MM);
        // Where the outline passes by this point, it moves by the change over the slope.
        if (at(i, j) - MELTS).abs() < slope * GRID_MM / 2.0 {
            effect.outline_um = effect.outline_um.max(change.abs() / slope * 1000.0);
        }
    }
}

/// The least power per speed and spacing of the hatches of the case, J/mm².
fn hatch_mean(case: &Case) -> f64 {
    let recipe = &case.build.loaded.recipes[0].recipe;
    recipe.area_energy_j_mm2(&recipe.core).unwrap_or(0.03)
}

/// The dose of one mark at the grid points near it, J/mm² (facts.md C9).
fn around(&([ax, ay, bx, by], power, speed): &Mark, mut add: impl FnMut([i64; 2], f64)) {
    let [ax, ay, bx, by] = [ax, ay, bx, by].map(|x| f64::from(x) / NM_PER_MM);
    let length = (bx - ax).hypot(by - ay);
    if length <= 0.0 {
        return; // a controller skips it
    }
    let per_length = f64::from_bits(power) / f64::from_bits(speed);
    let peak = (2.0 / std::f64::consts::PI).sqrt() * per_length / BEAM_MM;
    let (cos, sin) = ((bx - ax) / length, (by - ay) / length);
    let reach = 2.5 * BEAM_MM;
    #[expect(clippy::cast_possible_truncation, reason = "a few mm")]
    let cells = |a: f64, b: f64| {
        let first = ((a.min(b) - reach) / GRID_MM).ceil() as i64;
        first..=((a.max(b) + reach) / GRID_MM).floor() as i64
    };
    for j in cells(ay, by) {
        for i in cells(ax, bx) {
            let (x, y) = (i as f64 * GRID_MM - ax, j as f64 * GRID_MM - ay);
            let (u, v) = (cos * x + sin * y, cos * y - sin * x);
            if v.abs() < reach && u > -reach && u < length + reach {
                let w = BEAM_MM;
                let ends = erf(2_f64.sqrt() * u / w) - erf(2_f64.sqrt() * (u - length) / w);
                add([i, j], peak * (-2.0 * v * v / (w * w)).exp() * 0.5 * ends);
            }
        }
    }
}

/// The error function within 1.5e-7 (Abramowitz and Stegun 1964, 7.1.26).
fn erf(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.327_591_1 * x.abs());
    let terms = [0.254_829_592, -0.284_496_736, 1.421_413_741, -1.453_152_027, 1.061_405_429];
    let sum = terms.iter().rev().fold(0.0, |sum, term| (sum + term) * t);
    (1.0 - sum * (-x * x).exp()).copysign(x)
}

/// How far a mark of a contour lies from all contours as they should be, µm.
fn contours_moved(before: &Layer, now: &Layer) -> f64 {
    let of = |layer: &Layer| -> Vec<[Point; 2]> {
        let contours = layer.blocks.iter().filter(|b| b.kind == ExposureKind::Contour);
        contours.flat_map(marks).collect()
    };
    let (before, now) = (of(before), of(now));
    let nearest = |p: Point| {
        before.iter().map(|mark| distance(p, *mark)).fold(f64::INFINITY, f64::min) / 1000.0
    };
    let known: std::collections::BTreeSet<[i32; 4]> =
        before.iter().map(|[a, b]| [a.x, a.y, b.x, b.y]).collect();
    let new = now.iter().filter(|[a, b]| !known.contains(&[a.x, a.y, b.x, b.y]));
    let moved = new.flatten().map(|p| nearest(*p)).fold(0.0, f64::max);
    if before.is_empty() { 0.0 } else { moved }
}

fn distance(p: Point, [a, b]: [Point; 2]) -> f64 {
    let (dx, dy) = (f64::from(b.x) - f64::from(a.x), f64::from(b.y) - f64::from(a.y));
    let (px, py) = (f64::from(p.x) - f64::from(a.x), f64::from(p.y) - f64::from(a.y));
    let square = dx * dx + dy * dy;
    let t = if square > 0.0 { ((px * dx + py * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
    (px - t * dx).hypot(py - t * dy)
}
