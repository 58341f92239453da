//! What the pointer does in the plan: pan, zoom, choose, move, measure, ask.

use super::canvas::Canvas;
use super::measure::Measure;
use super::preparing::Ready;
use super::{PlanView, words};
use crate::state::actions::{Action, chosen_by_click};
use crate::state::commands::Command;
use crate::state::drag::DragUpdate;
use crate::state::model::Model;
use crate::state::moves::{DragRequest, DragStart};
use crate::state::results::ShownLayer;
use base::{NM_PER_MM, PlacementId, Point};
use egui::{
    CursorIcon, Key, Painter, PointerButton, Pos2, Response, Role, Sense, Shape, Stroke, Ui,
    WidgetInfo,
};
use region::Containment;
use scan_path::ExposureKind;

/// What a drag does.
#[derive(Default)]
pub(super) enum Dragging {
    #[default]
    Nothing,
    Pan,
    Measure,
    /// Moves what is chosen: from where the pointer was pressed, nm.
    Move([f64; 2]),
}

/// How near to a mark the pointer must be to mean it, points.
const REACH: f64 = 6.0;

impl PlanView {
    /// Takes what the pointer does; returns where it is.
    pub(super) fn handle(
        &mut self,
        ui: &mut Ui,
        canvas: &mut Canvas,
        model: &Model,
        ready: Option<&Ready>,
        actions: &mut Vec<Action>,
    ) -> Option<Pos2> {
        let id = ui.scope_id().with("drawing");
        let response = ui.interact(canvas.rect, id, Sense::click_and_drag());
        let layer = model.cursor.layer;
        response.widget_info(|| {
            let measured = self.measure.ends.map(super::measure::words);
            let measured = measured.map_or(String::new(), |words| format!(", measured: {words}"));
            let near = model.drag.nearby().map_or(String::new(), |around| model.words_of(around));
            WidgetInfo::labeled(Role::Image, true, format!("Plan of layer {layer}{measured}{near}"))
        });
        let before = canvas.view;
        zoom(ui, &response, canvas);
        let pointer = response.hover_pos().or(response.interact_pointer_pos());
        self.drag(ui, &response, canvas, model, ready, actions);
        self.is_moving = canvas.view != before;
        if self.is_moving {
            self.view = Some(canvas.view);
            self.is_held = true;
        }

        let idle = matches!(self.dragging, Dragging::Nothing) && !self.measure.on;
        let under = response.hover_pos().filter(|_| idle && !self.is_moving);
        let stale = model.shown_layer().is_none_or(|(_, stale)| stale);
        let hovered = |at: Pos2| ready.filter(|_| !stale).and_then(|r| self.mark_at(canvas, at, r));
        self.hovered = under.and_then(hovered);
        if self.measure.waits
            && let (Some(at), Some(ends)) = (response.hover_pos(), &mut self.measure.ends)
        {
            ends[1] = Measure::snapped(canvas, at, ready).0;
        }
        if response.clicked()
            && let Some(at) = response.interact_pointer_pos()
            && self.measure.on
        {
            self.measure.click(Measure::snapped(canvas, at, ready).0);
        } else if response.clicked()
            && let Some(at) = response.interact_pointer_pos()
        {
            self.measure.ends = None;
            let hit = ready.and_then(|ready| self.placement_at(canvas, at, ready));
            actions.extend(chosen_by_click(hit, ui.input(|input| input.modifiers)));
        }
        self.menu(&response, ready, actions);
        if let (Some(index), Some(ready)) = (self.hovered, ready) {
            let mut lines = words::about(model, &ready.drawing.shown, index);
            let part = under.and_then(|at| self.placement_at(canvas, at, ready));
            if let Some(part) = part {
                let is_chosen = model.selection.contains(&part);
                if is_chosen {
                    ui.set_cursor_icon(CursorIcon::Move);
                }
                lines.push(words::what_drags(is_chosen).to_owned());
            }
            response.on_hover_ui_at_pointer(|ui| {
                for line in lines {
                    ui.label(line);
                }
            });
        }
        pointer
    }

