//! Exact tests between triangles, segments and rays.
//!
//! Every answer is decided by the sign of a determinant that is exact for all coordinates whose
//! products neither overflow nor underflow (magnitudes from 1e-60 to 1e60 mm are safe), by
//! adaptive-precision predicates (Shewchuk 1997, Discrete & Computational Geometry 18). Cheap
//! floating-point tests come first; each proves its answer by a bound on its rounding error.
//!
//! Corners at the same position count as shared, whatever their indices, so welding a mesh does
//! not change what is found.

use base::vec3::{Vec3, add, cross, dot, length, scale, sub};
use robust::{Coord, Coord3D};

type Triangle = [Vec3; 3];

/// Whether two triangles touch or cross anywhere but in the corners and edges that they share.
///
/// | shared corners | contact is                                                           |
/// |----------------|----------------------------------------------------------------------|
/// | none           | any common point, be it a touch in a single one                      |
/// | one            | any common point besides the shared corner                           |
/// | two            | folding onto each other: coplanar, on the same side of the shared edge |
/// | three          | always: they coincide                                                |
///
/// Neither may be degenerate ([`is_degenerate`]), else the answer means nothing.
#[expect(clippy::float_cmp, reason = "only the very same position is a shared corner")]
pub fn touch_or_cross(a: &[[f64; 3]; 3], b: &[[f64; 3]; 3]) -> bool {
    let mut shared = [(0, 0); 3];
    let mut count = 0;
    for (i, p) in a.iter().enumerate() {
        if let Some(j) = b.iter().position(|q| p == q) {
            shared[count] = (i, j);
            count += 1;
        }
    }
    let from = |t: &Triangle, i: usize| [t[i], t[(i + 1) % 3], t[(i + 2) % 3]];
    let (i, j) = shared[0];
    match count {
        0 => !proven_apart(a, b) && meet(a, b),
        1 => meet_besides_first_corner(&from(a, i), &from(b, j)),
        2 => {
            let (k, l) = shared[1];
            folded(a[i], a[k], a[3 - i - k], b[3 - j - l])
        }
        _ => true,
    }
}

/// Whether the three corners lie on one line, so that the triangle has no area. Exact.
pub fn is_degenerate(t: &[[f64; 3]; 3]) -> bool {
    // A computed normal that is clearly not zero settles almost every triangle.
    let (u, v) = (sub(t[1], t[0]), sub(t[2], t[0]));
    let n = cross(u, v);
    if dot(n, n) > 1e-24 * dot(u, u) * dot(v, v) {
        return false;
    }
    (0..3).all(|axis| area_sign(t[0], t[1], t[2], axis) == 0.0)
}

/// Whether a segment and a triangle that is not degenerate have a point in common. Exact.
pub fn meets_segment(t: &[[f64; 3]; 3], [p, q]: [[f64; 3]; 2]) -> bool {
    segment_meets([p, q], [above(t, p), above(t, q)], t)
}

/// What a ray in the direction of +X does at a triangle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Crossing {
    /// It passes by.
    Miss,
    /// Its origin lies on the triangle.
    Origin,
    /// It passes from the inner to the outer side.
    Leaves,
    /// It passes from the outer to the inner side.
    Enters,
}

/// Follows the ray from `p` in the direction of +X through a triangle. Exact.
///
/// A ray through an edge or a corner is moved sideways by an infinitely small amount, the same for
/// all triangles, so that of a closed surface it meets each sheet exactly once (Edelsbrunner and
/// Mücke 1990, ACM Transactions on Graphics 9). It misses every degenerate triangle.
pub fn crossing_along_x(t: &[[f64; 3]; 3], p: [f64; 3]) -> Crossing {
    let areas = [0, 1, 2].map(|i| area_sign(t[i], t[(i + 1) % 3], p, 0));
    if areas.contains(&0.0) && is_on(t, p) {
        return Crossing::Origin; // before the ray is moved away
    }
    let turns = [0, 1, 2].map(|i| side_of_line(t[i], t[(i + 1) % 3], areas[i]));
    let turn = turns[0];
    if turn == 0 || turns != [turn; 3] {
        return Crossing::Miss;
    }
    // `turn` is the sign of the normal's x: positive where the ray leaves.
    let height = above(t, p);
    if height == 0.0 {
        return Crossing::Origin;
    }
    match (turn > 0, height > 0.0) {
        (true, false) => Crossing::Leaves,
        (false, true) => Crossing::Enters,
        _ => Crossing::Miss, // the triangle's plane lies behind the origin
    }
}

