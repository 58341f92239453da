//! One part of a mesh file.

use crate::Mesh;

/// One part of a file.
#[derive(Clone, Debug, PartialEq)]
pub struct ImportedObject {
    /// As in the file; empty if it has none.
    pub name: String,
    /// Of the build item or else of its object; 3MF only.
    pub part_number: Option<String>,
    /// In mm, in the frame of the file; build items of 3MF are moved to where the file puts them.
    pub mesh: Mesh,
    /// Centre of the bounding box of a build item in the frame of 3MF: mm, origin at the front
    /// left corner of the platform. See [`super::centre_from_corner`].
    pub item_location_mm: Option<[f64; 3]>,
}

impl ImportedObject {
    /// An object of which only the mesh is known.
    pub(super) fn unnamed(mesh: Mesh) -> Self {
        Self { name: String::new(), part_number: None, mesh, item_location_mm: None }
    }
}
