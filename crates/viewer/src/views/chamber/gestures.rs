//! What the pointer does: look around, pick, draw a box, move and rotate.

use super::handles::{Grip, HandleDrag, Handles};
use super::picking::Picked;
use super::state::{ChamberView, Gesture};
use crate::state::actions::{Action, Selecting, selected_by_click};
use crate::state::arrangement::{Arrangement, single, vec3};
use crate::state::drag::DragUpdate;
use crate::state::model::Model;
use crate::state::moves::DragStart;
use base::PlacementId;
use egui::{CursorIcon, Modifiers, PointerButton, Pos2, Rect, Response, Ui};
use glam::{Vec2, Vec3};
use render::Ray;

/// The view under the pointer in this frame.
pub(super) struct Pointer<'a> {
    pub(super) rect: Rect,
    pub(super) response: &'a Response,
    pub(super) section_mm: Option<f64>,
}

impl Pointer<'_> {
    fn pixel(&self, at: Pos2, ppp: f32) -> Vec2 {
        let at = (at - self.rect.min) * ppp;
        Vec2::new(at.x, at.y)
    }
}

impl ChamberView {
    /// Lets the pointer act.
    pub(super) fn act(
        &mut self,
        ui: &Ui,
        pointer: &Pointer<'_>,
        model: &Model,
        arrangement: &Arrangement,
        mut handles: Option<&mut Handles>,
        actions: &mut Vec<Action>,
    ) {
        let ppp = ui.pixels_per_point();
        let modifiers = ui.input(|input| input.modifiers);
        self.hover(ui, pointer, arrangement, handles.as_deref_mut());
        self.begin(ui, pointer, model, handles.as_deref(), actions);
        self.take_box(ui, pointer, arrangement, actions);
        self.go_on(ui, pointer, model, handles, actions);
        self.wheel(ui, pointer);
        let response = pointer.response;
        if response.clicked()
            && let Some(at) = response.interact_pointer_pos()
        {
            let ray = self.camera.ray(pointer.pixel(at, ppp));
            let picked = self.pick(arrangement, &ray, pointer.section_mm).map(|picked| picked.at);
            actions.extend(selected_by_click(picked, modifiers));
        }
        if response.double_clicked()
            && let Some(at) = response.interact_pointer_pos()
        {
            let ray = self.camera.ray(pointer.pixel(at, ppp));
            if let Some(placed) = self
                .pick(arrangement, &ray, None)
                .and_then(|picked| arrangement.placement(picked.at))
            {
                let mut to = self.camera;
                to.fit(vec3(placed.low), vec3(placed.high));
                to.zoom(1.6, to.target);
                self.fly(ui, to, false);
            }
        }
        if response.secondary_clicked()
            && let Some(at) = response.interact_pointer_pos()
        {
            let ray = self.camera.ray(pointer.pixel(at, ppp));
            self.menu_on = self.pick(arrangement, &ray, pointer.section_mm);
            if let Some(picked) = self.menu_on
                && !model.selection.contains(&picked.at)
            {
                actions.push(Action::Select(Selecting::Only, vec![picked.at]));
            }
        }
    }

    /// What is under the pointer: a handle, a part, or nothing.
    fn hover(
        &mut self,
        ui: &Ui,
        pointer: &Pointer<'_>,
        arrangement: &Arrangement,
        handles: Option<&mut Handles>,
    ) {
        if self.gesture.is_some() {
            return;
        }
        self.hovered = None;
        let Some(at) = pointer.response.hover_pos() else { return };
        let ppp = ui.pixels_per_point();
        let pixel = pointer.pixel(at, ppp);
        if let Some(handles) = handles {
            handles.lit = handles.grip_at(pixel, &self.camera, ppp);
            if handles.lit.is_some() {
                ui.ctx().set_cursor_icon(CursorIcon::Grab);
                return;
            }
        }
        self.hovered = self.pick(arrangement, &self.camera.ray(pixel), pointer.section_mm);
        if self.hovered.is_some() {
            ui.ctx().set_cursor_icon(CursorIcon::PointingHand);
        }
    }

    fn begin(
        &mut self,
        ui: &Ui,
        pointer: &Pointer<'_>,
        model: &Model,
        handles: Option<&Handles>,
        actions: &mut Vec<Action>,
    ) {
        let response = pointer.response;
        if !response.drag_started() {
            return;
        }
        let arrangement = &model.arrangement;
        let ppp = ui.pixels_per_point();
        let (origin, modifiers) = ui.input(|i| (i.pointer.press_origin(), i.modifiers));
        let Some(origin) = origin.or(response.interact_pointer_pos()) else { return };
        let pixel = pointer.pixel(origin, ppp);
        let ray = self.camera.ray(pixel);
        let picked = self.pick(arrangement, &ray, pointer.section_mm);
        let primary = response.drag_started_by(PointerButton::Primary);
        if !primary {
            self.flight = None;
            let point = picked.map_or_else(|| self.depth_point(pixel), |picked| picked.point);
            self.gesture = Some(if modifiers.shift {
                Gesture::Pan { point }
            } else {
                Gesture::Orbit { about: point }
            });
            return;
        }
        let grip = handles.and_then(|handles| handles.grip_at(pixel, &self.camera, ppp));
        let on_selected = picked.filter(|picked| model.selection.contains(&picked.at));
        let grip = grip.or(on_selected.map(|_| Grip::Body));
        let before = DragStart::of(&arrangement.selected(&model.selection).collect::<Vec<_>>());
        self.gesture = Some(match (grip, before, handles) {
            (Some(grip), Some(before), Some(handles)) => {
                let touched = on_selected.map_or(handles.centre, |picked| picked.point);
                let start = HandleDrag { grip, centre: handles.centre, touched, ray };
                let verb = match grip {
                    Grip::Ring => "rotate",
                    Grip::Axis(_) | Grip::Body => "move",
                };
                actions.push(DragUpdate::Begin(verb, before).into());
                Gesture::Drag { start }
            }
            _ => Gesture::Box { from: origin, to: origin },
        });
    }

