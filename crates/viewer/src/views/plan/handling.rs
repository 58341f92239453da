//! What the pointer does in the plan: pan, zoom, select, move, measure, ask.

use super::canvas::Canvas;
use super::measure::{self, Measure};
use super::preparing::Ready;
use super::state::{Dragging, PlanView};
use super::words;
use crate::state::actions::{Action, selected_by_click};
use crate::state::commands::Command;
use crate::state::drag::DragUpdate;
use crate::state::model::Model;
use crate::state::moves::{DragRequest, DragStart};
use base::NM_PER_MM;
use egui::{CursorIcon, Key, PointerButton, Pos2, Response, Role, Sense, Ui, WidgetInfo};

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
            let measured = self.measure.ends.map(measure::words);
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

        let idle = self.dragging.is_nothing() && !self.measure.on;
        let under = response.hover_pos().filter(|_| idle && !self.is_moving);
        let stale = model.shown_layer().is_none_or(|(_, stale)| stale);
        let hovered = |at: Pos2| ready.filter(|_| !stale).and_then(|r| self.mark_at(canvas, at, r));
        self.hovered = under.and_then(hovered);
        self.click(ui, &response, canvas, ready, actions);
        self.menu(&response, ready, actions);
        if let Some(ready) = ready {
            self.explain(ui, response, canvas, under, model, ready);
        }
        pointer
    }

    /// A click sets an end of the measure, or selects.
    fn click(
        &mut self,
        ui: &Ui,
        response: &Response,
        canvas: &Canvas,
        ready: Option<&Ready>,
        actions: &mut Vec<Action>,
    ) {
        if self.measure.waits
            && let (Some(at), Some(ends)) = (response.hover_pos(), &mut self.measure.ends)
        {
            ends[1] = Measure::snapped(canvas, at, ready).0;
        }
        let Some(at) = response.interact_pointer_pos().filter(|_| response.clicked()) else {
            return;
        };
        if self.measure.on {
            self.measure.click(Measure::snapped(canvas, at, ready).0);
        } else {
            self.measure.ends = None;
            let hit = ready.and_then(|ready| self.placement_at(canvas, at, ready));
            actions.extend(selected_by_click(hit, ui.input(|input| input.modifiers)));
        }
    }

    /// Says what the mark under the pointer is, and what a drag would do.
    fn explain(
        &self,
        ui: &Ui,
        response: Response,
        canvas: &Canvas,
        under: Option<Pos2>,
        model: &Model,
        ready: &Ready,
    ) {
        let Some(index) = self.hovered else { return };
        let mut lines = words::about(model, &ready.drawing.shown, index);
        if let Some(part) = under.and_then(|at| self.placement_at(canvas, at, ready)) {
            let is_selected = model.selection.contains(&part);
            if is_selected {
                ui.set_cursor_icon(CursorIcon::Move);
            }
            lines.push(words::what_drags(is_selected).to_owned());
        }
        response.on_hover_ui_at_pointer(|ui| {
            for line in lines {
                ui.label(line);
            }
        });
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
                Some(_) | None => Dragging::Pan,
            };
            self.measure.used |= holds_key && self.dragging.measures();
        }
        self.go_on(ui, response, canvas, model, ready, actions);
        if response.drag_stopped() {
            match std::mem::take(&mut self.dragging) {
                Dragging::Move(_) => actions.push(DragUpdate::End.into()),
                Dragging::Nothing | Dragging::Pan | Dragging::Measure => {}
            }
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

    /// What the drag under way does in this frame.
    fn go_on(
        &mut self,
        ui: &Ui,
        response: &Response,
        canvas: &mut Canvas,
        model: &Model,
        ready: Option<&Ready>,
        actions: &mut Vec<Action>,
    ) {
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
                self.dragging = Dragging::Nothing; // cancelled
            }
            (Dragging::Move(from), Some(at)) => {
                let to = canvas.nm(at);
                let [x, y] = [0, 1].map(|i| (to[i] - from[i]) / NM_PER_MM);
                let free = ui.input(|input| input.modifiers.alt);
                actions.push(DragUpdate::Aim(DragRequest::Move([x, y, 0.0]), free).into());
                ui.set_cursor_icon(CursorIcon::Move);
            }
            (Dragging::Nothing, _) | (Dragging::Measure | Dragging::Move(_), None) => {}
        }
    }

    /// What a drag with the primary button does, from where it was pressed: what is selected moves,
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
        let selected: Vec<_> = model.arrangement.selected(&model.selection).collect();
        let Some(before) = DragStart::of(&selected) else { return Dragging::Pan };
        actions.push(DragUpdate::Begin("move", before).into());
        Dragging::Move(canvas.nm(at))
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
    let (scrolled, pinched) = ui.input(|input| (input.smooth_scroll_delta().y, input.zoom_delta()));
    let factor = f64::from(pinched) * (f64::from(scrolled) / 220.0).exp();
    if (factor - 1.0).abs() > 1e-6 {
        canvas.view = canvas.view.zoomed(factor, canvas.px(at), canvas.size_px());
    }
}
