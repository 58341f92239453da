//! What walls too narrow for hatch are to have, by their width; worked out from the recipe anew.
//!
//! A wall in which fewer than five hatch spacings fit between the innermost contours has lines along it:
//! contours, rings one spacing apart as far as half a spacing is left between them, and a line along
//! the middle for the energy that is then missing. Walls too narrow for two contours have one
//! centreline that melts their width.

use crate::build::Build;
use job::Recipe;
use job::recipe::ThinWalls;
use scan_strategy::Melt;
use std::ops::RangeInclusive;

const NM: f64 = base::NM_PER_MM;

/// Lines along the narrow walls of one kind of region. Lengths in nm.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct WallRule {
    /// Depths of the contours, then of further rings.
    pub(super) depths: Vec<f64>,
    contours: usize,
    pub(super) spacing: f64,
    half_single: f64,
    /// Energy per length of contours and of all passes of the hatch, if all lay as the first, J/mm.
    contour_j_mm: f64,
    pub(super) hatch_j_mm: f64,
    /// Of each pass of the hatch, J/mm, if its lines lay as far apart as those of the first.
    pub(super) passes_j_mm: Vec<f64>,
}

impl WallRule {
    /// From the depths of contours and the energy of all their passes, and likewise the spacing of the hatch;
    /// energies in J/mm. `None` without contours, and where the recipe exposes no thin walls.
    pub(super) fn new(
        recipe: &Recipe,
        (contours, contour_j_mm): (&[f64], f64),
        (spacing, passes_j_mm): (f64, Vec<f64>),
        half_single: f64,
    ) -> Option<Self> {
        if matches!(recipe.thin_walls, ThinWalls::Skip) {
            return None;
        }
        let mut depths = contours.to_vec();
        let innermost = *depths.last()?;
        let mut next = innermost + spacing;
        // half a spacing between the two sides of a ring, five spacings where walls end to be narrow
        while 2.0 * next + 0.5 * spacing < 2.0 * innermost + 5.0 * spacing - 0.5 {
            depths.push(next);
            next += spacing;
        }
        let contours = contours.len();
        let hatch_j_mm = passes_j_mm.iter().sum();
        Some(Self { depths, contours, spacing, half_single, contour_j_mm, hatch_j_mm, passes_j_mm })
    }

    /// Whether contours that two kinds have alike are cut off at the same widths, too.
    pub(super) fn has_same_contours(&self, other: &Self) -> bool {
        self.contours < 2 || (self.spacing - other.spacing).abs() < 1.0
    }

    /// Half the width from which walls are narrow no more.
    pub(super) fn half_narrow(&self) -> f64 {
        self.depths[self.contours - 1] + 2.5 * self.spacing
    }

    /// Half the width from which a wall has a ring; beyond the last one, hatch.
    pub(super) fn half_from(&self, ring: usize) -> f64 {
        match self.depths.get(ring) {
            _ if ring == 0 => self.half_single,
            Some(depth) => depth + 0.25 * self.spacing,
            None => self.half_narrow(),
        }
    }

    /// Of the hatch's energy, the least that a line in the middle has.
    pub(super) const LEAST: f64 = 0.4;

    /// The depths of rings beyond the contours, of a wall that has so many in all.
    pub(super) fn further(&self, in_all: usize) -> &[f64] {
        self.depths.get(self.contours..in_all).unwrap_or_default()
    }

    /// What a wall of a half width lacks of the energy of the hatch between its outermost contours if it has
    /// so many rings, and so what the line in its middle gets, J/mm.
    pub(super) fn missing(&self, half: f64, rings: usize) -> f64 {
        let energy = |ring| if ring < self.contours { self.contour_j_mm } else { self.hatch_j_mm };
        let all: f64 = (0..rings).map(|ring| 2.0 * energy(ring)).sum();
        // half of the outermost contours' energy lies outside of them
        let between = all - self.contour_j_mm;
        let wanted = 2.0 * (half - self.depths[0]) / self.spacing * self.hatch_j_mm;
        (wanted - between).min(2.0 * self.hatch_j_mm)
    }

    /// Least and most of the hatch's energy that the line in the middle may have in walls between two half widths if
    /// they have so many rings; `None` if they have none or no such line.
    pub(super) fn shares(&self, rings: usize, [least, most]: [f64; 2]) -> Option<[f64; 2]> {
        // where a ring may just be there or not, the line is that of the walls without
        const UNDECIDED_NM: f64 = 6_000.0;
        let least = least.max(self.half_from(rings - 1) - UNDECIDED_NM);
        let most = most.min(self.half_from(rings) + 2.0 * UNDECIDED_NM);
        let share = |half: f64| self.missing(half, rings) / self.hatch_j_mm;
        (least <= most && share(most) >= Self::LEAST)
            .then(|| [share(least).max(Self::LEAST), share(most)])
    }

    /// Mean dose of the hatch, J/mm².
    pub(super) fn mean_j_mm2(&self) -> f64 {
        self.hatch_j_mm / (self.spacing / NM)
    }
}

/// Energy per length that arrives with a row of the table, J/mm.
pub(super) fn line_energy(build: &Build, row: u16) -> f64 {
    let row = build.header.exposures.get(usize::from(row));
    row.map_or(f64::NAN, |row| row.power_w / row.power_factor.unwrap_or(1.0) / row.speed_mm_s)
}

/// Energies come in steps of a tenth: half a step either way, and a little for rounding.
pub(super) const STEP: f64 = 1.06;

/// Energies per length, J/mm, that melt walls from one half width to another, nm.
pub(super) fn melting_energy(melt: Melt, halves: [f64; 2]) -> RangeInclusive<f64> {
    let [least, most] =
        halves.map(|half| melt.beam.energy_for_width(2.0 * half / NM, melt.threshold_j_mm2));
    least / STEP..=most * STEP
}

/// Half the width below which a wall has one centreline, nm: where each of two contours would push the
/// front of the other's melt out by 0.01 mm, and at least where they meet.
pub(super) fn half_single(
    build: &Build,
    number: usize,
    recipe: &Recipe,
    rows: &dyn Fn(&str) -> u16,
    energy: &dyn Fn(u16) -> f64,
) -> f64 {
    let offset = recipe.beam_offset_mm;
    let ThinWalls::Expose { exposure, .. } = &recipe.thin_walls else { return offset * NM };
    let contour = recipe.core.contours.as_ref().and_then(|contours| contours.exposures.first());
    let line = energy(rows(contour.unwrap_or(exposure)));
    let melt = build.melt(number);
    let (w, threshold) = (melt.beam.radius_mm(), melt.threshold_j_mm2);
    // dose at the front may rise by what it falls over 0.01 mm: 4·o/w² of the threshold a mm
    let may_rise = 0.01 * 4.0 * offset / (w * w) * threshold;
    let peak = (2.0 / std::f64::consts::PI).sqrt() * line / w;
    let apart = w * ((peak / may_rise).max(1.0).ln() / 2.0).sqrt();
    // and never more energy than three times the line's
    let most = w * (2.0 * (3.0 * peak / threshold).max(1.0).ln()).sqrt();
    let width = (offset + apart).min(most).max(2.0 * offset);
    // the writer rounds the width to whole nanometres
    (width * NM).round() / 2.0
}
