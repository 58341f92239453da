//! The job: which parts, where, on which machine, with which recipe.

use base::Unit;
use serde::{Deserialize, Serialize};

/// What one build is to make: the content of a job file.
///
/// Paths are relative to the folder of the job file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// Version of this file's schema; see [`Job::VERSION`].
    pub version: u32,
    /// What the person calls this build.
    pub name: String,
    /// Path of the machine file.
    pub machine: String,
    /// Path of the recipe file that every part uses unless it names its own.
    pub recipe: String,
    /// The parts, in the order they are listed and numbered everywhere.
    pub parts: Vec<PartEntry>,
}

/// A mesh and how it is to be made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartEntry {
    /// What the person calls the part; unique in the job.
    pub name: String,
    /// Path of the mesh file (STL, 3MF or OBJ).
    pub mesh: String,
    /// Which object of a file that holds several, by name; all of them together when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub object: Option<String>,
    /// Unit of the numbers in the mesh file. Absent: the file's own unit (3MF) or millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
    /// Path of a recipe of this part's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recipe: Option<String>,
    /// Where copies of the part stand.
    pub placements: Vec<Placement>,
}

/// One copy of a part at a position and orientation in the build space.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Placement {
    /// Part location (ISO 17295): the geometric centre of the turned part's bounding box in the
    /// build space, mm; origin at the centre of the build platform, Z up. The part is scaled
    /// against shrinkage about this point.
    pub location_mm: [f64; 3],
    /// Turns A about X, then B about Y, then C about Z, degrees, right-handed.
    #[serde(default)]
    pub turns_deg: [f64; 3],
}
