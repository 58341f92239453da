//! Mesh and heights to regions.
