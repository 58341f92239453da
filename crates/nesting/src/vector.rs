//! The few vector operations that the crate needs.

pub(crate) use base::vec3::{Vec3, cross, dot, sub};
