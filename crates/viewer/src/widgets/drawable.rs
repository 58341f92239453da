//! A mesh that is ready to be drawn in 3D: made in the background for the chamber, and drawn by the
//! thumbnails too.

use pipeline::LoadedMesh;
use render::chamber::{MeshId, PreparedMesh};
use std::sync::Arc;

/// See the module.
pub(crate) struct DrawableMesh {
    /// As it was read.
    pub(crate) loaded: Arc<LoadedMesh>,
    /// Its id; never given to another mesh.
    pub(crate) id: MeshId,
    /// For the renderer.
    pub(crate) drawn: Arc<PreparedMesh>,
}
