//! Vectors and points of space as plain arrays, and the few operations that geometry needs.
//!
//! Plain functions, so that no type of a library appears in a signature and the order of additions is
//! the one that is written here: the same digits everywhere.

/// A point or a vector, X, Y, Z.
pub type Vec3 = [f64; 3];

/// `p + q`.
pub fn add(p: Vec3, q: Vec3) -> Vec3 {
    [p[0] + q[0], p[1] + q[1], p[2] + q[2]]
}

/// `p − q`.
pub fn sub(p: Vec3, q: Vec3) -> Vec3 {
    [p[0] - q[0], p[1] - q[1], p[2] - q[2]]
}

/// `s · p`.
pub fn scale(p: Vec3, s: f64) -> Vec3 {
    p.map(|c| c * s)
}

/// The scalar product.
pub fn dot(p: Vec3, q: Vec3) -> f64 {
    p[0] * q[0] + p[1] * q[1] + p[2] * q[2]
}

/// The vector product, right-handed: X × Y = Z.
pub fn cross(p: Vec3, q: Vec3) -> Vec3 {
    [p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]]
}

/// The length.
pub fn length(p: Vec3) -> f64 {
    dot(p, p).sqrt()
}

/// The point halfway; safe against overflow.
pub fn midpoint(p: Vec3, q: Vec3) -> Vec3 {
    add(scale(p, 0.5), scale(q, 0.5))
}

/// The centroid of a triangle; safe against overflow.
pub fn centroid([a, b, c]: [Vec3; 3]) -> Vec3 {
    let third = 1.0 / 3.0;
    add(add(scale(a, third), scale(b, third)), scale(c, third))
}
