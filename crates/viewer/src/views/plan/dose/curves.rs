//! Curves of the melt as lines for the renderer.

use base::nm_from_mm;
use estimate::Ring;
use render::plan::{LineSet, Segment, Shade};
use std::sync::Arc;

/// How far a line may leave the points of a curve, mm: what the curve itself is exact to.
const OFF_MM: f64 = 1e-3;
/// Points that one line may pass over.
const PASSED: usize = 64;

/// Lines, and how far along its curve each starts, so that dashes run on.
#[derive(Clone)]
pub(crate) struct Curves {
    pub(crate) lines: Arc<LineSet>,
    pub(crate) phases: Arc<Vec<Shade>>,
}

impl Curves {
    /// O(points).
    pub(super) fn new(rings: &[Ring]) -> Self {
        let (mut segments, mut phases) = (Vec::new(), Vec::new());
        let nm = |[x, y]: [f64; 2]| Some([nm_from_mm(x).ok()?, nm_from_mm(y).ok()?]);
        for ring in rings {
            let mut points = longer_lines(&ring.points);
            points.extend(points.first().copied());
            let mut along_mm = 0.0;
            for pair in points.windows(2) {
                let (from, to) = (pair[0], pair[1]);
                if let (Some(from), Some(to)) = (nm(from), nm(to)) {
                    segments.push(Segment { from, to });
                    #[expect(
                        clippy::cast_possible_truncation,
                        clippy::cast_sign_loss,
                        reason = "wraps"
                    )]
                    let phase = (along_mm * 100.0) as u64 as u16;
                    phases.push(Shade { value: 0, phase });
                }
                along_mm += (to[0] - from[0]).hypot(to[1] - from[1]);
            }
        }
        Self { lines: Arc::new(LineSet::new(segments, None)), phases: Arc::new(phases) }
    }
}

/// A closed curve with fewer points: those are left out that a line from the last kept point to a
/// later one passes by less than [`OFF_MM`].
fn longer_lines(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut kept: Vec<[f64; 2]> = Vec::new();
    let mut anchor = 0;
    while anchor < points.len() {
        kept.push(points[anchor]);
        let mut end = anchor + 1;
        while end + 1 < points.len()
            && end - anchor < PASSED
            && points[anchor + 1..=end]
                .iter()
                .all(|p| off(*p, points[anchor], points[end + 1]) < OFF_MM)
        {
            end += 1;
        }
        anchor = end;
    }
    kept
}

/// Distance of a point from the straight line through two others, mm; from the first, if they are one.
fn off(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let (way, to) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
    let length = way[0].hypot(way[1]);
    if length > 0.0 { (way[0] * to[1] - way[1] * to[0]).abs() / length } else { to[0].hypot(to[1]) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of 3 mm with a point every 0.03 mm, and a circle about it.
    #[test]
    fn straight_stretches_become_long_lines_and_corners_stay() {
        let corners = [[0.0, 0.0], [3.0, 0.0], [3.0, 3.0], [0.0, 3.0]];
        let mut square = Vec::new();
        for (i, a) in corners.iter().enumerate() {
            let b = corners[(i + 1) % 4];
            for step in 0..100 {
                let t = f64::from(step) / 100.0;
                square.push([0, 1].map(|axis| a[axis] + t * (b[axis] - a[axis])));
            }
        }
        let kept = longer_lines(&square);
        assert!(kept.len() <= 12, "{}", kept.len());
        for corner in corners {
            assert!(kept.contains(&corner), "{corner:?} is lost");
        }
        let at = |i: u32| f64::from(i).to_radians();
        let circle: Vec<_> = (0..360).map(|i| [2.0 * at(i).cos(), 2.0 * at(i).sin()]).collect();
        let kept = longer_lines(&circle);
        assert!(kept.len() < 180, "{}", kept.len());
        for pair in kept.windows(2) {
            let middle = [0, 1].map(|axis| f64::midpoint(pair[0][axis], pair[1][axis]));
            let sagitta = 2.0 - middle[0].hypot(middle[1]);
            assert!(sagitta < 1.1 * OFF_MM, "{sagitta}");
        }
    }
}
