//! The few vector operations on plain arrays that the crate needs.

pub(crate) type Vec3 = [f64; 3];

pub(crate) fn add(p: Vec3, q: Vec3) -> Vec3 {
    [p[0] + q[0], p[1] + q[1], p[2] + q[2]]
}

pub(crate) fn sub(p: Vec3, q: Vec3) -> Vec3 {
    [p[0] - q[0], p[1] - q[1], p[2] - q[2]]
}

pub(crate) fn scale(p: Vec3, s: f64) -> Vec3 {
    p.map(|c| c * s)
}

pub(crate) fn dot(p: Vec3, q: Vec3) -> f64 {
    p[0] * q[0] + p[1] * q[1] + p[2] * q[2]
}

pub(crate) fn cross(p: Vec3, q: Vec3) -> Vec3 {
    [p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]]
}

pub(crate) fn length(p: Vec3) -> f64 {
    dot(p, p).sqrt()
}

/// The point halfway; safe against overflow.
pub(crate) fn midpoint(p: Vec3, q: Vec3) -> Vec3 {
    add(scale(p, 0.5), scale(q, 0.5))
}

/// The centroid of a triangle; safe against overflow.
pub(crate) fn centroid([a, b, c]: [Vec3; 3]) -> Vec3 {
    let third = 1.0 / 3.0;
    add(add(scale(a, third), scale(b, third)), scale(c, third))
}
