//! Rotations of a placement: composing them, and reading the angles A, B, C back out of a rotation.

use glam::{DMat3, DQuat, DVec3};

/// The rotation by A about X, then B about Y, then C about Z, degrees.
pub(crate) fn rotation([a, b, c]: [f64; 3]) -> DMat3 {
    let [a, b, c] = [a, b, c].map(f64::to_radians);
    DMat3::from_rotation_z(c) * DMat3::from_rotation_y(b) * DMat3::from_rotation_x(a)
}

/// Angles A, B, C, degrees in `(−180, 180]`, that make a rotation. With B = ±90° only the sum or the
/// difference of A and C counts; then A is 0.
pub(crate) fn angles_of(rotation: DMat3) -> [f64; 3] {
    let at = |row: usize, column: usize| rotation.col(column)[row];
    let sin_b = (-at(2, 0)).clamp(-1.0, 1.0);
    let angles = if sin_b.abs() > 1.0 - 1e-12 {
        [0.0, sin_b.asin(), (-at(0, 1)).atan2(at(1, 1))]
    } else {
        [at(2, 1).atan2(at(2, 2)), sin_b.asin(), at(1, 0).atan2(at(0, 0))]
    };
    angles.map(|angle| tidy(angle.to_degrees()))
}

/// Degrees in `(−180, 180]`, without the noise below a millionth.
pub(crate) fn tidy(degrees: f64) -> f64 {
    let angle = (degrees * 1e6).round() / 1e6;
    let angle = angle.rem_euclid(360.0);
    (if angle > 180.0 { angle - 360.0 } else { angle }) + 0.0
}

/// The angles A, B, C after which a face of this outward normal (part frame) looks down, reached from
/// `angles` by the smallest rotation; `None` for a face without a normal.
pub(crate) fn with_face_down(angles: [f64; 3], normal: [f64; 3]) -> Option<[f64; 3]> {
    let now = rotation(angles);
    let normal = (now * DVec3::from(normal)).try_normalize()?;
    let down = DVec3::NEG_Z;
    let rotated_by = if normal.dot(down) < -1.0 + 1e-12 {
        DQuat::from_rotation_x(std::f64::consts::PI)
    } else {
        DQuat::from_rotation_arc(normal, down)
    };
    Some(angles_of(DMat3::from_quat(rotated_by) * now))
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "tidied angles are exact")]
mod tests {
    use super::*;
    use base::Affine;

    #[track_caller]
    fn same(a: DMat3, b: DMat3) {
        assert!(a.abs_diff_eq(b, 1e-7), "{a} is not {b}");
    }

    #[test]
    fn angles_come_back_as_the_same_rotation_also_at_the_poles() {
        for a in [-170.0, -90.0, -20.0, 0.0, 45.0, 180.0] {
            for b in [-90.0, -45.0, 0.0, 30.0, 90.0] {
                for c in [-135.0, 0.0, 15.0, 90.0] {
                    let rotated_by = rotation([a, b, c]);
                    same(rotation(angles_of(rotated_by)), rotated_by);
                }
            }
        }
    }

    #[test]
    fn the_rotation_is_the_one_of_the_job() {
        let angles = [20.0, -35.0, 110.0];
        let p = [1.0, 2.0, 3.0];
        let expected = DVec3::from(Affine::rotation_deg(angles).apply(p));
        assert!((rotation(angles) * DVec3::from(p)).distance(expected) < 1e-12);
    }

    #[test]
    fn a_face_that_is_laid_flat_looks_down() {
        let start = [10.0, 20.0, 30.0];
        for normal in [[0., 0., 1.], [0., 0., -1.], [1., 0., 0.], [0.3, -0.7, 0.2]] {
            let angles = with_face_down(start, normal).unwrap();
            let seen = (rotation(angles) * DVec3::from(normal)).normalize();
            assert!(seen.distance(DVec3::NEG_Z) < 1e-6, "{normal:?} looks to {seen}");
        }
        assert_eq!(with_face_down(start, [0.0; 3]), None);
        let up = with_face_down([0.0; 3], [0., 0., 1.]).unwrap();
        assert!((rotation(up) * DVec3::Z).distance(DVec3::NEG_Z) < 1e-6);
    }

    #[test]
    fn angles_are_tidied() {
        assert_eq!([tidy(360.0), tidy(-180.0), tidy(190.0), tidy(-0.0)], [0.0, 180.0, -170.0, 0.0]);
    }
}
