//! The clearance between two selected placements, as a dimension line.

use base::{Affine, PlacementId, Progress};
use mesh::distance::{Posed, Query, distance};
use nesting::Solid;
use std::sync::Arc;

/// One side of a query: which placement, its solid, where it stands.
#[derive(Clone)]
pub(super) struct QuerySide {
    pub(super) at: PlacementId,
    pub(super) solid: Arc<Solid>,
    pub(super) pose: Affine,
}

/// How near are these two?
#[derive(Clone)]
pub(super) struct ClearanceQuery {
    pub(super) sides: [QuerySide; 2],
}

impl Clearance {
    /// In words.
    pub(super) fn words(&self) -> String {
        if self.distance_mm > 0.0 {
            format!("{:.2} mm", self.distance_mm)
        } else {
            "touch or overlap".to_owned()
        }
    }
}

/// The answer, with what was asked, so that an answer that is out of date is known as such.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Clearance {
    pub(super) of: [(PlacementId, Affine); 2],
    pub(super) distance_mm: f64,
    pub(super) points_mm: [[f64; 3]; 2],
}

impl ClearanceQuery {
    /// What is asked: an answer with the same key answers it.
    pub(super) fn key(&self) -> [(PlacementId, Affine); 2] {
        [0, 1].map(|k| (self.sides[k].at, self.sides[k].pose))
    }

    /// Measures; `None` for parts without a surface.
    pub(super) fn answer(&self, progress: &Progress) -> Option<Clearance> {
        let [a, b] = [0, 1]
            .map(|k| Posed { surface: self.sides[k].solid.surface(), pose: self.sides[k].pose });
        let found = distance(&a, &b, &Query::default(), progress).ok()??;
        Some(Clearance {
            of: self.key(),
            distance_mm: found.distance_mm,
            points_mm: found.points_mm,
        })
    }
}
