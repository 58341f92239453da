//! The orientations that a part may take, as rotation matrices.

use crate::model::Orientations;
use base::Affine;

/// Rows of a rotation matrix.
pub(crate) type Rotation = [[f64; 3]; 3];

const IDENTITY: Rotation = [[1., 0., 0.], [0., 1., 0.], [0., 0., 1.]];

/// Most steps about Z, one a degree: a finer step moves no voxel that matters and costs memory.
const MAX_STEPS_ABOUT_Z: u32 = 360;

/// Most orientations beyond the 24: each needs a mask of its own, so that more would only cost time
/// and memory.
const MAX_EXTRA: u32 = 1000;

/// Below this a coefficient of a product of two rotations is rounding noise about 0.
const NOISE: f64 = 1e-15;

/// The map with this linear part that leaves the origin where it is.
pub(crate) fn linear_map(linear: &Rotation) -> Affine {
    let mut map = Affine::IDENTITY;
    for (row, linear) in map.rows.iter_mut().zip(linear) {
        row[..3].copy_from_slice(linear);
    }
    map
}

/// The matrices that `orientations` allows, the identity first.
pub(crate) fn rotations(orientations: Orientations) -> Vec<Rotation> {
    match orientations {
        Orientations::Fixed => vec![IDENTITY],
        Orientations::AboutZ { steps } => {
            let steps = steps.clamp(1, MAX_STEPS_ABOUT_Z);
            (0..steps).map(|i| about_z(360.0 * f64::from(i) / f64::from(steps))).collect()
        }
        Orientations::QuarterTurns => quarter_turns(),
        Orientations::Many { extra } => {
            let mut all = quarter_turns();
            all.extend((0..extra.min(MAX_EXTRA)).map(spread));
            all
        }
    }
}

/// The matrix of a rotation and a scaling after it.
pub(crate) fn scaled(rotation: &Rotation, scale: [f64; 3]) -> Rotation {
    [0, 1, 2].map(|k| rotation[k].map(|c| c * scale[k]))
}

/// The rotation of axes to axes that leads from `a`, scaled, to `b`, scaled, if there is one.
pub(crate) fn quarter_turn_between(
    a: &Rotation,
    b: &Rotation,
    scale: [f64; 3],
) -> Option<Rotation> {
    let product =
        [0, 1, 2].map(|i| [0, 1, 2].map(|j| (0..3).map(|k| b[i][k] * a[j][k]).sum::<f64>()));
    let product = product.map(|row: [f64; 3]| row.map(|c| if c.abs() < NOISE { 0.0 } else { c }));
    // It has to come to the same whether one scales before it or after it.
    #[expect(clippy::float_cmp, reason = "only equal factors commute")]
    let commutes = (0..3).all(|i| (0..3).all(|j| product[i][j] == 0.0 || scale[i] == scale[j]));
    (takes_axes_to_axes(&product) && commutes).then_some(product)
}

/// Whether the matrix takes every coordinate axis to a coordinate axis.
fn takes_axes_to_axes(r: &Rotation) -> bool {
    r.iter().flatten().all(|&c| c == 0.0 || (c.abs() - 1.0).abs() < f64::EPSILON)
}

fn about_z(deg: f64) -> Rotation {
    let (sin, cos) = base::affine::sin_cos_deg(deg);
    [[cos, -sin, 0.], [sin, cos, 0.], [0., 0., 1.]]
}

/// The 24 signed permutation matrices of determinant 1, the identity first.
fn quarter_turns() -> Vec<Rotation> {
    const ORDERS: [([usize; 3], f64); 6] = [
        ([0, 1, 2], 1.),
        ([1, 2, 0], 1.),
        ([2, 0, 1], 1.),
        ([1, 0, 2], -1.),
        ([0, 2, 1], -1.),
        ([2, 1, 0], -1.),
    ];
    let mut all = Vec::with_capacity(24);
    for (order, parity) in ORDERS {
        for signs in 0..4 {
            let (a, b) =
                (if signs & 1 == 0 { 1. } else { -1. }, if signs & 2 == 0 { 1. } else { -1. });
            let mut r = [[0.0; 3]; 3];
            for (row, (&column, sign)) in r.iter_mut().zip(order.iter().zip([a, b, a * b * parity]))
            {
                row[column] = sign;
            }
            all.push(r);
        }
    }
    all
}

/// The `i`-th of an endless sequence of rotations that is spread evenly: Shoemake's map from the cube
/// to unit quaternions (Graphics Gems III, 1992, "Uniform random rotations") over the additive
/// sequence of the generalised golden ratio for three dimensions.
fn spread(i: u32) -> Rotation {
    const RATIO: f64 = 1.220_744_084_605_759_5; // root of x⁴ = x + 1
    let at = |power: i32| (0.5 + f64::from(i + 1) * RATIO.powi(-power)).fract();
    let (u, v, w) = (at(1), at(2) * std::f64::consts::TAU, at(3) * std::f64::consts::TAU);
    let (p, q) = ((1.0 - u).sqrt(), u.sqrt());
    let (x, y, z, s) = (p * v.sin(), p * v.cos(), q * w.sin(), q * w.cos());
    [
        [1. - 2. * (y * y + z * z), 2. * (x * y - s * z), 2. * (x * z + s * y)],
        [2. * (x * y + s * z), 1. - 2. * (x * x + z * z), 2. * (y * z - s * x)],
        [2. * (x * z - s * y), 2. * (y * z + s * x), 1. - 2. * (x * x + y * y)],
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn determinant([a, b, c]: Rotation) -> f64 {
        a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
    }

    #[test]
    fn rotations_are_rotations_and_the_24_differ() {
        let all = rotations(Orientations::Many { extra: 50 });
        assert_eq!(all.len(), 74);
        assert_eq!(all[0], IDENTITY);
        for r in &all {
            assert!((determinant(*r) - 1.0).abs() < 1e-12);
            for i in 0..3 {
                for j in 0..3 {
                    let dot: f64 = (0..3).map(|k| r[i][k] * r[j][k]).sum();
                    assert!((dot - f64::from(u8::from(i == j))).abs() < 1e-12);
                }
            }
        }
        for i in 0..24 {
            assert!(takes_axes_to_axes(&all[i]));
            assert!((0..i).all(|j| all[i] != all[j]));
        }
        assert!((rotations(Orientations::AboutZ { steps: 4 })[1][0][1] + 1.0).abs() < f64::EPSILON);
    }
}