    fn drag(
        &mut self,
        ui: &Ui,
        response: &Response,
        canvas: &mut Canvas,
        model: &Model,
        ready: Option<&Ready>,
        actions: &mut Vec<Action>,
    ) {
        let holds_key = ui.input(|input| input.key_down(Key::M));
        if response.drag_started() {
            let pressed = ui.input(|input| input.pointer.press_origin());
            self.dragging = match pressed {
                Some(at) if response.drag_started_by(PointerButton::Primary) => {
                    self.started(canvas, at, model, ready, actions)
                }
                _ => Dragging::Pan,
            };
            self.measure.used |= holds_key && matches!(self.dragging, Dragging::Measure);
        }
        let at = response.interact_pointer_pos();
        match (&self.dragging, at) {
            (Dragging::Pan, _) => {
                let by = response.drag_delta();
                let scale = canvas.px_per_point();
                canvas.view = canvas.view.panned([by.x, by.y].map(|c| f64::from(c) * scale));
                ui.set_cursor_icon(CursorIcon::Grabbing);
            }
            (Dragging::Measure, Some(at)) => {
                let (to, _) = Measure::snapped(canvas, at, ready);
                if let Some(ends) = &mut self.measure.ends {
                    ends[1] = to;
                }
            }
            (Dragging::Move(_), _) if !response.drag_started() && !model.drag.is_active() => {
                self.dragging = Dragging::Nothing; // called off
            }
            (Dragging::Move(from), Some(at)) => {
                let to = canvas.nm(at);
                let [x, y] = [0, 1].map(|i| (to[i] - from[i]) / NM_PER_MM);
                let free = ui.input(|input| input.modifiers.alt);
                actions.push(DragUpdate::Aim(DragRequest::Move([x, y, 0.0]), free).into());
                ui.set_cursor_icon(CursorIcon::Move);
            }
            _ => {}
        }
        if response.drag_stopped() {
            if matches!(self.dragging, Dragging::Move(_)) {
                actions.push(DragUpdate::End.into());
            }
            self.dragging = Dragging::Nothing;
        }
        if self.measure.on {
            if response.hovered() {
                ui.set_cursor_icon(CursorIcon::Crosshair);
            }
            if self.measure.used && !holds_key && !response.dragged() {
                self.measure.on = false; // the key was held for this one
            }
        }
    }

    /// Ends whatever the pointer does here; whether it did anything.
    pub(crate) fn cancel(&mut self) -> bool {
        match std::mem::take(&mut self.dragging) {
            Dragging::Nothing => false,
            Dragging::Measure => {
                self.measure.ends = None;
                true
            }
            Dragging::Pan | Dragging::Move(_) => true,
        }
    }

    /// What a drag with the primary button does, from where it was pressed: what is chosen moves,
    /// and anything else pans, so that a part never moves unless it was meant.
    fn started(
        &mut self,
        canvas: &Canvas,
        at: Pos2,
        model: &Model,
        ready: Option<&Ready>,
        actions: &mut Vec<Action>,
    ) -> Dragging {
        if self.measure.on {
            let (from, _) = Measure::snapped(canvas, at, ready);
            (self.measure.ends, self.measure.waits) = (Some([from, from]), false);
            return Dragging::Measure;
        }
        let hit = ready.and_then(|ready| self.placement_at(canvas, at, ready));
        if !hit.is_some_and(|hit| model.selection.contains(&hit)) {
            return Dragging::Pan;
        }
        let chosen: Vec<_> = model.arrangement.chosen(&model.selection).collect();
        let Some(before) = DragStart::of(&chosen) else { return Dragging::Pan };
        actions.push(DragUpdate::Begin("move", before).into());
        Dragging::Move(canvas.nm(at))
    }

