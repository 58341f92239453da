//! The build in 3D: look around, pick, move, rotate, put a face down, cut open at the layer shown.
//!
//! The view keeps only how it looks at things (`state`). Each frame it lets the pointer act
//! (`gestures`), lays out what is around the drawing, and hands a plain scene (`picture`) to the
//! renderer, which draws it only if it changed.

mod camera;
mod clearance;
mod gestures;
mod handles;
mod labels;
mod menu;
mod mesh_cache;
mod picking;
mod picture;
mod state;
#[cfg(test)]
mod tests;
mod tool_icons;
mod tools;

use super::{View, dimensions, numbers};
use crate::state::actions::Action;
use crate::state::arrangement::{Arrangement, single, vec3};
use crate::state::model::Model;
use crate::widgets::drawable::DrawableMesh;
use crate::widgets::placeholder::placeholder;
use crate::widgets::words::Words;
use clearance::{ClearanceQuery, QuerySide};
use eframe::egui_wgpu::Callback;
use egui::emath::GuiRounding as _;
use egui::{Pos2, Rect, Response, Role, Sense, Ui, WidgetInfo, vec2};
use glam::Vec2;
use handles::Handles;
use labels::Labels;
use picture::{Painting, ViewSettings};
pub(crate) use state::ChamberView;
use state::Gesture;
use std::cell::RefCell;
use std::fmt::Write as _;
use std::sync::Arc;

impl View for ChamberView {
    fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        let ppp = ui.pixels_per_point();
        let mut rect = ui.max_rect();
        if self.has_gpu && model.content().is_some() {
            // Always there, so that the drawing stays where it is when something is selected.
            let strip;
            (rect, strip) =
                rect.split_top_bottom_at_y(rect.bottom() - numbers::height(rect.width()));
            numbers::show(ui, strip, model, false, actions);
        }
        let rect = rect.round_to_pixels(ppp);
        self.drawn_in = Some((rect, ppp));
        let response = ui.interact(rect, ui.scope_id().with("chamber"), Sense::click_and_drag());
        let mut distances = self.distances_in_words(model);
        if self.words_left_out > 0 {
            let _ = write!(distances, ", and {} more", self.words_left_out);
        }
        response.widget_info(|| {
            WidgetInfo::labeled(Role::Image, true, format!("Chamber drawing{distances}"))
        });
        if !self.has_gpu {
            let says = "The chamber needs a graphics adapter (Vulkan, Metal, Direct3D 12 or OpenGL \
                        ES 3), and none was found. Plan, elevation and trace work without it.";
            return placeholder(ui, rect, says, &model.ink);
        }
        let Some(content) = model.content() else {
            let says = "Drop meshes here, or open a job: the build in 3D.";
            return placeholder(ui, rect, says, &model.ink);
        };
        self.meshes.keep_up(model);
        self.place_camera(ui, rect, model, content.machine.build_space_mm);
        self.draw(ui, rect, &response, model, actions);
        self.tool_row(ui, rect, model, actions);
        self.show_menu(&response, model, &model.arrangement, actions);
    }

    fn fit(&mut self) {
        self.fit_wanted = true;
    }

    fn go_to_attention(&mut self, model: &Model) {
        self.attention = model.attention_mm.map(vec3);
    }

    fn cancel_drag(&mut self) -> bool {
        match self.gesture {
            None | Some(Gesture::Cancelled) => false,
            Some(
                Gesture::Orbit { .. }
                | Gesture::Pan { .. }
                | Gesture::Box { .. }
                | Gesture::Drag { .. },
            ) => {
                self.gesture = Some(Gesture::Cancelled);
                true
            }
        }
    }

    fn leave_mode(&mut self) -> bool {
        false
    }

    fn on_screen(&self, at_mm: [f64; 3]) -> Option<Pos2> {
        let ((rect, ppp), pixel) = (self.drawn_in?, self.camera.pixel(vec3(at_mm))?);
        Some(rect.min + vec2(pixel.x, pixel.y) / ppp)
    }

    fn is_ready(&self) -> bool {
        self.flight.is_none() && !self.meshes.is_busy()
    }

    fn wants_numbers_when_alone(&self) -> bool {
        false
    }
}

impl ChamberView {
    /// The meshes that are ready to be drawn.
    pub(crate) fn drawable_meshes(&self) -> Vec<DrawableMesh> {
        self.meshes.drawable().collect()
    }

