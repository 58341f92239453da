//! Draws meshes and lines with wgpu; knows no job and no window.

pub mod plan;
