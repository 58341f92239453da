//! What the pointer does in the elevation: select, move, rotate, and show another layer.

use super::scale::Scale;
use super::silhouettes::{self, Silhouette};
use super::state::{Dragging, ElevationView, ViewSide};
use crate::state::actions::{Action, selected_by_click};
use crate::state::drag::DragUpdate;
use crate::state::model::Model;
use crate::state::moves::{DragRequest, DragStart};
use crate::state::rotation::tidy;
use egui::{CursorIcon, Painter, Pos2, Rect, Response, Sense, Stroke, Ui, WidgetInfo, pos2};

/// How far above what is selected its knob stands, and how near counts, points.
const KNOB_ABOVE: f32 = 18.0;
const KNOB: f32 = 5.0;
const KNOB_REACH: f32 = 9.0;

impl ElevationView {
    /// Takes what the pointer does.
    pub(super) fn handle(
        &mut self,
        ui: &mut Ui,
        scale: &Scale,
        rest: Rect,
        shapes: &[Silhouette],
        model: &Model,
        actions: &mut Vec<Action>,
    ) {
        let response = ui.interact(rest, ui.scope_id().with("layer"), Sense::click_and_drag());
        let count = model.layer_count();
        let layer = model.cursor.layer;
        let near = model.drag.nearby().map_or(String::new(), |around| model.words_of(around));
        response.widget_info(|| {
            WidgetInfo::slider(true, f64::from(layer), format!("Layer, of {count}{near}"))
        });
        if response.drag_started() {
            self.begin(ui, scale, shapes, model, actions);
        }
        self.go_on(ui, scale, &response, model, actions);
        if response.clicked()
            && let Some(at) = response.interact_pointer_pos()
        {
            let hit = silhouettes::hit(shapes, model, scale.mm_at(at));
            let modifiers = ui.input(|input| input.modifiers);
            match hit {
                Some(_) => actions.extend(selected_by_click(hit, modifiers)),
                None => show_layer(scale, at, model, actions),
            }
        }
        wheel(ui, &response, layer, actions);
        self.explain(ui, scale, response, shapes, model);
    }

    /// What a press means: the knob rotates, what is selected moves, anything else is the layer's line.
    fn begin(
        &mut self,
        ui: &Ui,
        scale: &Scale,
        shapes: &[Silhouette],
        model: &Model,
        actions: &mut Vec<Action>,
    ) {
        self.dragging = Dragging::Layer;
        let Some(at) = ui.input(|input| input.pointer.press_origin()) else { return };
        let selected: Vec<_> = model.arrangement.selected(&model.selection).collect();
        let Some(before) = DragStart::of(&selected) else { return };
        let knob = self.knob(scale, model).filter(|(_, knob)| knob.distance(at) <= KNOB_REACH);
        let hit = silhouettes::hit(shapes, model, scale.mm_at(at));
        if let Some((middle, _)) = knob {
            self.dragging = Dragging::Rotate(middle, angle_deg(middle, at));
            actions.push(DragUpdate::Begin("rotate", before).into());
        } else if hit.is_some_and(|hit| model.selection.contains(&hit)) {
            self.dragging = Dragging::Move(scale.mm_at(at));
            actions.push(DragUpdate::Begin("move", before).into());
        }
    }

    fn go_on(
        &mut self,
        ui: &Ui,
        scale: &Scale,
        response: &Response,
        model: &Model,
        actions: &mut Vec<Action>,
    ) {
        if self.dragging.holds() && !response.drag_started() && !model.drag.is_active() {
            self.dragging = Dragging::Nothing; // cancelled
        }
        let at = response.interact_pointer_pos();
        let free = ui.input(|input| input.modifiers.alt);
        match (self.dragging, at) {
            (Dragging::Layer, Some(at)) if response.dragged() => {
                show_layer(scale, at, model, actions);
            }
            (Dragging::Move(from), Some(at)) => {
                let (to, [across, _]) = (scale.mm_at(at), self.side.axes());
                let mut by = [0.0; 3];
                by[across] = to[0] - from[0];
                by[2] = to[1] - from[1];
                actions.push(DragUpdate::Aim(DragRequest::Move(by), free).into());
                ui.set_cursor_icon(CursorIcon::Move);
            }
            (Dragging::Rotate(middle, from), Some(at)) => {
                let by = tidy(angle_deg(middle, at) - from);
                // Counter-clockwise as seen: about X towards the eye, or against Y.
                let meant = match self.side {
                    ViewSide::Front => DragRequest::Rotate(1, -by),
                    ViewSide::Right => DragRequest::Rotate(0, by),
                };
                actions.push(DragUpdate::Aim(meant, free).into());
                ui.set_cursor_icon(CursorIcon::Grabbing);
            }
            (Dragging::Nothing | Dragging::Layer, _)
            | (Dragging::Move(_) | Dragging::Rotate(..), None) => {}
        }
        if response.drag_stopped() {
            if self.dragging.holds() {
                actions.push(DragUpdate::End.into());
            }
            self.dragging = Dragging::Nothing;
        }
    }

