//! What a wall gets, by its width alone.
//!
//! | width of the wall                | gets                                                     |
//! |----------------------------------|----------------------------------------------------------|
//! | too narrow for two contours      | one centreline that melts just that width                |
//! | below the narrow limit           | contours, further rings one hatch spacing apart, and a   |
//! |                                  | line along the middle where two rings leave room for one |
//! | wider                            | contours and hatch                                       |
//!
//! Hatch across a narrow wall would depend on where its lines happen to fall: along the wall there
//! is one more or one less of them, and pieces across it are shorter than the shortest mark. Lines
//! along the wall bring the same energy per area, to 15 %, whatever the width.

use super::line::{line_energy, pass_energy};
use super::melt::Melt;
use crate::distance::{distance_nm, off_grid};
use crate::error::ExposeError;
use base::{mm_from_nm, nm_from_mm};
use job::Recipe;
use job::recipe::{Strategy, ThinWalls};

/// A wall is narrow if fewer hatch spacings, of the first pass, than this fit between its opposite contours.
/// With more, one line more or less is below a fifth of the energy, also one of another pass, however few these
/// are, if it brings no more than one of the first.
const NARROW_SPACINGS: f64 = 5.0;

/// Two rings nearer to each other than this part of a spacing are left out for a line in the middle.
const RINGS_APART: f64 = 0.5;

/// A line in the middle that would get less than this part of a hatch line's energy is left out:
/// its neighbours melt the gap without it.
const LEAST_SHARE: f64 = 0.4;

/// The most that a line in the middle gets, as a multiple of a hatch line. Needed only where contours
/// lie farther apart than hatch lines.
const MOST_SHARE: f64 = 2.0;

/// A wall this little wider than a limit, nm, may be found on either side of it: a little more than twice
/// the tolerance of its middle line. What it gets then follows the ring: the line is there where the ring is not.
pub(crate) const UNDECIDED_NM: f64 = 12_000.0;

/// Least and largest share of a hatch line's energy that a middle line may get.
pub(crate) const SHARES: [f64; 2] = [LEAST_SHARE, MOST_SHARE];

/// How far two contours may push each other's melt front outwards, mm, before the wall gets one
/// centreline instead. Half a grain of powder is 0.03 mm (common practice, no source).
const PUSH_MM: f64 = 0.01;

/// The most that a wall too narrow for contours may get, as a multiple of the named exposure.
const MOST_SINGLE: f64 = 3.0;

/// A line along the middle of a wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Middle {
    /// Its energy as a multiple of a hatch line's.
    pub(crate) share: f64,
    /// It is there only where the wall has no ring of this number; at mouths rings reach further in than
    /// the width tells.
    pub(crate) without: usize,
}

/// The lines of a wall for one strategy. Lengths in nm.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Rules {
    /// Depths of contours and further rings, outermost first; not empty.
    depths: Vec<i32>,
    /// How many of them are contours.
    contours: usize,
    /// From ring to ring: as from line to line in the first pass of the hatch.
    spacing: i32,
    single_below: i32,
    /// Energy of a contour as a multiple of a hatch line's, over all of their exposures.
    contour: f64,
}

impl Rules {
    /// The rules of a strategy; `None` if its walls are nothing special: the recipe exposes no thin walls,
    /// or without hatch or contours there is nothing to fill, or nothing to lie beside.
    pub(crate) fn of(
        recipe: &Recipe,
        strategy: &Strategy,
        single_below: i32,
    ) -> Result<Option<Self>, ExposeError> {
        let (ThinWalls::Expose { .. }, Some(contours), Some(hatch)) =
            (&recipe.thin_walls, &strategy.contours, &strategy.hatch)
        else {
            return Ok(None);
        };
        let spacing = distance_nm("a hatch spacing", hatch.spacing_mm)?;
        let mut depths = Vec::new();
        for number in 0..contours.count {
            let depth = recipe.contour_depth_nm(contours, number);
            depths.push(depth.map_err(|off| off_grid("a contour's distance", off))?);
        }
        let Some(&innermost) = depths.last().filter(|_| spacing > 0) else { return Ok(None) };
        let rings = depths.len();
        let of_contour = contours.exposures.iter().map(|name| line_energy(recipe, name));
        let of_hatch = hatch.passes().map(|pass| pass_energy(recipe, hatch, &pass));
        let contour = of_contour.sum::<Result<f64, _>>()? / of_hatch.sum::<Result<f64, _>>()?;
        let mut rules = Self { depths, contours: rings, spacing, single_below, contour };
        let mut next = innermost.saturating_add(spacing);
        while rules.ring_from(next) < rules.narrow_below() {
            rules.depths.push(next);
            next = next.saturating_add(spacing);
        }
        Ok(Some(rules))
    }

    /// Width below which a wall is narrow.
    pub(crate) fn narrow_below(&self) -> i32 {
        let innermost = self.depths[self.contours - 1];
        innermost.saturating_mul(2).saturating_add(self.part(NARROW_SPACINGS))
    }

    /// Width from which a wall has the ring of this number, from 0 for the outermost contour; beyond the
    /// last ring, hatch.
    pub(crate) fn ring_from_width(&self, ring: usize) -> i32 {
        match self.depths.get(ring) {
            _ if ring == 0 => self.single_below,
            Some(depth) => self.ring_from(*depth),
            None => self.narrow_below(),
        }
    }

