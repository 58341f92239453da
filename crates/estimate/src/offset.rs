//! Beam offsets to propose: how far from the outermost vector's centre the melt ends along a
//! straight boundary.

use crate::beam::Beam;

/// Steps per beam radius in the search from outside for the first melt.
const STEPS_PER_RADIUS: f64 = 32.0;

/// Halvings after which an interval of some beam radii is down to the last digits of a double.
const HALVINGS: u32 = 60;

/// Farther than this many radii from everything, a dose has left the range of a double.
const FAR_IN_RADII: f64 = 20.0;
const FAR_IN_STEPS: i32 = 640;

/// The dose across a straight boundary: long lines along it, and perhaps a half plane of hatch.
///
/// Places are distances outwards, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// The beam.
    pub beam: Beam,
    /// Long lines: where, and their energy per length in J/mm.
    pub lines: Vec<(f64, f64)>,
    /// An evenly hatched half plane: where it ends, and its mean dose in J/mm².
    pub half_plane: Option<(f64, f64)>,
}

impl Profile {
    /// The dose at a place, J/mm².
    pub fn dose(&self, at_mm: f64) -> f64 {
        let line = |&(line, energy): &(f64, f64)| self.beam.dose_of_line(energy, at_mm - line);
        let lines: f64 = self.lines.iter().map(line).sum();
        let edge = |(edge, mean)| self.beam.dose_at_edge(mean, at_mm - edge);
        lines + self.half_plane.map_or(0.0, edge)
    }

    /// The outermost place where the dose reaches a threshold above zero; `None` if it nowhere does.
    ///
    /// Searched from outside in steps of a 32nd of the radius and at the lines. A summit between two
    /// steps that passes the threshold by less than 0.1 % may be overlooked.
    pub fn melt_front(&self, threshold_j_mm2: f64) -> Option<f64> {
        let w = self.beam.radius_mm();
        let mut places: Vec<f64> = self.lines.iter().map(|line| line.0).collect();
        places.extend(self.half_plane.map(|edge| edge.0));
        places.sort_by(|a, b| b.total_cmp(a));
        let mut beyond = places.first()? + FAR_IN_RADII * w;
        for place in places {
            for step in (-FAR_IN_STEPS..=FAR_IN_STEPS).map(f64::from) {
                let here = place - step * w / STEPS_PER_RADIUS;
                if here > beyond {
                    continue; // looked at with the place before
                }
                if self.dose(here) >= threshold_j_mm2 {
                    return Some(self.crossing(here, beyond, threshold_j_mm2));
                }
                beyond = here;
            }
        }
        None
    }

    /// Where between a place above the threshold and one below it the dose crosses it.
    fn crossing(&self, mut above: f64, mut below: f64, threshold_j_mm2: f64) -> f64 {
        for _ in 0..HALVINGS {
            let middle = 0.5 * (above + below);
            if self.dose(middle) >= threshold_j_mm2 {
                above = middle;
            } else {
                below = middle;
            }
        }
        above
    }
}

/// The beam offset for a contour with nothing beside it, mm: half the width of its line. `None` if
/// the line does not melt.
pub fn lone_contour(beam: Beam, energy_j_mm: f64, threshold_j_mm2: f64) -> Option<f64> {
    let width = beam.width_of_line(energy_j_mm, threshold_j_mm2);
    (width > 0.0).then_some(0.5 * width)
}

/// The beam offset for contours with hatch inside, mm: from the centre of the outermost contour (or
/// from `gap_mm` outside of the hatch, if there is no contour) to where the melt ends.
/// Negative if it ends inside; `None` if nothing melts.
///
/// | argument          | unit  | meaning                                                  |
/// |-------------------|-------|----------------------------------------------------------|
/// | `contours`        | J/mm  | energy per length of each contour, the outermost first   |
/// | `spacing_mm`      | mm    | from contour to contour                                  |
/// | `hatch_mean`      | J/mm² | mean dose of the hatch, taken as even; 0 for none        |
/// | `gap_mm`          | mm    | from the innermost contour's centre to where hatch begins|
/// | `threshold_j_mm2` | J/mm² | what melts                                               |
pub fn with_hatch(
    beam: Beam,
    contours: &[f64],
    spacing_mm: f64,
    hatch_mean: f64,
    gap_mm: f64,
    threshold_j_mm2: f64,
) -> Option<f64> {
    let depth = |i: usize| -(i as f64) * spacing_mm;
    let hatch_edge = depth(contours.len().saturating_sub(1)) - gap_mm;
    let profile = Profile {
        beam,
        lines: contours.iter().enumerate().map(|(i, &energy)| (depth(i), energy)).collect(),
        half_plane: (hatch_mean > 0.0).then_some((hatch_edge, hatch_mean)),
    };
    profile.melt_front(threshold_j_mm2)
}
