//! From maps to placements of a job.

use base::Affine;
use job::Placement;
use mesh::Mesh;

/// The placement whose pose this is.
pub(super) fn placement(mesh: &Mesh, pose: &Affine, scale: [f64; 3]) -> Placement {
    /// Ten picometres: no digit beyond means anything, and the proof looks at what is written.
    const DIGITS: f64 = 1e8;
    let tidy = |x: f64| (x * DIGITS).round() / DIGITS + 0.0;
    let mut r = [[0.0; 3]; 3];
    for (i, row) in r.iter_mut().enumerate() {
        for (k, c) in row.iter_mut().enumerate() {
            *c = pose.rows[i][k] / scale[i];
        }
    }
    let (low, high) = crate::posed::bounds_under(mesh, pose).unwrap_or_default();
    Placement {
        location_mm: [0, 1, 2].map(|k| tidy(f64::midpoint(low[k], high[k]))),
        rotation_deg: rotation_deg(&r).map(tidy),
    }
}

/// The angles A about X, B about Y, C about Z, degrees, of `Rz(C)·Ry(B)·Rx(A)`.
fn rotation_deg(r: &[[f64; 3]; 3]) -> [f64; 3] {
    let b = (-r[2][0]).clamp(-1.0, 1.0).asin();
    // Looking along X, only the sum of A and C counts.
    let [a, c] = if r[2][0].abs() > 1.0 - 1e-12 {
        [0.0, (-r[0][1]).atan2(r[1][1])]
    } else {
        [r[2][1].atan2(r[2][2]), r[1][0].atan2(r[0][0])]
    };
    [a, b, c].map(f64::to_degrees)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_are_found_again() {
        for a in [-170.0, -90.0, 0.0, 12.5, 90.0, 180.0] {
            for b in [-90.0, -45.0, 0.0, 30.0, 90.0] {
                for c in [-120.0, 0.0, 90.0, 180.0] {
                    let map = Affine::rotation_deg([a, b, c]);
                    let r = map.rows.map(|row| [row[0], row[1], row[2]]);
                    let again = Affine::rotation_deg(rotation_deg(&r));
                    for (row, other) in map.rows.iter().zip(again.rows) {
                        assert!((0..3).all(|k| (row[k] - other[k]).abs() < 1e-12), "{a} {b} {c}");
                    }
                }
            }
        }
    }
}