    fn go_on(
        &mut self,
        ui: &Ui,
        pointer: &Pointer<'_>,
        model: &Model,
        handles: Option<&mut Handles>,
        actions: &mut Vec<Action>,
    ) {
        let response = pointer.response;
        let ppp = ui.pixels_per_point();
        let Some(gesture) = &mut self.gesture else { return };
        let moved = response.drag_delta() * ppp;
        let moved = Vec2::new(moved.x, moved.y);
        let at = response.interact_pointer_pos();
        match gesture {
            Gesture::Orbit { about } => {
                self.camera.orbit(moved / ppp, *about);
                ui.ctx().set_cursor_icon(CursorIcon::Grabbing);
            }
            Gesture::Pan { point } => {
                self.camera.pan(moved, *point);
                ui.ctx().set_cursor_icon(CursorIcon::Move);
            }
            Gesture::Box { to, .. } => *to = at.unwrap_or(*to),
            Gesture::Drag { .. } if !response.drag_started() && !model.drag.is_active() => {
                *gesture = Gesture::Cancelled;
            }
            Gesture::Drag { start } => {
                ui.ctx().set_cursor_icon(CursorIcon::Grabbing);
                if let Some(handles) = handles {
                    handles.lit = Some(start.grip);
                }
                let free = ui.input(|input| input.modifiers.alt);
                if let Some(at) = at
                    && let Some(meant) = start.meant(&self.camera.ray(pointer.pixel(at, ppp)))
                {
                    actions.push(DragUpdate::Aim(meant, free).into());
                }
                if !response.dragged() {
                    actions.push(DragUpdate::End.into());
                }
            }
            Gesture::Cancelled => {}
        }
        if !response.dragged() {
            self.gesture = None;
        }
    }

    fn pick(
        &self,
        arrangement: &Arrangement,
        ray: &Ray,
        section_mm: Option<f64>,
    ) -> Option<Picked> {
        self.meshes.pick(arrangement, ray, section_mm)
    }

    /// Selects what the frame holds when the button comes up.
    fn take_box(
        &self,
        ui: &Ui,
        pointer: &Pointer<'_>,
        arrangement: &Arrangement,
        actions: &mut Vec<Action>,
    ) {
        let Some(Gesture::Box { from, to }) = self.gesture else { return };
        if !pointer.response.drag_stopped() {
            return;
        }
        let ppp = ui.pixels_per_point();
        let frame = Rect::from_two_pos(from, to);
        let held = arrangement.placed.iter().filter(|placed| {
            placed.corners().iter().all(|&corner| {
                self.camera.pixel(corner).is_some_and(|pixel| {
                    frame.contains(pointer.rect.min + egui::vec2(pixel.x, pixel.y) / ppp)
                })
            })
        });
        let held: Vec<PlacementId> = held.map(|placed| placed.at).collect();
        let how = match ui.input(|input| input.modifiers) {
            Modifiers { shift: true, .. } => Selecting::Also,
            Modifiers { command: true, .. } => Selecting::Toggle,
            _ => Selecting::Only,
        };
        actions.push(Action::Select(how, held));
    }

    /// The wheel comes nearer to what is under the pointer.
    fn wheel(&mut self, ui: &Ui, pointer: &Pointer<'_>) {
        let Some(at) = pointer.response.hover_pos() else { return };
        let (scroll, pinch) = ui.input(|input| (input.smooth_scroll_delta().y, input.zoom_delta()));
        let factor = (-scroll * 0.0022).exp() / pinch;
        if (factor - 1.0).abs() < 1e-4 || !factor.is_finite() {
            return;
        }
        self.flight = None;
        let pixel = pointer.pixel(at, ui.pixels_per_point());
        let about = self.hovered.map_or_else(|| self.depth_point(pixel), |picked| picked.point);
        self.camera.zoom(factor.clamp(0.2, 5.0), about);
    }

    /// A point at a pixel where there is no part: on the floor within the build space, else at the
    /// depth of what is looked at.
    fn depth_point(&self, pixel: Vec2) -> Vec3 {
        let ray = self.camera.ray(pixel);
        let [x, y, _] = self.fitted_mm.map(|c| single(c) * 0.5);
        let floor = ray.at_height(0.0).filter(|at| at.x.abs() <= x && at.y.abs() <= y);
        floor.unwrap_or_else(|| {
            let forward = -self.camera.basis().z_axis;
            let depth = (self.camera.target - ray.origin).dot(forward);
            ray.origin + ray.direction * (depth / ray.direction.dot(forward).max(1e-3))
        })
    }
}