/// On which side of the line `a → b` in the YZ plane lies a point `p`, moved by (ε, ε²): 1 left,
/// −1 right, 0 only if `a` and `b` coincide there. `area` is that of `a`, `b` and `p`.
fn side_of_line(a: Vec3, b: Vec3, area: f64) -> i32 {
    let sign = |s: f64| i32::from(s > 0.0) - i32::from(s < 0.0);
    // (b − a) × (ε, ε²) = (b − a).y·ε² − (b − a).z·ε; a difference is zero only of equals.
    [area, a[2] - b[2], b[1] - a[1]].map(sign).into_iter().find(|s| *s != 0).unwrap_or(0)
}

/// Whether a point lies on a triangle; on a degenerate one nothing does.
fn is_on(t: &Triangle, p: Vec3) -> bool {
    above(t, p) == 0.0 && !is_degenerate(t) && coplanar_point_inside(p, t, widest_axis(t))
}

/// Positive where `p` lies on the side from which the corners run counter-clockwise. Exact sign.
fn above(t: &Triangle, p: Vec3) -> f64 {
    let c = |p: Vec3| Coord3D { x: p[0], y: p[1], z: p[2] };
    -robust::orient3d(c(t[0]), c(t[1]), c(t[2]), c(p))
}

/// Twice the signed area of `a`, `b`, `c` seen along `axis`. Exact sign.
fn area_sign(a: Vec3, b: Vec3, c: Vec3, axis: usize) -> f64 {
    let flat = |p: Vec3| Coord { x: p[(axis + 1) % 3], y: p[(axis + 2) % 3] };
    robust::orient2d(flat(a), flat(b), flat(c))
}

/// Whether `p` and `q` lie strictly on the same side of the plane of `t`, given their heights.
fn same_strict_side(p: f64, q: f64) -> bool {
    (p > 0.0 && q > 0.0) || (p < 0.0 && q < 0.0)
}

/// Whether two triangles have a point in common. Two triangles meet exactly if an edge of one
/// meets the other.
fn meet(a: &Triangle, b: &Triangle) -> bool {
    let heights_of_b = b.map(|p| above(a, p));
    if all_on_one_side(heights_of_b) {
        return false;
    }
    let heights_of_a = a.map(|p| above(b, p));
    if all_on_one_side(heights_of_a) {
        return false;
    }
    edge_meets(b, heights_of_b, a) || edge_meets(a, heights_of_a, b)
}

fn all_on_one_side([p, q, r]: [f64; 3]) -> bool {
    same_strict_side(p, q) && same_strict_side(q, r)
}

fn edge_meets(edges: &Triangle, heights: [f64; 3], t: &Triangle) -> bool {
    (0..3).any(|i| {
        let j = (i + 1) % 3;
        segment_meets([edges[i], edges[j]], [heights[i], heights[j]], t)
    })
}

/// Two triangles whose first corners coincide meet elsewhere exactly if the edge opposite to it in
/// one meets the other: from the shared corner, a common ray leaves one of them first, and leaves
/// it through that edge.
fn meet_besides_first_corner(a: &Triangle, b: &Triangle) -> bool {
    if proven_apart_from_corner(a, b) {
        return false;
    }
    let heights_of_b = [above(a, b[1]), above(a, b[2])];
    if same_strict_side(heights_of_b[0], heights_of_b[1]) {
        return false;
    }
    let heights_of_a = [above(b, a[1]), above(b, a[2])];
    if same_strict_side(heights_of_a[0], heights_of_a[1]) {
        return false;
    }
    segment_meets([b[1], b[2]], heights_of_b, a) || segment_meets([a[1], a[2]], heights_of_a, b)
}

