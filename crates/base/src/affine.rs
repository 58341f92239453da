//! Rigid motions and scalings of space.

/// An affine map of 3D space: `p ↦ M·p + t`, mm to mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Affine {
    /// Rows of `[M | t]`.
    pub rows: [[f64; 4]; 3],
}

impl Affine {
    /// Leaves every point where it is.
    pub const IDENTITY: Self =
        Self { rows: [[1., 0., 0., 0.], [0., 1., 0., 0.], [0., 0., 1., 0.]] };

    /// Moves by `t`, mm.
    pub fn translation(t: [f64; 3]) -> Self {
        let mut map = Self::IDENTITY;
        for (row, t) in map.rows.iter_mut().zip(t) {
            row[3] = t;
        }
        map
    }

    /// Scales each axis about the origin.
    pub fn scaling(s: [f64; 3]) -> Self {
        let mut map = Self::IDENTITY;
        for (i, s) in s.into_iter().enumerate() {
            map.rows[i][i] = s;
        }
        map
    }

    /// Rotation by A about X, then by B about Y, then by C about Z, degrees, right-handed
    /// (ISO 841: C = +90° takes +X to +Y). Quarter turns are exact.
    pub fn rotation_deg([a, b, c]: [f64; 3]) -> Self {
        let about = |axis: usize, deg: f64| {
            let (sin, cos) = sin_cos_deg(deg);
            let (i, j) = ((axis + 1) % 3, (axis + 2) % 3);
            let mut map = Self::IDENTITY;
            map.rows[i][i] = cos;
            map.rows[i][j] = -sin;
            map.rows[j][i] = sin;
            map.rows[j][j] = cos;
            map
        };
        about(2, c) * (about(1, b) * about(0, a))
    }

    /// The image of a point.
    pub fn apply(&self, p: [f64; 3]) -> [f64; 3] {
        self.rows.map(|[x, y, z, t]| x * p[0] + y * p[1] + z * p[2] + t)
    }

    /// Determinant of the linear part: the factor on volumes; negative for a mirror.
    pub fn determinant(&self) -> f64 {
        let [a, b, c] = self.rows;
        a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
    }

    /// Whether every coefficient is finite.
    pub fn is_finite(&self) -> bool {
        self.rows.iter().flatten().all(|c| c.is_finite())
    }
}

impl std::ops::Mul for Affine {
    type Output = Self;

    /// `(a * b).apply(p) == a.apply(b.apply(p))`.
    fn mul(self, b: Self) -> Self {
        let mut rows = [[0.0; 4]; 3];
        for (row, a) in rows.iter_mut().zip(self.rows) {
            for (k, out) in row.iter_mut().enumerate() {
                *out = a[0] * b.rows[0][k] + a[1] * b.rows[1][k] + a[2] * b.rows[2][k];
            }
            row[3] += a[3];
        }
        Self { rows }
    }
}

/// Sine and cosine of an angle in degrees, exact at multiples of 90°.
pub fn sin_cos_deg(deg: f64) -> (f64, f64) {
    let angle = deg.rem_euclid(360.0);
    match angle {
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        180.0 => (0.0, -1.0),
        270.0 => (-1.0, 0.0),
        _ => angle.to_radians().sin_cos(),
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "quarter turns are exact")]
mod tests {
    use super::*;

    /// ISO/ASTM 52921 and ISO 841: C = +90° takes +X to +Y, A = +90° +Y to +Z, B = +90° +Z to +X.
    #[test]
    fn positive_rotations_are_right_handed_and_quarter_turns_exact() {
        let (x, y, z) = ([1., 0., 0.], [0., 1., 0.], [0., 0., 1.]);
        assert_eq!(Affine::rotation_deg([0., 0., 90.]).apply(x), y);
        assert_eq!(Affine::rotation_deg([90., 0., 0.]).apply(y), z);
        assert_eq!(Affine::rotation_deg([0., 90., 0.]).apply(z), x);
    }

    #[test]
    fn rotations_are_applied_in_the_order_a_b_c_and_products_compose() {
        let all = Affine::rotation_deg([90., 0., 90.]);
        assert_eq!(all.apply([0., 1., 0.]), [0., 0., 1.]); // A lifts Y to Z, C leaves Z
        let product = Affine::translation([1., 2., 3.]) * Affine::scaling([2., 2., -2.]);
        assert_eq!(product.apply([1., 1., 1.]), [3., 4., 1.]);
        assert!((product.determinant() + 8.0).abs() < 1e-12);
    }
}
