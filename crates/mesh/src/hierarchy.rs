//! Bounding volume hierarchy: which triangles of a mesh may be near a place, or near each other.
//!
//! A binary tree of axis-parallel boxes in one flat array, split by the surface area heuristic
//! over bins (Wald 2007, IEEE Symposium on Interactive Ray Tracing). Boxes are stored in single
//! precision, rounded outwards, so they never miss what lies in them; whatever needs an exact
//! answer takes the candidates and asks [`crate::intersect`].

mod boxes;
mod build;
mod check;
mod pairs;
mod ray;
mod tree;

pub use check::IllFormed;
pub use ray::Hit;
pub use tree::Hierarchy;
