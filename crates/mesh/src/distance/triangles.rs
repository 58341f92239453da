//! Two triangles: how far apart, and whether and how deeply they meet.

use crate::intersect::{is_degenerate, meets_segment};
use base::vec3::{Vec3, add, cross, dot, scale, sub};

type Triangle = [Vec3; 3];

/// Two points and the square of their distance.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pair {
    pub(super) square: f64,
    pub(super) points: [Vec3; 2],
}

impl Pair {
    fn new(p: Vec3, q: Vec3) -> Self {
        let d = sub(q, p);
        Self { square: dot(d, d), points: [p, q] }
    }

    fn keep_nearer(&mut self, other: Self) {
        if other.square < self.square {
            *self = other;
        }
    }
}

/// A distance that two triangles certainly have: the gap between their shadows on a line, that
/// through their middles or one of their normals. Ends early with anything of at least `enough`.
pub(super) fn certain_gap(a: &Triangle, b: &Triangle, enough: f64) -> f64 {
    let origin = a[0];
    let [a1, a2] = [sub(a[1], origin), sub(a[2], origin)];
    let b = b.map(|p| sub(p, origin));
    // The square, so that a root is taken only once.
    let gap = |d: Vec3| {
        let (s, t) = (dot(d, a1), dot(d, a2));
        let [x, y, z] = b.map(|p| dot(d, p));
        let above = x.min(y).min(z) - s.max(t).max(0.0);
        let below = s.min(t).min(0.0) - x.max(y).max(z);
        let gap = above.max(below);
        if gap > 0.0 { gap * gap / dot(d, d) } else { 0.0 }
    };
    let mut most = gap(sub(add(add(b[0], b[1]), b[2]), add(a1, a2)));
    for [s, t] in [[a1, a2], [sub(b[1], b[0]), sub(b[2], b[0])]] {
        if most >= enough * enough {
            break;
        }
        most = most.max(gap(cross(s, t)));
    }
    most.sqrt()
}

/// The nearest points of two triangles that do not meet. The nearest pair has a corner of one and a
/// point of the other, or lies within two edges.
pub(super) fn measure(a: &Triangle, b: &Triangle) -> Pair {
    let mut best = Pair { square: f64::INFINITY, points: [a[0], b[0]] };
    for p in a {
        best.keep_nearer(Pair::new(*p, nearest_on(b, *p)));
    }
    for q in b {
        best.keep_nearer(Pair::new(nearest_on(a, *q), *q));
    }
    for i in 0..3 {
        for j in 0..3 {
            let (e, f) = ([a[i], a[(i + 1) % 3]], [b[j], b[(j + 1) % 3]]);
            if let Some(pair) = within_edges(e, f) {
                best.keep_nearer(pair);
            }
        }
    }
    best
}

/// The nearest points of two lines, where they lie within the two segments; ends are left to the
/// corners (Ericson 2005, Real-Time Collision Detection, section 5.1.9).
fn within_edges([p, p1]: [Vec3; 2], [q, q1]: [Vec3; 2]) -> Option<Pair> {
    let (d, e, r) = (sub(p1, p), sub(q1, q), sub(p, q));
    let (dd, ee, de) = (dot(d, d), dot(e, e), dot(d, e));
    let (dr, er) = (dot(d, r), dot(e, r));
    let den = dd * ee - de * de;
    let s = (de * er - dr * ee) / den;
    let t = (de * s + er) / ee;
    // NaN, of parallel edges and of points, is in no range.
    ((0.0..=1.0).contains(&s) && (0.0..=1.0).contains(&t))
        .then(|| Pair::new(add(p, scale(d, s)), add(q, scale(e, t))))
}

/// The point of a triangle nearest to `p`.
pub(crate) fn nearest_on(t: &Triangle, p: Vec3) -> Vec3 {
    let (u, v, w) = (sub(t[1], t[0]), sub(t[2], t[0]), sub(p, t[0]));
    let n = cross(u, v);
    let square = dot(n, n);
    let (x, y) = (dot(cross(w, v), n) / square, dot(cross(u, w), n) / square);
    if x >= 0.0 && y >= 0.0 && x + y <= 1.0 {
        return add(t[0], add(scale(u, x), scale(v, y)));
    }
    let mut best = Pair::new(nearest_on_segment([t[0], t[1]], p), p);
    best.keep_nearer(Pair::new(nearest_on_segment([t[1], t[2]], p), p));
    best.keep_nearer(Pair::new(nearest_on_segment([t[2], t[0]], p), p));
    best.points[0]
}

fn nearest_on_segment([a, b]: [Vec3; 2], p: Vec3) -> Vec3 {
    let d = sub(b, a);
    let along = dot(sub(p, a), d) / dot(d, d);
    if along > 0.0 { add(a, scale(d, along.min(1.0))) } else { a } // NaN: both ends are one
}