    /// The mark under the pointer, of the kinds that are drawn, by its move.
    fn mark_at(&self, canvas: &Canvas, at: Pos2, ready: &Ready) -> Option<usize> {
        let shown = &ready.drawing.shown;
        let is_drawn = |index: usize| {
            let block = shown.timeline.moves().get(index).map(|step| step.block as usize);
            match block.and_then(|block| shown.layer.blocks.get(block)).map(|block| block.kind) {
                Some(ExposureKind::Contour) => self.parts.contours,
                Some(ExposureKind::Hatch) => self.parts.hatch,
                Some(ExposureKind::Centreline) => self.parts.centrelines,
                None => false,
            }
        };
        let reach_nm = canvas.reach_nm(REACH);
        ready.drawing.near.nearest(&shown.timeline, canvas.nm(at), reach_nm, is_drawn)
    }

    /// The placement under the pointer: whose section it is in, or whose mark is near.
    fn placement_at(&self, canvas: &Canvas, at: Pos2, ready: &Ready) -> Option<PlacementId> {
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

    /// What can be done here.
    fn menu(&mut self, response: &Response, ready: Option<&Ready>, actions: &mut Vec<Action>) {
        let start_s = self.hovered.zip(ready).and_then(|(index, ready)| {
            Some(ready.drawing.shown.timeline.moves().get(index)?.start_s)
        });
        if response.secondary_clicked() {
            self.menu_time_s = start_s;
        }
        response.context_menu(|ui| {
            if let Some(time_s) = self.menu_time_s
                && ui.button("Bring the beam to this mark").clicked()
            {
                actions.push(Action::ShowTime(time_s));
                ui.close();
            }
            for command in [Command::Fit, Command::Measure, Command::SelectNone] {
                if ui.button(command.info().name).clicked() {
                    actions.push(Action::Command(command));
                    ui.close();
                }
            }
        });
    }
}

/// The wheel and two fingers zoom about the pointer.
fn zoom(ui: &Ui, response: &Response, canvas: &mut Canvas) {
    let Some(at) = response.hover_pos() else { return };
    let (turned, pinched) = ui.input(|input| (input.smooth_scroll_delta().y, input.zoom_delta()));
    let factor = f64::from(pinched) * (f64::from(turned) / 220.0).exp();
    if (factor - 1.0).abs() > 1e-6 {
        canvas.view = canvas.view.zoomed(factor, canvas.px(at), canvas.size_px());
    }
}

/// Where placements are by now that the drawn layer still has elsewhere.
pub(super) fn moved_outlines(
    painter: &Painter,
    canvas: &Canvas,
    model: &Model,
    shown: &ShownLayer,
) {
    let rows = shown.header().placements.iter().zip(&shown.regions).enumerate();
    for (row, (was, region)) in rows {
        let place = u32::try_from(row).ok().and_then(|row| Model::placement_of_row(shown, row));
        let now = place.zip(model.content()).and_then(|(place, content)| {
            content.job.parts.get(place.part)?.placements.get(place.copy)
        });
        let Some(now) =
            now.filter(|now| now.turns_deg.map(f64::to_bits) == was.turns_deg.map(f64::to_bits))
        else {
            continue;
        };
        let by = [0, 1].map(|i| (now.location_mm[i] - was.location_mm[i]) * NM_PER_MM);
        if by[0].abs() < 1.0 && by[1].abs() < 1.0 {
            continue;
        }
        let line = Stroke::new(1.5, model.ink.accent);
        for ring in region.rings() {
            let mut points: Vec<Pos2> = Vec::new();
            for p in ring {
                let at = canvas.at([f64::from(p.x) + by[0], f64::from(p.y) + by[1]]);
                if points.last().is_none_or(|last| last.distance(at) > 1.0) {
                    points.push(at);
                }
            }
            painter.add(Shape::closed_line(points, line));
        }
    }
}
