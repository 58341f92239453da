//! Draws meshes, lines and dose with wgpu; knows no job and no window.

mod blit;
pub mod camera;
pub mod chamber;
pub mod dose;
mod picture;
mod pipeline;
pub mod plan;

pub use camera::{Camera, Direction, Projection, Ray};
pub use picture::{ReadBackError, read_back};