/// Whether the triangles `p q a` and `p q b` lie in one plane on the same side of `p q`.
fn folded(p: Vec3, q: Vec3, a: Vec3, b: Vec3) -> bool {
    let (along, u, v) = (sub(q, p), sub(a, p), sub(b, p));
    let open = dot(cross(along, u), cross(along, v));
    let scale = dot(along, along) * dot(u, u).sqrt() * dot(v, v).sqrt();
    // Every difference, product and sum is off by at most ε/2 relative; 1e-14 covers 40 of them.
    if open < -1e-14 * scale {
        return false;
    }
    if above(&[p, q, a], b) != 0.0 {
        return false;
    }
    (0..3).any(|axis| same_strict_side(area_sign(p, q, a, axis), area_sign(p, q, b, axis)))
}

/// Whether a segment has a point in common with a triangle, given the heights of its ends.
fn segment_meets([p, q]: [Vec3; 2], [height_p, height_q]: [f64; 2], t: &Triangle) -> bool {
    if same_strict_side(height_p, height_q) {
        return false;
    }
    match (height_p == 0.0, height_q == 0.0) {
        (true, true) => coplanar_segment_meets([p, q], t),
        (true, false) => coplanar_point_inside(p, t, widest_axis(t)),
        (false, true) => coplanar_point_inside(q, t, widest_axis(t)),
        (false, false) => {
            let turn = |i: usize| above(&[p, q, t[i]], t[(i + 1) % 3]);
            one_turn([turn(0), turn(1), turn(2)])
        }
    }
}

/// Whether no two of three turns contradict each other; zero goes with either.
fn one_turn(turns: [f64; 3]) -> bool {
    !(turns.iter().any(|&s| s > 0.0) && turns.iter().any(|&s| s < 0.0))
}

/// The axis along which the triangle shows some area, the most if rounding allows.
fn widest_axis(t: &Triangle) -> usize {
    let n = cross(sub(t[1], t[0]), sub(t[2], t[0])).map(f64::abs);
    let widest = if n[0] >= n[1] && n[0] >= n[2] {
        0
    } else if n[1] >= n[2] {
        1
    } else {
        2
    };
    let shows_area = |axis: &usize| area_sign(t[0], t[1], t[2], *axis) != 0.0;
    [widest, (widest + 1) % 3, (widest + 2) % 3].into_iter().find(shows_area).unwrap_or(widest)
}

fn coplanar_point_inside(p: Vec3, t: &Triangle, axis: usize) -> bool {
    let turn = |i: usize| area_sign(t[i], t[(i + 1) % 3], p, axis);
    one_turn([turn(0), turn(1), turn(2)])
}

fn coplanar_segment_meets([p, q]: [Vec3; 2], t: &Triangle) -> bool {
    let axis = widest_axis(t);
    coplanar_point_inside(p, t, axis)
        || coplanar_point_inside(q, t, axis)
        || (0..3).any(|i| coplanar_segments_meet([p, q], [t[i], t[(i + 1) % 3]], axis))
}

/// Whether two segments of one plane have a point in common, seen along `axis`.
fn coplanar_segments_meet([p, q]: [Vec3; 2], [r, s]: [Vec3; 2], axis: usize) -> bool {
    let (r_turn, s_turn) = (area_sign(p, q, r, axis), area_sign(p, q, s, axis));
    let (p_turn, q_turn) = (area_sign(r, s, p, axis), area_sign(r, s, q, axis));
    if same_strict_side(r_turn, s_turn) || same_strict_side(p_turn, q_turn) {
        return false;
    }
    // On one line they meet where their extents do on every axis; else the turns have decided.
    (r_turn != 0.0 || s_turn != 0.0)
        || (0..3).all(|k| p[k].max(q[k]) >= r[k].min(s[k]) && r[k].max(s[k]) >= p[k].min(q[k]))
}

