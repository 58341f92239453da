//! What lies under the pointer: a mark, a placement.

use super::canvas::Canvas;
use super::preparing::Ready;
use super::state::PlanView;
use crate::state::model::Model;
use base::{PlacementId, Point};
use egui::Pos2;
use region::Containment;
use scan_path::ExposureKind;

/// How near to a mark the pointer must be to mean it, points.
const REACH: f64 = 6.0;

impl PlanView {
    /// The mark under the pointer, of the kinds that are drawn, by its move.
    pub(super) fn mark_at(&self, canvas: &Canvas, at: Pos2, ready: &Ready) -> Option<usize> {
        let shown = &ready.drawing.shown;
        let is_drawn = |index: usize| {
            let block = shown.timeline.moves().get(index).map(|step| step.block as usize);
            match block.and_then(|block| shown.layer.blocks.get(block)).map(|block| block.kind) {
                Some(ExposureKind::Contour) => self.elements.contours,
                Some(ExposureKind::Hatch) => self.elements.hatch,
                Some(ExposureKind::Centreline) => self.elements.centrelines,
                None => false,
            }
        };
        let reach_nm = canvas.reach_nm(REACH);
        ready.drawing.mark_grid.nearest(&shown.timeline, canvas.nm(at), reach_nm, is_drawn)
    }

    /// The placement under the pointer: whose section it is in, or whose mark is near.
    pub(super) fn placement_at(
        &self,
        canvas: &Canvas,
        at: Pos2,
        ready: &Ready,
    ) -> Option<PlacementId> {
        let shown = &ready.drawing.shown;
        let [x, y] = canvas.nm(at);
        #[expect(clippy::cast_possible_truncation, reason = "saturates at the ends of the grid")]
        let point = Point::new(x.round() as i32, y.round() as i32);
        let holds = |region: &region::Region| {
            region.bounds().is_some_and(|(low, high)| {
                let inside = |c: i32, low: i32, high: i32| (low..=high).contains(&c);
                inside(point.x, low.x, high.x)
                    && inside(point.y, low.y, high.y)
                    && region.contains(point) != Containment::Outside
            })
        };
        let row = shown.regions.iter().position(holds).and_then(|row| u32::try_from(row).ok());
        let row = row.or_else(|| {
            let step = shown.timeline.moves().get(self.mark_at(canvas, at, ready)?)?;
            Some(shown.layer.blocks.get(step.block as usize)?.placement)
        });
        Model::placement_of_row(shown, row?)
    }
}
