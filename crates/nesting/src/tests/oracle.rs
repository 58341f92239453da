//! Distances by brute force, in formulas that share nothing with the code under test: all triangles of
//! one body against all of another.

use crate::Space;
use crate::solid::Body;
use base::Affine;
use base::vec3::{Vec3, cross, dot, sub};
use mesh::Mesh;

pub(crate) type Triangles = Vec<[Vec3; 3]>;

pub(crate) fn triangles(mesh: &Mesh, pose: &Affine) -> Triangles {
    (0..mesh.triangles.len()).map(|t| mesh.corners(t).map(|c| pose.apply(c))).collect()
}

pub(crate) fn triangles_of(body: &Body) -> Triangles {
    triangles(body.solid.mesh(), &body.pose)
}

/// Of two bodies; negative if they overlap.
pub(crate) fn distance(a: &[[Vec3; 3]], b: &[[Vec3; 3]]) -> f64 {
    if inside(a[0][0], b) || inside(b[0][0], a) {
        return -1.0;
    }
    let pairs = a.iter().flat_map(|s| b.iter().map(move |t| triangle_distance(s, t)));
    pairs.fold(f64::INFINITY, f64::min)
}

/// The least distance of any two bodies.
pub(crate) fn least_distance(bodies: &[Body]) -> f64 {
    let all: Vec<Triangles> = bodies.iter().map(triangles_of).collect();
    let pairs = (0..all.len()).flat_map(|i| (0..i).map(move |j| (i, j)));
    pairs.map(|(i, j)| distance(&all[i], &all[j])).fold(f64::INFINITY, f64::min)
}

#[track_caller]
pub(crate) fn assert_within_walls(body: &[[Vec3; 3]], space: &Space) {
    let wall = space.wall_clearance_mm - 1e-6;
    for c in body.iter().flatten() {
        assert!(c[0].abs() <= space.size_mm[0] / 2.0 - wall && c[2] >= wall, "{c:?}");
        assert!(c[1].abs() <= space.size_mm[1] / 2.0 - wall, "{c:?}");
        assert!(c[2] <= space.size_mm[2] - wall, "{c:?}");
    }
}

/// By the winding number along an odd direction; parts that merely touch are not inside.
fn inside(p: Vec3, body: &[[Vec3; 3]]) -> bool {
    let d = [0.5771, 0.5883, 0.5667];
    let mut winding = 0;
    for t in body {
        let (u, v, w) = (sub(t[1], t[0]), sub(t[2], t[0]), sub(p, t[0]));
        let q = cross(d, v);
        let det = dot(u, q);
        if det.abs() < 1e-12 {
            continue;
        }
        let a = dot(w, q) / det;
        let r = cross(w, u);
        let (b, s) = (dot(d, r) / det, dot(v, r) / det);
        if s.abs() < 1e-6 {
            return false;
        }
        if a > 0.0 && b > 0.0 && a + b < 1.0 && s > 0.0 {
            winding += if det > 0.0 { 1 } else { -1 };
        }
    }
    winding != 0
}

fn triangle_distance(s: &[Vec3; 3], t: &[Vec3; 3]) -> f64 {
    let edge = |t: &[Vec3; 3], i: usize| [t[i], t[(i + 1) % 3]];
    let mut least = f64::INFINITY;
    for i in 0..3 {
        least = least.min(point_triangle(s[i], t)).min(point_triangle(t[i], s));
        for j in 0..3 {
            least = least.min(segments(edge(s, i), edge(t, j)));
        }
        if pierces(edge(s, i), t) || pierces(edge(t, i), s) {
            return -1.0;
        }
    }
    least
}

/// Clearly through the inside of the triangle.
fn pierces([p, q]: [Vec3; 2], t: &[Vec3; 3]) -> bool {
    const E: f64 = 1e-6;
    let (d, u, v, w) = (sub(q, p), sub(t[1], t[0]), sub(t[2], t[0]), sub(p, t[0]));
    let h = cross(d, v);
    let det = dot(u, h);
    if det.abs() < 1e-12 {
        return false;
    }
    let r = cross(w, u);
    let (a, b, s) = (dot(w, h) / det, dot(d, r) / det, dot(v, r) / det);
    a > E && b > E && a + b < 1.0 - E && s > E && s < 1.0 - E
}

fn point_triangle(p: Vec3, t: &[Vec3; 3]) -> f64 {
    let (u, v) = (sub(t[1], t[0]), sub(t[2], t[0]));
    let n = cross(u, v);
    let nn = dot(n, n);
    if nn > 0.0 {
        let w = sub(p, t[0]);
        let (b, c) = (dot(cross(w, v), n) / nn, dot(cross(u, w), n) / nn);
        if b >= 0.0 && c >= 0.0 && b + c <= 1.0 {
            return dot(w, n).abs() / nn.sqrt();
        }
    }
    (0..3).map(|i| segments([p, p], [t[i], t[(i + 1) % 3]])).fold(f64::INFINITY, f64::min)
}

/// Distance of two segments (Ericson 2005, Real-Time Collision Detection, section 5.1.9).
fn segments([p1, q1]: [Vec3; 2], [p2, q2]: [Vec3; 2]) -> f64 {
    let (d1, d2, r) = (sub(q1, p1), sub(q2, p2), sub(p1, p2));
    let (a, e, f) = (dot(d1, d1), dot(d2, d2), dot(d2, r));
    let (s, t);
    if a <= 1e-18 && e <= 1e-18 {
        (s, t) = (0.0, 0.0);
    } else if a <= 1e-18 {
        (s, t) = (0.0, (f / e).clamp(0.0, 1.0));
    } else {
        let c = dot(d1, r);
        if e <= 1e-18 {
            (s, t) = ((-c / a).clamp(0.0, 1.0), 0.0);
        } else {
            let b = dot(d1, d2);
            let den = a * e - b * b;
            let s0 = if den > 1e-18 { ((b * f - c * e) / den).clamp(0.0, 1.0) } else { 0.0 };
            let t0 = (b * s0 + f) / e;
            (s, t) = if t0 < 0.0 {
                ((-c / a).clamp(0.0, 1.0), 0.0)
            } else if t0 > 1.0 {
                (((b - c) / a).clamp(0.0, 1.0), 1.0)
            } else {
                (s0, t0)
            };
        }
    }
    let gap: Vec3 = [0, 1, 2].map(|k| p1[k] + d1[k] * s - p2[k] - d2[k] * t);
    dot(gap, gap).sqrt()
}