/// Proves that a plane lies between two triangles, or gives up. Tries their planes and the planes
/// on their edges.
fn proven_apart(a: &Triangle, b: &Triangle) -> bool {
    let origin = a[0];
    let (a, b) = (a.map(|p| sub(p, origin)), b.map(|p| sub(p, origin)));
    let mut reach = [0.0_f64; 3];
    for p in a.iter().chain(&b) {
        for k in 0..3 {
            reach[k] = reach[k].max(p[k].abs());
        }
    }
    let between = |n: Vec3| {
        let ([a0, a1, a2], [b0, b1, b2]) = (a.map(|p| dot(n, p)), b.map(|p| dot(n, p)));
        // Differences, products and sums are off by at most 4·ε/2 relative, on either side.
        let margin = 8.0 * f64::EPSILON * dot(n.map(f64::abs), reach);
        let gap_above = b0.min(b1).min(b2) - a0.max(a1).max(a2);
        let gap_below = a0.min(a1).min(a2) - b0.max(b1).max(b2);
        gap_above > margin || gap_below > margin
    };
    let normal = |t: &Triangle| cross(sub(t[1], t[0]), sub(t[2], t[0]));
    let (n, m) = (normal(&a), normal(&b));
    between(n)
        || between(m)
        || (0..3).any(|i| between(cross(n, sub(a[(i + 1) % 3], a[i]))))
        || (0..3).any(|i| between(cross(m, sub(b[(i + 1) % 3], b[i]))))
}