    /// Says what can be done under the pointer.
    fn explain(
        &self,
        ui: &Ui,
        scale: &Scale,
        response: Response,
        shapes: &[Silhouette],
        model: &Model,
    ) {
        let Some(at) = response.hover_pos().filter(|_| self.dragging == Dragging::Nothing) else {
            return;
        };
        if self.knob(scale, model).is_some_and(|(_, knob)| knob.distance(at) <= KNOB_REACH) {
            ui.set_cursor_icon(CursorIcon::Grab);
            let says = "Drag: rotates what is selected, as seen from here, in steps of 5°; with Alt \
                        freely.";
            response.on_hover_text_at_pointer(says);
        } else if let Some(hit) = silhouettes::hit(shapes, model, scale.mm_at(at)) {
            let name = model.placement_name(hit);
            let says = if model.selection.contains(&hit) {
                ui.set_cursor_icon(CursorIcon::Move);
                format!(
                    "{name}\nDrag: moves it, with Alt without steps. Drag beside it: shows another layer."
                )
            } else {
                format!("{name}\nClick: selects it, and a drag then moves it.")
            };
            response.on_hover_text_at_pointer(says);
        }
    }

    /// The middle of what is selected, and the knob that rotates it, on the screen.
    fn knob(&self, scale: &Scale, model: &Model) -> Option<(Pos2, Pos2)> {
        let frame = silhouettes::frame_of_selected(self.side, scale, model)?;
        let above = frame.top() - KNOB_ABOVE;
        // Below what stands close to the top.
        let y = if above < scale.area.top() { frame.bottom() + KNOB_ABOVE } else { above };
        Some((frame.center(), pos2(frame.center().x, y)))
    }

    /// Draws the knob; while it is dragged, it follows the pointer's angle.
    pub(super) fn draw_knob(&self, painter: &Painter, scale: &Scale, model: &Model) {
        let Some((middle, knob)) = self.knob(scale, model) else { return };
        let is_held = match self.dragging {
            Dragging::Rotate(..) => true,
            Dragging::Nothing | Dragging::Layer | Dragging::Move(_) => false,
        };
        let line = Stroke::new(if is_held { 2.2 } else { 1.3 }, model.ink.accent);
        let way = (knob - middle).normalized();
        painter.line_segment([middle, knob - way * KNOB], line);
        painter.circle(knob, KNOB, model.ink.sheet, line);
        painter.circle_filled(middle, 1.8, model.ink.accent);
    }
}

/// Counter-clockwise from the right.
fn angle_deg(middle: Pos2, at: Pos2) -> f64 {
    f64::from((middle.y - at.y).atan2(at.x - middle.x)).to_degrees()
}

fn show_layer(scale: &Scale, at: Pos2, model: &Model, actions: &mut Vec<Action>) {
    let Some(top) = model.layer_count().checked_sub(1) else { return };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
    let layer = (scale.z(at.y) / model.layer_thickness_mm()).floor().max(0.0) as u32;
    actions.push(Action::ShowLayer(layer.min(top)));
}

/// The wheel steps through the layers.
fn wheel(ui: &Ui, response: &Response, layer: u32, actions: &mut Vec<Action>) {
    if !response.hovered() {
        return;
    }
    let scrolled = ui.input(|input| input.smooth_scroll_delta().y);
    if scrolled.abs() > 0.5 {
        let step = (scrolled.abs() / 8.0).ceil().min(20.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "1 to 20")]
        let step = step as u32;
        let layer = if scrolled > 0.0 { layer + step } else { layer.saturating_sub(step) };
        actions.push(Action::ShowLayer(layer));
    }
}
