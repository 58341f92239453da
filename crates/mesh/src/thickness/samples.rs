//! Points spread over the surface.

use crate::Mesh;
use crate::measures::{measures, usable_corners};
use base::vec3::{Vec3, add, cross, length, scale, sub};

/// A point of the surface and the area that it stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Where, mm.
    pub at_mm: Vec3,
    /// Its share of the triangle, mm².
    pub area_mm2: f64,
}

/// How far apart samples are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spacing {
    /// At most, mm.
    pub wanted_mm: f64,
    /// More than so many samples, beside one for each triangle, make them sparser.
    pub most: u32,
}

impl Spacing {
    pub(super) fn mm(self, mesh: &Mesh) -> f64 {
        let sparse = (measures(mesh).area_mm2 / f64::from(self.most.max(1))).sqrt();
        self.wanted_mm.max(sparse)
    }
}

/// Samples of a triangle in strips along its longest side, none farther than `spacing_mm` from the next; at
/// least one.
pub(super) fn of(mesh: &Mesh, triangle: u32, spacing_mm: f64) -> Vec<Sample> {
    let corners = mesh.triangles.get(triangle as usize).and_then(|t| usable_corners(mesh, *t));
    let Some([a, b, c]) = corners.map(longest_side_first) else { return Vec::new() };
    let (base, side) = (sub(b, a), sub(c, a));
    let twice = length(cross(base, side));
    let long = length(base);
    if twice <= 0.0 || !twice.is_finite() {
        return Vec::new();
    }
    let strips = pieces(twice / long, spacing_mm);
    let mut samples = Vec::new();
    for strip in 0..strips {
        let at = |k: f64| (f64::from(strip) + k) / f64::from(strips);
        let (low, middle, high) = (1.0 - at(0.0), at(0.5), 1.0 - at(1.0));
        let width = 1.0 - middle;
        let count = pieces(width * long, spacing_mm);
        let area_mm2 = 0.5 * twice * (low * low - high * high) / f64::from(count);
        for piece in 0..count {
            let along = width * (f64::from(piece) + 0.5) / f64::from(count);
            let at_mm = add(a, add(scale(base, along), scale(side, middle)));
            samples.push(Sample { at_mm, area_mm2 });
        }
    }
    samples
}

/// Into how many pieces a length is divided.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
fn pieces(length_mm: f64, spacing_mm: f64) -> u32 {
    (length_mm / spacing_mm).ceil().clamp(1.0, 10_000.0) as u32
}

/// The corners in the same order, but so that the first two are farthest apart.
fn longest_side_first([a, b, c]: [Vec3; 3]) -> [Vec3; 3] {
    let turned = [[a, b, c], [b, c, a], [c, a, b]];
    let long = |t: &[Vec3; 3]| length(sub(t[1], t[0]));
    let mut best = turned[0];
    for other in &turned[1..] {
        if long(other) > long(&best) {
            best = *other;
        }
    }
    best
}
