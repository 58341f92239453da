//! The exact contact test against an independent one in rational arithmetic: clip one triangle by
//! the plane and the three edge planes of the other and look at what is left.

use mesh::intersect::{is_degenerate, touch_or_cross};
use proptest::prelude::*;

type Integer = [i64; 3];

/// A point with rational coordinates `n / d`, `d > 0`.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Rational {
    n: [i128; 3],
    d: i128,
}

fn gcd(a: i128, b: i128) -> i128 {
    if b == 0 { a.abs() } else { gcd(b, a % b) }
}

impl Rational {
    fn new(n: [i128; 3], d: i128) -> Self {
        let common = n.iter().fold(d, |g, c| gcd(g, *c)) * d.signum();
        Self { n: n.map(|c| c / common), d: d / common }
    }

    /// Where the segment to `q` has the height 0, given heights of opposite sign (as fractions
    /// over the points' own denominators).
    fn cut(self, q: Self, plane: &Plane) -> Self {
        let (h, k) = (plane.height(self), plane.height(q)); // true heights h/d, k/q.d
        let (h, k) = (h * q.d, k * self.d);
        let at = |i: usize| self.n[i] * q.d * -k + q.n[i] * self.d * h;
        Self::new([at(0), at(1), at(2)], self.d * q.d * (h - k))
    }
}

/// `normal · p + offset`.
struct Plane {
    normal: [i128; 3],
    offset: i128,
}

impl Plane {
    fn through(p: Integer, normal: [i128; 3]) -> Self {
        let offset = -(0..3).map(|k| normal[k] * i128::from(p[k])).sum::<i128>();
        Self { normal, offset }
    }

    /// Height times the point's denominator.
    fn height(&self, p: Rational) -> i128 {
        (0..3).map(|k| self.normal[k] * p.n[k]).sum::<i128>() + self.offset * p.d
    }

    /// The part of a convex polygon on and above the plane; keeps single points and segments.
    fn clip(&self, polygon: &[Rational]) -> Vec<Rational> {
        let mut kept = Vec::new();
        for (i, &p) in polygon.iter().enumerate() {
            let q = polygon[(i + 1) % polygon.len()];
            let (h, k) = (self.height(p), self.height(q));
            if h >= 0 {
                kept.push(p);
            }
            if h.signum() * k.signum() < 0 {
                kept.push(p.cut(q, self));
            }
        }
        kept
    }

    fn turned(&self) -> Self {
        Self { normal: self.normal.map(|c| -c), offset: -self.offset }
    }
}

fn sub(p: Integer, q: Integer) -> [i128; 3] {
    [0, 1, 2].map(|k| i128::from(p[k]) - i128::from(q[k]))
}

fn cross(p: [i128; 3], q: [i128; 3]) -> [i128; 3] {
    [p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]]
}

/// The corners of what two triangles have in common.
fn common(a: [Integer; 3], b: [Integer; 3]) -> Vec<Rational> {
    let normal = cross(sub(b[1], b[0]), sub(b[2], b[0]));
    let plane = Plane::through(b[0], normal);
    let whole = a.map(|p| Rational::new(p.map(i128::from), 1)).to_vec();
    let mut left = plane.turned().clip(&plane.clip(&whole));
    for i in 0..3 {
        let inwards = cross(normal, sub(b[(i + 1) % 3], b[i]));
        left = Plane::through(b[i], inwards).clip(&left);
    }
    left
}

fn expected(a: [Integer; 3], b: [Integer; 3]) -> bool {
    let shared: Vec<Integer> = a.into_iter().filter(|p| b.contains(p)).collect();
    let points = common(a, b);
    let whole = |p: Integer| Rational::new(p.map(i128::from), 1);
    match *shared {
        [] => !points.is_empty(),
        [p] => points.iter().any(|q| *q != whole(p)),
        [p, q] => points.iter().any(|r| {
            let along = sub(q, p);
            let off = [0, 1, 2].map(|k| r.n[k] - i128::from(p[k]) * r.d);
            cross(along, off) != [0; 3]
        }),
        _ => true,
    }
}

/// Small whole coordinates: coplanar, touching and sharing triangles are common.
fn triangle() -> impl Strategy<Value = [Integer; 3]> {
    prop::array::uniform3(prop::array::uniform3(-2..3_i64))
}

/// A shear and scaling that keeps everything exact but takes the planes off the axes.
fn placed(t: [Integer; 3], skew: [i64; 3]) -> [[f64; 3]; 3] {
    t.map(|[x, y, z]| {
        [x + skew[0] * y, y + skew[1] * z, z + skew[2] * (x + skew[0] * y)]
            .map(|c| c as f64 / 1024.0)
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6000))]

    #[test]
    fn contact_agrees_with_rational_clipping(
        a in triangle(),
        mut b in triangle(),
        share in 0..4_usize,
        skew in prop::array::uniform3(-40_i64..40),
    ) {
        // Share corners on purpose more often than chance would.
        let shared = share.min(2);
        b[..shared].copy_from_slice(&a[..shared]);
        let (p, q) = (placed(a, skew), placed(b, skew));
        prop_assume!(!is_degenerate(&p) && !is_degenerate(&q));
        prop_assert_eq!(touch_or_cross(&p, &q), expected(a, b));
        prop_assert_eq!(touch_or_cross(&q, &p), expected(a, b));
    }
}
