//! Parts as voxels.
//!
//! [`mask`] is a box of bits, [`voxelise`] sets the bits that triangles meet, [`resolution`] says how
//! large voxels are and how they are rounded, and [`shape`] is one item in one orientation, ready for
//! collision tests. [`column_extents`] is the part seen along an axis, for taking parts out.

pub(crate) mod column_extents;
pub(crate) mod mask;
pub(crate) mod resolution;
pub(crate) mod shape;
pub(super) mod voxelise;
