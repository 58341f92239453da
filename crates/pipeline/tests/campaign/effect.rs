//! What a mutation does to the part, measured on the marks alone: dose, melted outline, contours.

use super::cases::Case;
use super::planted::Planted;
use base::{NM_PER_MM, Point};
use scan_path::{Block, ExposureKind, Header, Layer};
use std::collections::BTreeMap;

#[path = "outline.rs"]
mod outline;

/// Radius of the beam to 1/e², mm (facts.md, reference parameter set of C).
const BEAM_MM: f64 = 0.25;
/// Distance of the points at which dose is summed, mm.
const GRID_MM: f64 = 0.05;

/// A change of dose counts over more than this, mm²: a quarter of the beam's own area.
const DOSE_MM2: f64 = 0.05;

/// How much a file differs from what it should be.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Effect {
    /// Where the dose differs by more than a tenth of the hatch's mean, mm² over all layers.
    pub(crate) dose_mm2: f64,
    /// How far the melted outline moves at most, µm, doubled from 10 on.
    pub(crate) outline_um: f64,
    /// How far a contour lies from where it should at most, µm.
    pub(crate) contour_um: f64,
    /// Whether a table says something else.
    pub(crate) table: bool,
    /// Whether things happen in another order than the recipe asks for.
    pub(crate) order: bool,
    /// Where the dose changes most: layer, mm, mm, and by how much of the hatch's mean.
    pub(crate) most: (u32, [f64; 2], f64),
}

impl Effect {
    /// Whether a part, or what is said of it, is noticeably another one.
    pub(crate) fn is_harmful(&self) -> bool {
        let dose = self.dose_mm2 > DOSE_MM2;
        dose || self.outline_um > outline::STILL_UM
            || self.contour_um > 10.0
            || self.table
            || self.order
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
        let most = dose(&mut effect, case, &bag(before, &case.header), &bag(now, &file.header));
        if most.1.abs() > effect.most.2.abs() {
            effect.most = (before.index, most.0, most.1);
        }
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

/// Sums the difference in dose around all marks that differ. Returns where it is largest, mm, as a share of the hatch's
/// mean.
fn dose(
    effect: &mut Effect,
    case: &Case,
    before: &BTreeMap<Mark, i32>,
    now: &BTreeMap<Mark, i32>,
) -> ([f64; 2], f64) {
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
    if effect.outline_um <= outline::STILL_UM {
        let moved = outline::moved_um(before, now, &added, case.build.melt(0).threshold_j_mm2);
        effect.outline_um = effect.outline_um.max(moved);
    }
    let most = added.iter().max_by(|(_, a), (_, b)| a.abs().total_cmp(&b.abs()));
    most.map_or(([0.0; 2], 0.0), |([i, j], change)| {
        ([*i, *j].map(|at| at as f64 * GRID_MM), change / tenth / 10.0)
    })
}

/// The least power per speed and spacing of the hatches of the case, J/mm².
fn hatch_mean(case: &Case) -> f64 {
    let recipe = &case.build.loaded.recipes[0].recipe;
    recipe.area_energy_j_mm2(&recipe.core).unwrap_or(0.03)
}

/// The dose of one mark at the grid points near it, J/mm².
fn around(mark: &Mark, mut add: impl FnMut([i64; 2], f64)) {
    let [ax, ay, bx, by] = mark.0.map(|x| f64::from(x) / NM_PER_MM);
    let reach = 2.5 * BEAM_MM;
    #[expect(clippy::cast_possible_truncation, reason = "a few mm")]
    let cells = |a: f64, b: f64| {
        let first = ((a.min(b) - reach) / GRID_MM).ceil() as i64;
        first..=((a.max(b) + reach) / GRID_MM).floor() as i64
    };
    for j in cells(ay, by) {
        for i in cells(ax, bx) {
            let dose = outline::of_mark(mark, [i, j].map(|c| c as f64 * GRID_MM));
            if dose > 0.0 {
                add([i, j], dose);
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