    /// Depth of a ring.
    pub(crate) fn depth(&self, ring: usize) -> i32 {
        self.depths[ring]
    }

    /// How far a line in the middle goes on towards a cap: until it is half a spacing from the
    /// innermost ring there, as the edge of a hatch is.
    pub(crate) fn middle_reach(&self, width: f64) -> f64 {
        let innermost = self.innermost(width).unwrap_or(0);
        width / 2.0 - f64::from(self.depths[innermost]) - f64::from(self.spacing) / 2.0
    }

    /// Numbers of the rings beyond the contours.
    pub(crate) fn further_rings(&self) -> std::ops::Range<usize> {
        self.contours..self.depths.len()
    }

    /// The line along the middle of a narrow wall; `None` where there is no such line.
    pub(crate) fn middle(&self, width: f64) -> Option<Middle> {
        let mut innermost = self.innermost(width)?;
        let is_undecided = width < f64::from(self.ring_from_width(innermost)) + UNDECIDED_NM;
        if innermost > 0 && is_undecided {
            innermost -= 1;
        }
        let share = self.share(innermost, width);
        let is_narrow = width < f64::from(self.narrow_below());
        (is_narrow && share >= LEAST_SHARE).then_some(Middle { share, without: innermost + 1 })
    }

    /// Number of the innermost ring of a wall.
    fn innermost(&self, width: f64) -> Option<usize> {
        let has_ring = |ring: &usize| width >= f64::from(self.ring_from_width(*ring));
        (0..self.depths.len()).rev().find(has_ring)
    }

    /// What is missing of the hatch's energy between the outermost contours, of which they bring half on
    /// this side, as a multiple of a hatch line's.
    fn share(&self, innermost: usize, width: f64) -> f64 {
        let wanted = (width - 2.0 * f64::from(self.depths[0])) / f64::from(self.spacing);
        let of_ring = |ring| if ring < self.contours { self.contour } else { 1.0 };
        let rings: f64 = (1..=innermost).map(|ring| 2.0 * of_ring(ring)).sum();
        (wanted - self.contour - rings).min(MOST_SHARE)
    }

    /// Whether contours that two strategies of a recipe have alike are cut off at the same widths, too.
    pub(crate) fn has_same_contours(&self, other: &Self) -> bool {
        self.contours < 2 || self.spacing == other.spacing
    }

    fn ring_from(&self, depth: i32) -> i32 {
        depth.saturating_mul(2).saturating_add(self.part(RINGS_APART))
    }

    fn part(&self, spacings: f64) -> i32 {
        nm_from_mm(mm_from_nm(self.spacing) * spacings).unwrap_or(i32::MAX)
    }
}

/// Width below which a wall gets one centreline instead of contours, nm: where two contours at
/// `offset_mm`, each with `energy_j_mm`, would push each other's melt front out too far, and never below
/// two offsets, where they meet.
///
/// On the side of one contour the other adds D₀·exp(−2(W − o)²/w²) to a dose that falls by 4·o/w²
/// of the threshold per mm (from C4 of a Gaussian line).
pub(crate) fn single_below_nm(
    offset_mm: f64,
    energy_j_mm: f64,
    melt: Melt,
) -> Result<i32, ExposeError> {
    let meet = 2.0 * offset_mm;
    let w = melt.beam.radius_mm();
    let peak = melt.beam.peak_of_line(energy_j_mm);
    let added = PUSH_MM * 4.0 * offset_mm / (w * w) * melt.threshold_j_mm2 / peak;
    let apart = offset_mm + w * (-added.min(1.0).ln() / 2.0).max(0.0).sqrt();
    let width = apart.min(melt.width_of_line(energy_j_mm * MOST_SINGLE)).max(meet);
    distance_nm("a beam offset", if width.is_finite() { width } else { meet })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Contour at 0.2 mm, hatch every 0.2 mm.
    fn rules() -> Rules {
        let mut rules = Rules {
            depths: vec![200_000],
            contours: 1,
            spacing: 200_000,
            single_below: 500_000,
            contour: 1.0,
        };
        rules.depths.extend([400_000, 600_000]);
        rules
    }

    /// Energy per area between the outermost contours, counted from the lines, is that of the hatch.
    #[test]
    fn lines_along_a_wall_bring_the_energy_of_the_hatch() {
        let rules = rules();
        assert_eq!(rules.narrow_below(), 1_400_000);
        for width in (1000..1400).map(|w| w * 1000).step_by(5000) {
            let rings = (1..3).filter(|&ring| width >= rules.ring_from_width(ring)).count();
            let middle = rules.middle(f64::from(width)).filter(|m| m.without > rings);
            let share = middle.map_or(0.0, |middle| middle.share);
            #[expect(clippy::cast_precision_loss, reason = "a few")]
            let lines = 1.0 + 2.0 * rings as f64 + share; // contours count half on the inside
            let mean = lines * 2e5 / f64::from(width - 400_000);
            assert!((0.85..1.15).contains(&mean), "{width}: {mean}");
        }
    }
}
