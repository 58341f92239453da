//! Moves by exact distances of triangles: no voxels, nothing of the search.
//!
//! [`distance`] measures two bodies. [`placed_bodies`] holds all bodies of a build at their places.
//! [`slide`] moves one body in a straight line as far as clearances allow, [`motion`] does so by hand,
//! with what is pushed; [`separation`] moves all bodies at once by linear programs
//! ([`linear_program`]), and [`touching`] lets bodies sink that may touch each other.

pub(crate) mod distance;
mod linear_program;
pub(crate) mod motion;
pub(crate) mod placed_bodies;
pub(crate) mod separation;
mod slabs;
pub(crate) mod slide;
pub(crate) mod touching;