/// Whether two triangles have a point in common, exactly; then one, and how deeply an edge of one
/// passes through the other: the least of how far it reaches to either side and of how far from
/// the rim it passes. 0 for a mere touch.
pub(super) fn meet_deep(a: &Triangle, b: &Triangle) -> Option<(Vec3, f64)> {
    let mut deepest: Option<(Vec3, f64)> = None;
    for (edges, face) in [(a, b), (b, a)] {
        if is_degenerate(face) {
            continue; // a face without area meets nothing that its edges do not
        }
        for i in 0..3 {
            let edge = [edges[i], edges[(i + 1) % 3]];
            if meets_segment(face, edge) {
                let found = passage(face, edge);
                if deepest.is_none_or(|d| found.1 > d.1) {
                    deepest = Some(found);
                }
            }
        }
    }
    deepest
}

/// Where an edge that meets a triangle passes through it, and how deeply.
fn passage(face: &Triangle, [p, q]: [Vec3; 2]) -> (Vec3, f64) {
    let n = cross(sub(face[1], face[0]), sub(face[2], face[0]));
    let length = dot(n, n).sqrt();
    let height = |x: Vec3| dot(n, sub(x, face[0])) / length;
    let (above, below) = (height(p), height(q));
    let span = above - below;
    let along = if span == 0.0 { 0.0 } else { (above / span).clamp(0.0, 1.0) };
    let point = add(p, scale(sub(q, p), along));
    let rim = (0..3)
        .map(|i| {
            let on = nearest_on_segment([face[i], face[(i + 1) % 3]], point);
            let d = sub(on, point);
            dot(d, d).sqrt()
        })
        .fold(f64::INFINITY, f64::min);
    let through = if above * below < 0.0 { above.abs().min(below.abs()).min(rim) } else { 0.0 };
    (point, through)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const FLAT: Triangle = [[0., 0., 0.], [4., 0., 0.], [0., 4., 0.]];

    #[track_caller]
    fn check(b: Triangle, expected: f64) {
        assert!((measure(&FLAT, &b).square.sqrt() - expected).abs() < 1e-12);
        assert!((measure(&b, &FLAT).square.sqrt() - expected).abs() < 1e-12);
    }

    #[test]
    fn corners_edges_and_faces_give_the_distance() {
        check([[1., 1., 2.], [1., 1., 5.], [2., 1., 5.]], 2.0); // corner over face
        check([[3., 3., 0.], [3., 3., 1.], [9., 9., 0.]], 2.0_f64.sqrt()); // corner by edge
        check([[-3., 0., 4.], [-4., 0., 4.], [-3., -1., 4.]], 5.0); // corner by corner
        check([[2., -5., 3.], [2., 5., 3.], [2., 0., 9.]], 3.0); // edge across edges
        check([[-1., -3., 0.], [-1., 9., 0.], [-4., 3., 0.]], 1.0); // edge along edge
        check([[1., 1., 7.]; 3], 7.0); // a point
    }

    #[test]
    fn how_deeply_triangles_meet() {
        let pierced = |z: f64| meet_deep(&FLAT, &[[1., 1., -z], [1., 1., 3.], [9., 9., 3.]]);
        assert!((pierced(0.5).unwrap().1 - 0.5).abs() < 1e-12);
        // 1 from the rim; the hypotenuse passes through the other a little deeper.
        assert!((1.0..1.3).contains(&pierced(2.0).unwrap().1));
        assert!(pierced(0.0).unwrap().1.abs() < f64::EPSILON);
        assert!(pierced(-1e-300).is_none());
        assert!(meet_deep(&FLAT, &FLAT).unwrap().1.abs() < f64::EPSILON);
    }

    proptest! {
        /// No pair of points of the two triangles is nearer than the answer, whose own points lie on
        /// them; and a proof of being farther is right.
        #[test]
        fn no_two_points_are_nearer(
            a in prop::array::uniform3(prop::array::uniform3(-5.0..5.0_f64)),
            b in prop::array::uniform3(prop::array::uniform3(-5.0..5.0_f64)),
            weights in prop::collection::vec(prop::array::uniform4(0.0..1.0_f64), 50),
            least in 0.0..5.0_f64,
        ) {
            let found = if meet_deep(&a, &b).is_some() { 0.0 } else { measure(&a, &b).square.sqrt() };
            let mix = |t: &Triangle, [x, y]: [f64; 2]| {
                let [x, y] = if x + y > 1.0 { [1.0 - x, 1.0 - y] } else { [x, y] };
                add(t[0], add(scale(sub(t[1], t[0]), x), scale(sub(t[2], t[0]), y)))
            };
            for [x, y, z, w] in weights {
                let d = sub(mix(&a, [x, y]), mix(&b, [z, w]));
                prop_assert!(dot(d, d).sqrt() >= found - 1e-9);
            }
            prop_assert!(found >= certain_gap(&a, &b, least) - 1e-9);
        }
    }
}
