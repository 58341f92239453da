//! Why a mesh cannot be sectioned.

use base::{Cancelled, OffGrid};

/// Why a placed mesh could not be prepared for slicing.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SlicingError {
    /// The layer thickness is zero, negative or not finite.
    #[error("layer thickness {mm} mm: give a thickness above zero")]
    LayerThickness {
        /// The thickness asked for, mm.
        mm: f64,
    },
    /// A coefficient of the pose is NaN or infinite.
    #[error("the placement's transform holds a number that is not finite")]
    PoseNotFinite,
    /// The topology was made from another mesh.
    #[error(
        "the topology covers {topology_triangles} triangles and {topology_vertices} vertices, the \
         mesh has {mesh_triangles} and {mesh_vertices}: make it anew from this mesh"
    )]
    ForeignTopology {
        /// Triangles the topology covers.
        topology_triangles: usize,
        /// Vertices of the mesh it was made from.
        topology_vertices: usize,
        /// Triangles of the mesh given.
        mesh_triangles: usize,
        /// Vertices of the mesh given.
        mesh_vertices: usize,
    },
    /// A placed vertex lies outside the grid of the plane.
    #[error("vertex {vertex} is placed where the build cannot be: {source}")]
    OffGrid {
        /// Index into the mesh's vertices.
        vertex: usize,
        /// The offending coordinate.
        source: OffGrid,
    },
    /// The part, moved over by whole nanometres, leaves the grid of the plane.
    #[error("moved by ({dx_nm}, {dy_nm}) nm the part leaves the grid of ±1073 mm")]
    MovedOffGrid {
        /// nm to the right.
        dx_nm: i32,
        /// nm to the back.
        dy_nm: i32,
    },
    /// A placed vertex lies too many layers above or below the build platform.
    #[error(
        "vertex {vertex} is placed at height {z_mm} mm, too far for layers of {thickness_mm} mm"
    )]
    TooHigh {
        /// Index into the mesh's vertices.
        vertex: usize,
        /// Its height, mm.
        z_mm: f64,
        /// Layer thickness, mm.
        thickness_mm: f64,
    },
    /// The part spans more layers than can be indexed.
    #[error("the part spans {layers} layers, at most {limit} are possible: use thicker layers")]
    TooManyLayers {
        /// Layers between the part's lowest and highest vertex.
        layers: u64,
        /// The most that can be indexed.
        limit: u64,
    },
    /// Not a failure; see [`Cancelled`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
