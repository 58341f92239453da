//! The build in 3D, drawn as a drafting sheet: flat tones, fine creases, heavy outlines.
//!
//! A [`Scene`] is plain data. [`prepare_mesh`] makes a mesh ready away from the window's thread;
//! [`ChamberRenderer`] keeps it on the adapter, chooses what is seen and how finely (`select`), draws
//! faces, creases and the section (`scene.wgsl`) beside a mark for every pixel, and finds outlines
//! where marks or depths change (`compose.wgsl`). The result is a texture that is copied into the
//! window: this works in a window's paint callback and without a window alike.

mod creases;
mod frame;
mod pipelines;
mod prepare;
mod renderer;
mod scene;
mod select;
mod store;
mod targets;

pub use prepare::{PreparedMesh, prepare_mesh};
pub use renderer::{ChamberRenderer, FrameStats};
pub use scene::{Colour, Instance, Line3, MeshId, Palette, Scene, State, build_space};
