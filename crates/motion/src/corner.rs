//! How fast a corner can be taken.

use crate::head::Head;

/// An arc in place of a corner.
pub(crate) struct Arc {
    /// How fast it can be run, mm/s.
    pub(crate) speed_mm_s: f64,
    /// How far before and behind the corner it reaches, mm.
    pub(crate) reach_mm: f64,
}

/// How a corner is run, from the directions (of length 1) and lengths of the marks before and after it.
///
/// The corner is rounded by an arc that comes no farther from it than the tolerance δ and begins no farther from
/// it than half of either mark. Turning by an angle φ, such an arc has the radius
/// r = δ·cos(φ/2)/(1 − cos(φ/2)), at most (l/2)/tan(φ/2), and is run at v = √(a·r): centripetal acceleration.
pub(crate) fn arc(head: &Head, [before, after]: [[f64; 2]; 2], lengths_mm: [f64; 2]) -> Arc {
    let cosine = (before[0] * after[0] + before[1] * after[1]).clamp(-1.0, 1.0);
    let half_cosine = f64::midpoint(1.0, cosine).sqrt();
    let half_sine = f64::midpoint(1.0, -cosine).sqrt();
    let tolerated_mm = head.corner_tolerance_mm * half_cosine / (1.0 - half_cosine);
    let half_mm = lengths_mm[0].min(lengths_mm[1]) / 2.0;
    let radius_mm = tolerated_mm.min(half_mm * half_cosine / half_sine);
    let speed_mm_s = (head.least_acceleration() * radius_mm).sqrt();
    let reach_mm = if half_sine > 0.0 { radius_mm * half_sine / half_cosine } else { 0.0 };
    Arc { speed_mm_s, reach_mm: if reach_mm < half_mm { reach_mm } else { half_mm } }
}
