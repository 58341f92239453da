//! Which kind of region a point belongs to: whether sections below and above hold it.

use super::around::{Around, Cut};
use super::expected::TOLERANCE_NM;
use super::grid::Xy;
use super::walls::Walls;
use scan_path::RegionKind;

/// The sections that decide, ready to be asked.
pub(super) struct Facing<'a> {
    only_kind: Option<RegionKind>,
    below: Option<Walls<'a>>,
    above: Option<Walls<'a>>,
}

impl<'a> Facing<'a> {
    pub(super) fn new(around: &Around<'a>, cell: f64) -> Self {
        let only_kind = around.only_kind();
        let walls = |group: &Option<Vec<&'a Cut>>| {
            group.as_ref().filter(|_| only_kind.is_none()).map(|group| Walls::new(group, cell))
        };
        Self { only_kind, below: walls(&around.below), above: walls(&around.above) }
    }

    /// The kind that a point is of; `None` where kinds meet.
    pub(super) fn kind(&self, p: Xy) -> Option<RegionKind> {
        if self.only_kind.is_some() {
            return self.only_kind;
        }
        if self.is_border(p, TOLERANCE_NM) {
            return None;
        }
        Some(if !holds(self.below.as_ref(), p) {
            RegionKind::DownFacing
        } else if !holds(self.above.as_ref(), p) {
            RegionKind::UpFacing
        } else {
            RegionKind::Core
        })
    }

    /// Whether kinds of region may meet within `reach` of a point, nm.
    pub(super) fn is_border(&self, p: Xy, reach: f64) -> bool {
        [&self.below, &self.above].into_iter().flatten().any(|walls| walls.is_near(p, reach))
    }
}

/// Whether all sections of a group hold a point; none does if one of them is empty.
fn holds(walls: Option<&Walls>, p: Xy) -> bool {
    walls.is_some_and(|walls| walls.holds(p, None))
}
