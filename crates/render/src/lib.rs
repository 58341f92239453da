//! Draws meshes and lines with wgpu; knows no job and no window.

pub mod camera;
pub mod chamber;
pub mod plan;

pub use camera::{Camera, Direction, Projection, Ray};