    /// Lets the pointer act, then draws the scene and what is written over it.
    fn draw(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        response: &Response,
        model: &Model,
        actions: &mut Vec<Action>,
    ) {
        let (ppp, arrangement) = (ui.pixels_per_point(), &model.arrangement);
        let section_mm = self.cut.then(|| model.cursor_height_mm());
        let mut handles = self.handles(model, ppp);
        let pointer = gestures::Pointer { rect, response, section_mm };
        self.act(ui, &pointer, model, arrangement, handles.as_mut(), actions);
        self.advance_flight(ui);
        let handles = handles
            .map(|lit| Handles { lit: lit.lit, ..Handles::at(lit.centre, &self.camera, ppp) });
        let settings = ViewSettings {
            section_mm,
            hovered: self.hovered.filter(|_| self.gesture.is_none()).map(|picked| picked.at),
            pixels_per_point: ppp,
        };
        self.paint(ui, rect, model, settings, handles.as_ref());
        self.write_labels(ui, rect, model, handles.as_ref());
        if let Some(Gesture::Box { from, to }) = self.gesture {
            let stroke = egui::Stroke::new(1.0, model.ink.accent);
            let fill = model.ink.accent_tint.gamma_multiply(0.4);
            let frame = Rect::from_two_pos(from, to);
            let painter = ui.painter().with_clip_rect(rect);
            painter.rect(frame, 0.0, fill, stroke, egui::StrokeKind::Inside);
        }
    }

    /// Words and numbers over the scene.
    fn write_labels(&mut self, ui: &Ui, rect: Rect, model: &Model, handles: Option<&Handles>) {
        let arrangement = &model.arrangement;
        let painter = ui.painter().with_clip_rect(rect);
        let ppp = ui.pixels_per_point();
        let words = RefCell::new(Words::default());
        let (camera, ink) = (self.camera, &model.ink);
        let labels = Labels { painter: &painter, camera, rect, ppp, ink, words: &words };
        let space = model.content().map_or([0.0; 3], |content| content.machine.build_space_mm);
        labels.rulers(space.map(single));
        if let Some(handles) = handles {
            labels.letters(handles);
        }
        // What has its place comes first: the rest makes room for it.
        let pending = self.meshes.pending();
        let hovered = self.hovered.and_then(|picked| arrangement.placement(picked.at));
        labels.corner(model, arrangement, hovered, pending);
        if let Some(around) = model.nearby() {
            let mut words = words.borrow_mut();
            dimensions::draw(&painter, model, around, &mut words, |at| labels.pos(vec3(at)));
        }
        if model.drag.nearby().is_none() {
            self.clearance_of_two(&labels, model);
        }
        labels.missing(model, arrangement);
        let words = words.into_inner();
        words.write_count(&painter, &model.ink, rect.bottom() - 22.0);
        self.words_left_out = words.left_out();
    }

    /// Handles stand in the middle of what is selected, unless a frame is being drawn.
    fn handles(&self, model: &Model, ppp: f32) -> Option<Handles> {
        if self.draws_frame() {
            return None;
        }
        let (low, high) = Arrangement::bounds(model.arrangement.selected(&model.selection))?;
        Some(Handles::at(low.midpoint(high), &self.camera, ppp))
    }

    fn paint(
        &mut self,
        ui: &Ui,
        rect: Rect,
        model: &Model,
        settings: ViewSettings,
        handles: Option<&Handles>,
    ) {
        let moving = self.flight.is_some() || self.gesture.is_some();
        let coarse = if self.is_software && moving { 0.5 } else { 1.0 };
        let mut camera = self.camera;
        camera.viewport = (camera.viewport * coarse).round().max(Vec2::ONE);
        let pixels_per_point = settings.pixels_per_point * coarse;
        let settings = ViewSettings { pixels_per_point, ..settings };
        let scene = picture::scene(model, &self.meshes, camera, settings, handles);
        let scene = match self.scene.take() {
            Some(shown) if *shown == scene => shown,
            Some(_) | None => Arc::new(scene),
        };
        self.scene = Some(Arc::clone(&scene));
        let meshes = self.meshes.all_cached().map(|cached| (cached.id, Arc::clone(&cached.drawn)));
        let painting = Painting { scene, meshes: meshes.collect() };
        ui.painter().add(Callback::new_paint_callback(rect, painting));
    }

    /// What the lines over the drawing say, in words.
    fn distances_in_words(&self, model: &Model) -> String {
        if let Some(around) = model.drag.nearby() {
            return model.words_of(around);
        }
        let clearance = self.meshes.clearance.as_ref();
        let asked = self.asked.and_then(|asked| clearance.filter(|found| found.of == asked));
        asked.map_or(String::new(), |found| format!(", {} apart", found.words()))
    }

    /// The clearance of exactly two selected placements.
    fn clearance_of_two(&mut self, labels: &Labels<'_>, model: &Model) {
        let meshes = &self.meshes;
        let selected = model.arrangement.selected(&model.selection);
        let sides = selected.filter_map(|placed| {
            let solid = Arc::clone(&meshes.cached(&placed.loaded)?.solid);
            Some(QuerySide { at: placed.at, solid, pose: placed.pose })
        });
        let Ok(sides) = <[QuerySide; 2]>::try_from(sides.take(3).collect::<Vec<_>>()) else {
            self.asked = None;
            return;
        };
        let query = ClearanceQuery { sides };
        let key = query.key();
        if let Some(clearance) = meshes.clearance.as_ref().filter(|c| c.of == key) {
            labels.clearance(clearance);
        } else if self.asked != Some(key) {
            self.asked = Some(key);
            meshes.measure(query);
        }
    }
}
