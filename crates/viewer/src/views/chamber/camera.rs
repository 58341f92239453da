//! Where the chamber is looked at from: fitting, and flying from one view to another.

use super::state::{ChamberView, Flight};
use crate::state::arrangement::{Arrangement, single, vec3};
use crate::state::model::Model;
use egui::{Rect, Ui};
use glam::{Vec2, Vec3};
use render::Camera;

/// Long enough to follow with the eye, short enough not to wait for, s.
const FLIGHT_S: f64 = 0.22;

impl ChamberView {
    /// Brings the camera up to the size of the drawing, to the machine, and to what was asked for
    /// from outside.
    pub(super) fn place_camera(
        &mut self,
        ui: &Ui,
        rect: Rect,
        model: &Model,
        build_space_mm: [f64; 3],
    ) {
        let arrangement = &model.arrangement;
        let size = rect.size() * ui.pixels_per_point();
        self.camera.viewport = Vec2::new(size.x.round(), size.y.round()).max(Vec2::ONE);
        // Another machine is fitted anew, and so are the first parts that come.
        let known = vec3(self.fitted_mm) == vec3(build_space_mm)
            && (self.had_parts || arrangement.placed.is_empty());
        let wanted = std::mem::take(&mut self.fit_wanted);
        if !known || wanted {
            self.fitted_mm = build_space_mm;
            self.fly_to_fit(ui, model, arrangement, !known);
            self.early = (arrangement.loading > 0).then_some(self.camera);
        } else if arrangement.loading == 0
            && let Some(early) = self.early.take()
            && early == self.camera
        {
            let (low, high) = shown_box(model, arrangement, false);
            self.camera.fit(low, high);
        }
        self.had_parts =
            !arrangement.placed.is_empty() || (self.had_parts && arrangement.loading > 0);
        if let Some(point) = self.attention.take() {
            let mut to = self.camera;
            to.target = point;
            to.distance = to.distance.min(vec3(build_space_mm).max_element() * 0.6);
            self.fly(ui, to, false);
        }
    }

    /// Fits the parts on their platform; if that is what is seen already, the whole build space.
    pub(super) fn fly_to_fit(
        &mut self,
        ui: &Ui,
        model: &Model,
        arrangement: &Arrangement,
        at_once: bool,
    ) {
        let fitted = |whole: bool| {
            let (low, high) = shown_box(model, arrangement, whole);
            let mut to = self.camera;
            to.fit(low, high);
            to
        };
        let parts = fitted(false);
        let seen = (parts.distance / self.camera.distance - 1.0).abs() < 1e-3
            && parts.target.distance(self.camera.target) < 1e-3 * parts.distance;
        self.fly(ui, if seen && !at_once { fitted(true) } else { parts }, at_once);
    }

    pub(super) fn fly(&mut self, ui: &Ui, to: Camera, at_once: bool) {
        if at_once {
            self.camera = to;
            self.flight = None;
        } else {
            let began_s = ui.input(|input| input.time);
            self.flight = Some(Flight { from: self.camera, to, began_s });
        }
        ui.ctx().request_repaint();
    }

    pub(super) fn advance_flight(&mut self, ui: &Ui) {
        let Some(flight) = &self.flight else { return };
        let viewport = self.camera.viewport;
        let part = (ui.input(|input| input.time) - flight.began_s) / FLIGHT_S;
        let part = single(part.clamp(0.0, 1.0));
        let eased = part * part * (3.0 - 2.0 * part);
        self.camera = Camera { viewport, ..flight.from.towards(&flight.to, eased) };
        if part >= 1.0 {
            self.flight = None;
        } else {
            ui.ctx().request_repaint();
        }
    }
}

/// What fitting shows: the platform with all parts on and outside it, or with the whole build space.
pub(super) fn shown_box(model: &Model, arrangement: &Arrangement, whole: bool) -> (Vec3, Vec3) {
    let size = model.content().map_or([100.0; 3], |content| content.machine.build_space_mm);
    let half = vec3([size[0] * 0.5, size[1] * 0.5, 0.0]);
    let top = Vec3::Z * single(size[2]);
    match Arrangement::bounds(arrangement.placed.iter()) {
        Some((low, high)) if whole => (low.min(-half), high.max(half + top)),
        Some((low, high)) => (low.min(-half), high.max(half)),
        None => (-half, half + top),
    }
}
