//! The few vector operations on plain arrays that the crate needs.

pub(crate) type Vec3 = [f64; 3];

pub(crate) fn sub(p: Vec3, q: Vec3) -> Vec3 {
    [p[0] - q[0], p[1] - q[1], p[2] - q[2]]
}

pub(crate) fn add(p: Vec3, q: Vec3) -> Vec3 {
    [p[0] + q[0], p[1] + q[1], p[2] + q[2]]
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