/// Proves that a plane through the shared first corner lies between two triangles, or gives up.
/// Tries the plane halfway between the directions in which they extend.
fn proven_apart_from_corner(a: &Triangle, b: &Triangle) -> bool {
    let origin = a[0];
    let [a1, a2, b1, b2] = [a[1], a[2], b[1], b[2]].map(|p| sub(p, origin));
    let unit = |p: Vec3| scale(p, 1.0 / length(p));
    let n = sub(add(unit(b1), unit(b2)), add(unit(a1), unit(a2)));
    let n_abs = n.map(f64::abs);
    // As above: a side is certain beyond 4·ε/2 of the sum of magnitudes; NaN fails both.
    let clear = |p: Vec3| dot(n, p) > 4.0 * f64::EPSILON * dot(n_abs, p.map(f64::abs));
    let opposite = |p: Vec3| clear(p.map(|c| -c));
    clear(b1) && clear(b2) && opposite(a1) && opposite(a2)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FLAT: Triangle = [[0., 0., 0.], [4., 0., 0.], [0., 4., 0.]];

    #[track_caller]
    fn check(a: Triangle, b: Triangle, expected: bool) {
        for turn in 0..3 {
            let (mut a, mut b) = (a, b);
            a.rotate_left(turn);
            for _ in 0..2 {
                b.reverse();
                assert_eq!(touch_or_cross(&a, &b), expected, "{a:?} {b:?}");
                assert_eq!(touch_or_cross(&b, &a), expected, "{b:?} {a:?}");
            }
        }
    }

    #[test]
    fn a_piercing_triangle_meets_and_a_hovering_one_does_not() {
        check(FLAT, [[1., 1., -1.], [1., 1., 1.], [9., 9., 0.]], true);
        check(FLAT, [[1., 1., 1e-300], [1., 1., 1.], [9., 9., 1.]], false);
        check(FLAT, [[3., 3., -1.], [3., 3., 1.], [9., 9., 0.]], false);
    }

    #[test]
    fn touching_in_one_point_counts() {
        check(FLAT, [[1., 1., 0.], [1., 1., 1.], [2., 1., 1.]], true); // corner on face
        check(FLAT, [[2., 2., 0.], [3., 3., 1.], [3., 3., -1.]], true); // corner on edge
        check(FLAT, [[2., 2., -1.], [2., 2., 1.], [5., 5., 0.]], true); // edge on edge
    }

    #[test]
    fn coplanar_overlap_counts_and_coplanar_neighbours_do_not() {
        check(FLAT, [[1., 1., 0.], [2., 1., 0.], [1., 2., 0.]], true); // inside
        check(FLAT, [[-1., 1., 0.], [9., 1., 0.], [9., 2., 0.]], true); // across
        check(FLAT, [[3., 3., 0.], [4., 3., 0.], [3., 4., 0.]], false);
    }

    #[test]
    fn a_shared_edge_is_a_contact_only_when_folded() {
        check(FLAT, [[0., 0., 0.], [4., 0., 0.], [1., 1., 0.]], true);
        check(FLAT, [[0., 0., 0.], [4., 0., 0.], [1., 1., 1e-12]], false);
        check(FLAT, [[0., 0., 0.], [4., 0., 0.], [1., -1., 0.]], false);
        check(FLAT, [[0., 0., 0.], [4., 0., 0.], [1., 0., 1.]], false);
    }

    #[test]
    fn a_shared_corner_is_a_contact_only_with_a_further_point() {
        check(FLAT, [[0., 0., 0.], [1., 1., 0.], [1., 2., 0.]], true); // coplanar, inside
        check(FLAT, [[0., 0., 0.], [-1., 0., 0.], [0., -1., 0.]], false); // coplanar, beside
        check(FLAT, [[0., 0., 0.], [5., 5., 1.], [5., 5., -1.]], true); // cuts through
        check(FLAT, [[0., 0., 0.], [1., 1., 0.], [1., 1., 1.]], true); // stands on it
        check(FLAT, [[0., 0., 0.], [1., 1., 1.], [2., 1., 1.]], false); // rises
        check(FLAT, [[0., 0., 0.], [2., 0., 0.], [2., 0., 1.]], true); // runs along half an edge
    }

    #[test]
    fn coinciding_triangles_meet() {
        check(FLAT, FLAT, true);
    }

    #[test]
    fn degenerate_means_collinear_exactly() {
        assert!(is_degenerate(&[[0.1, 0.1, 0.1], [0.2, 0.2, 0.2], [0.4, 0.4, 0.4]]));
        assert!(is_degenerate(&[[1., 2., 3.]; 3]));
        assert!(!is_degenerate(&[[0.1, 0.1, 0.1], [0.2, 0.2, 0.2], [0.4, 0.4, 0.4_f64.next_up()]]));
        assert!(!is_degenerate(&FLAT));
    }

    #[test]
    fn a_ray_leaves_where_the_normal_points_along_it() {
        let out = [[5., 0., 0.], [5., 4., 0.], [5., 0., 4.]]; // normal +X
        let mut inward = out;
        inward.reverse();
        assert_eq!(crossing_along_x(&out, [0., 1., 1.]), Crossing::Leaves);
        assert_eq!(crossing_along_x(&inward, [0., 1., 1.]), Crossing::Enters);
        assert_eq!(crossing_along_x(&out, [5., 1., 1.]), Crossing::Origin);
        assert_eq!(crossing_along_x(&out, [6., 1., 1.]), Crossing::Miss);
        assert_eq!(crossing_along_x(&out, [0., 3., 3.]), Crossing::Miss);
        assert_eq!(crossing_along_x(&FLAT, [-1., 1., 0.]), Crossing::Miss); // edge on
        assert_eq!(crossing_along_x(&FLAT, [1., 1., 0.]), Crossing::Origin);
        assert_eq!(crossing_along_x(&FLAT, [0., 4., 0.]), Crossing::Origin);
        assert_eq!(crossing_along_x(&FLAT, [3., 3., 0.]), Crossing::Miss);
    }

    #[test]
    fn coordinates_beyond_all_reason_do_not_panic() {
        let far = [[1e300, 0., 0.], [0., 1e300, 1e-300], [-1e300, 1e300, f64::MAX]];
        touch_or_cross(&far, &FLAT);
        touch_or_cross(&far, &far.map(|p| p.map(|c| c * 0.5)));
        crossing_along_x(&far, [0.; 3]);
        is_degenerate(&far);
    }
}
