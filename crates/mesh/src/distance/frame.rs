//! Boxes of one mesh in the frame of another.

use base::Affine;
use base::vec3::{Vec3, dot, sub};

/// A box along the axes of some frame.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cuboid {
    pub(super) centre: Vec3,
    /// Half lengths of the edges.
    pub(super) half: Vec3,
}

impl Cuboid {
    #[inline]
    pub(super) fn of((lo, hi): ([f32; 3], [f32; 3])) -> Self {
        // Sums and differences of two `f32` are exact in `f64`, near enough to each other.
        let (lo, hi) = (lo.map(f64::from), hi.map(f64::from));
        Self {
            centre: [0, 1, 2].map(|k| 0.5 * (lo[k] + hi[k])),
            half: [0, 1, 2].map(|k| 0.5 * (hi[k] - lo[k])),
        }
    }

    #[inline]
    pub(super) fn size(&self) -> f64 {
        self.half[0] + self.half[1] + self.half[2]
    }

    /// Square of the distance of the centres.
    #[inline]
    pub(super) fn centre_distance(&self, other: &Self) -> f64 {
        let d = sub(self.centre, other.centre);
        dot(d, d)
    }
}

/// The frame of one posed mesh, in which boxes of another are looked at.
pub(super) struct Frame {
    from_other: Affine,
    /// Lengths in the build space are at least so many times those in this frame, and at most.
    smallest: f64,
    pub(super) largest: f64,
}

impl Frame {
    /// `None` if a pose is not finite or flattens.
    pub(super) fn new(own: &Affine, other: &Affine) -> Option<Self> {
        let from_other = inverse(own)? * *other;
        let [smallest, largest] = stretches(own);
        (from_other.is_finite() && smallest > 0.0).then_some(Self { from_other, smallest, largest })
    }

    /// The box in this frame around a box in the other frame.
    #[inline]
    pub(super) fn turned(&self, c: &Cuboid) -> Cuboid {
        let [x, y, z] = c.half;
        Cuboid {
            centre: self.from_other.apply(c.centre),
            half: self.from_other.rows.map(|r| r[0].abs() * x + r[1].abs() * y + r[2].abs() * z),
        }
    }

    /// Least distance, mm in the build space, of what lies in two boxes in this frame.
    #[inline]
    pub(super) fn gap(&self, p: &Cuboid, q: &Cuboid) -> f64 {
        let mut square = 0.0;
        for k in 0..3 {
            let gap = (p.centre[k] - q.centre[k]).abs() - (p.half[k] + q.half[k]);
            let gap = if gap > 0.0 { gap } else { 0.0 };
            square += gap * gap;
        }
        self.smallest * square.sqrt()
    }
}

/// The inverse map; `None` if there is none.
pub(super) fn inverse(map: &Affine) -> Option<Affine> {
    let det = map.determinant();
    let m = map.rows;
    let minor = |i: usize, j: usize| {
        let (a, b) = ((i + 1) % 3, (i + 2) % 3);
        let (c, d) = ((j + 1) % 3, (j + 2) % 3);
        m[a][c] * m[b][d] - m[a][d] * m[b][c]
    };
    let mut rows = [[0.0; 4]; 3];
    for (i, row) in rows.iter_mut().enumerate() {
        let [x, y, z] = [0, 1, 2].map(|j| minor(j, i) / det);
        *row = [x, y, z, -(x * m[0][3] + y * m[1][3] + z * m[2][3])];
    }
    Some(Affine { rows }).filter(Affine::is_finite)
}

/// By how much a map stretches lengths, at least and at most: the square roots of the eigenvalues
/// of `MᵀM`, rounded outwards. Of a turn, exactly 1.
fn stretches(map: &Affine) -> [f64; 2] {
    let column = |k: usize| [map.rows[0][k], map.rows[1][k], map.rows[2][k]];
    let mut s = [0, 1, 2].map(|i| [0, 1, 2].map(|j| dot(column(i), column(j))));
    // A turn that is off by rounding is a turn: the noise of a bound covers it.
    let is_turn =
        (0..3).all(|i| (0..3).all(|j| (s[i][j] - f64::from(u8::from(i == j))).abs() < 1e-14));
    if is_turn {
        return [1.0; 2];
    }
    // Jacobi's method; a sweep squares what is left beside the diagonal.
    for _ in 0..8 {
        for (p, q) in [(0, 1), (0, 2), (1, 2)] {
            if s[p][q] == 0.0 {
                continue;
            }
            let theta = (s[q][q] - s[p][p]) / (2.0 * s[p][q]);
            let t = theta.signum() / (theta.abs() + theta.hypot(1.0));
            let (cos, sin) = (1.0 / t.hypot(1.0), t / t.hypot(1.0));
            for row in &mut s {
                let (x, y) = (row[p], row[q]);
                (row[p], row[q]) = (cos * x - sin * y, sin * x + cos * y);
            }
            let (x, y) = (s[p], s[q]);
            s[p] = [0, 1, 2].map(|k| cos * x[k] - sin * y[k]);
            s[q] = [0, 1, 2].map(|k| sin * x[k] + cos * y[k]);
        }
    }
    let all = [s[0][0], s[1][1], s[2][2]];
    let (least, most) = (
        all.iter().copied().fold(f64::INFINITY, f64::min),
        all.iter().copied().fold(0.0, f64::max),
    );
    [least.max(0.0).sqrt() * (1.0 - 1e-14), most.sqrt() * (1.0 + 1e-14)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inverse_undoes_and_stretches_are_those_of_the_scaling() {
        let turn = Affine::rotation_deg([10.0, -35.0, 70.0]);
        assert!(stretches(&turn).iter().all(|s| (s - 1.0).abs() < 1e-13));
        let pose = Affine::translation([1., 2., 3.]) * (Affine::scaling([1.03, 1.02, 0.9]) * turn);
        let [least, most] = stretches(&pose);
        assert!((least - 0.9).abs() < 1e-12 && (most - 1.03).abs() < 1e-12);
        let p = inverse(&pose).unwrap().apply(pose.apply([4., 5., 6.]));
        assert!((0..3).all(|k| (p[k] - [4., 5., 6.][k]).abs() < 1e-12));
        assert!(inverse(&Affine::scaling([1., 0., 1.])).is_none());
        assert!(Frame::new(&Affine::scaling([1., 0., 1.]), &turn).is_none());
    }
}
