//! Sizes that suggest another unit.
//!
//! STL and OBJ say nothing of units, and the unit in a 3MF file is often the exporter's default.
//! Thresholds are common practice, no source; over the parts of known unit in `tests/meshes` and
//! their origins they are right: parts drawn in metres measure 0.03 to 0.5, in inches 1.3 to 7.3,
//! in millimetres 20 to 360.

use super::object::ImportedObject;
use base::finding::{FileProblem, SuggestedUnit};
use base::{Finding, Unit};

/// A file below this, in any direction, is more likely in metres, mm.
pub const METRES_BELOW_MM: f64 = 1.0;
/// A file below this is more likely in inches, mm.
pub const INCHES_BELOW_MM: f64 = 10.0;
/// A file above this is more likely in microns: no machine of this kind builds it, mm.
pub const MICRONS_ABOVE_MM: f64 = 2000.0;

/// A finding if the largest side of all objects together suggests that the file is not in `unit`.
pub(super) fn check(objects: &[ImportedObject], unit: Unit) -> Option<Finding> {
    // the largest single object: a build full of small parts is large as a whole
    let largest = objects
        .iter()
        .filter_map(|object| object.mesh.bounds())
        .flat_map(|(lo, hi)| [hi[0] - lo[0], hi[1] - lo[1], hi[2] - lo[2]])
        .fold(0.0, f64::max);
    let (suggested, guess, limit_mm) = if largest <= 0.0 {
        return None;
    } else if largest < METRES_BELOW_MM {
        (SuggestedUnit::Metres, Unit::Metre, METRES_BELOW_MM)
    } else if largest < INCHES_BELOW_MM {
        (SuggestedUnit::Inches, Unit::Inch, INCHES_BELOW_MM)
    } else if largest > MICRONS_ABOVE_MM {
        (SuggestedUnit::Microns, Unit::Micron, MICRONS_ABOVE_MM)
    } else {
        return None;
    };
    let then_mm = largest / unit.mm() * guess.mm();
    let problem =
        FileProblem::SizeSuggests { unit: suggested, largest_mm: largest, then_mm, limit_mm };
    (guess != unit).then(|| Finding::new(problem))
}
