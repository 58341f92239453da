//! The build in 3D: look around, pick, move, turn, lay flat, cut open at the layer shown.
//!
//! The view keeps only how it looks at things: camera, what is under the pointer, the drag under
//! way. Each frame it lets the pointer act (`gestures`), lays out what is around the drawing,
//! and hands a plain scene (`picture`) to the renderer, which draws it only if it changed.

mod dimension;
mod gestures;
mod handles;
mod labels;
mod menu;
mod picking;
mod picture;
mod stock;
#[cfg(test)]
mod tests;
mod tools;

use super::elevation::empty;
use super::{dimensions, numbers};
use crate::state::actions::Action;
use crate::state::arrangement::{Arrangement, single, vec3};
use crate::state::model::Model;
use crate::work::threads::Threads;
use dimension::{Question, Side};
use eframe::egui_wgpu::{Callback, RenderState};
use egui::emath::GuiRounding as _;
use egui::{Pos2, Rect, Role, Sense, Ui, UiBuilder, WidgetInfo, vec2};
use gestures::Gesture;
use glam::{Vec2, Vec3};
use handles::Handles;
use picking::Picked;
use picture::{Look, Painting};
pub(crate) use picture::{palette, rgba};
use render::chamber::{ChamberRenderer, Scene};
use render::{Camera, Projection};
use std::sync::Arc;
pub(crate) use stock::Prepared;
use stock::Stock;
use tools::Tool;

/// The camera on its way to another view.
struct Flight {
    from: Camera,
    to: Camera,
    /// Time of the window at which it began, s.
    began_s: f64,
}

/// Long enough to follow with the eye, short enough not to wait for, s.
const FLIGHT_S: f64 = 0.22;

/// See the module.
#[expect(clippy::struct_excessive_bools, reason = "each is a switch of its own")]
pub(crate) struct ChamberView {
    has_gpu: bool,
    /// Whether a processor does the drawing: then moving pictures are drawn at half the size.
    is_software: bool,
    stock: Stock,
    camera: Camera,
    flight: Option<Flight>,
    /// Asked for from outside: shown at the next frame.
    fit_wanted: bool,
    /// Build space that was last fitted: another machine is fitted anew.
    fitted_mm: [f64; 3],
    had_parts: bool,
    /// What was fitted while meshes were still being read: fitted again when all are there, unless
    /// the person has looked elsewhere meanwhile.
    early: Option<Camera>,
    attention: Option<Vec3>,
    cut: bool,
    hovered: Option<Picked>,
    gesture: Option<Gesture>,
    /// What the menu of the right button was opened on.
    menu_on: Option<Picked>,
    scene: Option<Arc<Scene>>,
    asked: Option<[(base::PlacementId, base::Affine); 2]>,
    /// Where it was last drawn, and how many pixels a point had.
    drawn_in: Option<(Rect, f32)>,
}

impl ChamberView {
    /// A view that draws with this graphics device; without one it says so.
    pub(crate) fn new(gpu: Option<&RenderState>, threads: &Threads) -> Self {
        if let Some(gpu) = gpu {
            let renderer = ChamberRenderer::new(&gpu.device, gpu.target_format);
            gpu.renderer.write().callback_resources.insert(renderer);
        }
        Self {
            has_gpu: gpu.is_some(),
            is_software: gpu
                .is_some_and(|gpu| gpu.adapter.get_info().device_type == wgpu::DeviceType::Cpu),
            stock: Stock::new(threads),
            camera: Camera::default(),
            flight: None,
            fit_wanted: false,
            fitted_mm: [0.0; 3],
            had_parts: false,
            early: None,
            attention: None,
            cut: false,
            hovered: None,
            gesture: None,
            menu_on: None,
            scene: None,
            asked: None,
            drawn_in: None,
        }
    }

    /// Shows everything at the next frame.
    pub(crate) fn fit(&mut self) {
        self.fit_wanted = true;
    }

    /// Whether every mesh has been made ready and the camera has arrived.
    pub(crate) fn is_ready(&self) -> bool {
        self.flight.is_none() && !self.stock.is_busy()
    }

    /// The meshes that are ready to be drawn.
    pub(crate) fn prepared(&self) -> Vec<Prepared> {
        self.stock.prepared().collect()
    }

    /// Where a point of the build space is on the screen.
    pub(crate) fn on_screen(&self, at_mm: [f64; 3]) -> Option<Pos2> {
        let ((rect, ppp), pixel) = (self.drawn_in?, self.camera.pixel(vec3(at_mm))?);
        Some(rect.min + vec2(pixel.x, pixel.y) / ppp)
    }

    /// Moves to what the model draws attention to.
    pub(crate) fn attend(&mut self, model: &Model) {
        self.attention = model.attention_mm.map(vec3);
    }

    /// Draws into the rest of `ui`.
    pub(crate) fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        let ppp = ui.pixels_per_point();
        let mut rect = ui.max_rect();
        if self.has_gpu && model.content().is_some() {
            // Always there, so that the drawing stays where it is when something is chosen.
            let strip;
            (rect, strip) = rect.split_top_bottom_at_y(rect.bottom() - numbers::HEIGHT);
            numbers::show(ui, strip, model, false, actions);
        }
        let rect = rect.round_to_pixels(ppp);
        self.drawn_in = Some((rect, ppp));
        let response = ui.interact(rect, ui.scope_id().with("chamber"), Sense::click_and_drag());
        let told = self.told(model);
        response.widget_info(|| {
            WidgetInfo::labeled(Role::Image, true, format!("Chamber drawing{told}"))
        });
        if !self.has_gpu {
            let says = "The chamber needs a graphics adapter (Vulkan, Metal, Direct3D 12 or OpenGL \
                        ES 3), and none was found. Plan, elevation and trace work without it.";
            return empty(ui, rect, says, &model.ink);
        }
        let Some(content) = model.content() else {
            let says = "Drop meshes here, or open a job: the build in 3D.";
            return empty(ui, rect, says, &model.ink);
        };
        self.stock.keep_up(model);
        let arrangement = &model.arrangement;

        let size = rect.size() * ppp;
        self.camera.viewport = Vec2::new(size.x.round(), size.y.round()).max(Vec2::ONE);
        let space = content.machine.build_space_mm;
        // Another machine is fitted anew, and so are the first parts that come.
        let known = vec3(self.fitted_mm) == vec3(space)
            && (self.had_parts || arrangement.placed.is_empty());
        let wanted = std::mem::take(&mut self.fit_wanted);
        if !known || wanted {
            self.fitted_mm = space;
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
            to.distance = to.distance.min(vec3(space).max_element() * 0.6);
            self.fly(ui, to, false);
        }
        let section_mm = self.cut.then(|| model.cursor_height_mm());
        let mut handles = self.handles(model, ppp);
        let pointer = gestures::Pointer { rect, response: &response, section_mm };
        self.act(ui, &pointer, model, arrangement, handles.as_mut(), actions);
        self.advance_flight(ui);
        let handles = handles
            .map(|lit| Handles { lit: lit.lit, ..Handles::at(lit.centre, &self.camera, ppp) });

        let look = Look {
            section_mm,
            hovered: self.hovered.filter(|_| self.gesture.is_none()).map(|picked| picked.at),
            pixels_per_point: ppp,
        };
        self.paint(ui, rect, model, look, handles.as_ref());
        let painter = ui.painter().with_clip_rect(rect);
        let seen = labels::Seen { camera: self.camera, rect, ppp, ink: &model.ink };
        labels::rulers(&painter, &seen, space.map(single));
        if let Some(handles) = &handles {
            labels::letters(&painter, &seen, handles);
        }
        if let Some(around) = model.nearby() {
            dimensions::draw(&painter, model, around, |at| seen.pos(vec3(at)));
        }
        if model.drag.nearby().is_none() {
            self.dimension(&painter, &seen, model);
        }
        labels::missing(&painter, &seen, model, arrangement);
        let pending = self.stock.pending();
        let told = self.hovered.and_then(|picked| arrangement.placement(picked.at));
        labels::corner(&painter, &seen, model, arrangement, told, pending);
        if let Some(Gesture::Box { from, to }) = self.gesture {
            let stroke = egui::Stroke::new(1.0, model.ink.accent);
            let fill = model.ink.accent_tint.gamma_multiply(0.4);
            let frame = Rect::from_two_pos(from, to);
            painter.rect(frame, 0.0, fill, stroke, egui::StrokeKind::Inside);
        }
        self.tool_row(ui, rect, model, actions);
        self.show_menu(&response, model, arrangement, actions);
    }

    /// Handles stand in the middle of what is chosen, unless a drag of the view is under way.
    fn handles(&self, model: &Model, ppp: f32) -> Option<Handles> {
        if matches!(self.gesture, Some(Gesture::Box { .. })) {
            return None;
        }
        let (low, high) = Arrangement::bounds(model.arrangement.chosen(&model.selection))?;
        Some(Handles::at(low.midpoint(high), &self.camera, ppp))
    }

    fn paint(&mut self, ui: &Ui, rect: Rect, model: &Model, look: Look, handles: Option<&Handles>) {
        let moving = self.flight.is_some() || self.gesture.is_some();
        let coarse = if self.is_software && moving { 0.5 } else { 1.0 };
        let mut camera = self.camera;
        camera.viewport = (camera.viewport * coarse).round().max(Vec2::ONE);
        let pixels_per_point = look.pixels_per_point * coarse;
        let look = Look { pixels_per_point, ..look };
        let scene = picture::scene(model, &self.stock, camera, look, handles);
        let scene = match self.scene.take() {
            Some(shown) if *shown == scene => shown,
            _ => Arc::new(scene),
        };
        self.scene = Some(Arc::clone(&scene));
        let meshes =
            self.stock.all_ready().map(|ready| (ready.id, Arc::clone(&ready.drawn))).collect();
        ui.painter().add(Callback::new_paint_callback(rect, Painting { scene, meshes }));
    }

    /// What the lines over the drawing say, in words.
    fn told(&self, model: &Model) -> String {
        if let Some(around) = model.drag.nearby() {
            return model.words_of(around);
        }
        let clearance = self.stock.clearance.as_ref();
        let asked = self.asked.and_then(|asked| clearance.filter(|found| found.of == asked));
        asked.map_or(String::new(), |found| format!(", {} apart", found.words()))
    }

    /// The clearance of exactly two chosen placements.
    fn dimension(&mut self, painter: &egui::Painter, seen: &labels::Seen, model: &Model) {
        let stock = &mut self.stock;
        let chosen = model.arrangement.chosen(&model.selection);
        let sides = chosen.filter_map(|placed| {
            let solid = Arc::clone(&stock.ready(&placed.loaded)?.solid);
            Some(Side { at: placed.at, solid, pose: placed.pose })
        });
        let Ok(sides) = <[Side; 2]>::try_from(sides.take(3).collect::<Vec<_>>()) else {
            self.asked = None;
            return;
        };
        let question = Question { sides };
        let key = question.key();
        if let Some(clearance) = stock.clearance.as_ref().filter(|c| c.of == key) {
            labels::clearance(painter, seen, clearance);
        } else if self.asked != Some(key) {
            self.asked = Some(key);
            stock.measure(question);
        }
    }

    fn tool_row(&mut self, ui: &mut Ui, rect: Rect, model: &Model, actions: &mut Vec<Action>) {
        let arrangement = &model.arrangement;
        let row = Rect::from_min_size(rect.min + vec2(8.0, 6.0), vec2(rect.width() - 16.0, 22.0));
        let mut pressed = None;
        ui.scope_builder(UiBuilder::new().max_rect(row).id_salt("chamber tools"), |ui| {
            ui.horizontal_wrapped(|ui| {
                ui.spacing_mut().item_spacing = vec2(2.0, 2.0);
                for tool in Tool::ALL {
                    let on = match tool {
                        Tool::Perspective => self.camera.projection == Projection::Perspective,
                        Tool::Section => self.cut,
                        _ => false,
                    };
                    if tools::button(ui, tool, on, &model.ink).clicked() {
                        pressed = Some(tool);
                    }
                }
                ui.add_space(6.0);
                numbers::on_contact(ui, model, actions);
            });
        });
        match pressed {
            Some(Tool::From(direction)) => {
                let mut to = self.camera;
                to.look_from(direction);
                let (low, high) = shown_box(model, arrangement, false);
                to.fit(low, high);
                self.fly(ui, to, false);
            }
            Some(Tool::Fit) => self.fly_to_fit(ui, model, arrangement, false),
            Some(Tool::Perspective) => {
                self.camera.projection = match self.camera.projection {
                    Projection::Perspective => Projection::Parallel,
                    Projection::Parallel => Projection::Perspective,
                };
                self.flight = None;
                ui.ctx().request_repaint();
            }
            Some(Tool::Section) => {
                self.cut = !self.cut;
                ui.ctx().request_repaint();
            }
            None => {}
        }
    }

    /// Fits the parts on their platform; if that is what is seen already, the whole build space.
    fn fly_to_fit(&mut self, ui: &Ui, model: &Model, arrangement: &Arrangement, at_once: bool) {
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

    fn fly(&mut self, ui: &Ui, to: Camera, at_once: bool) {
        if at_once {
            self.camera = to;
            self.flight = None;
        } else {
            let began_s = ui.input(|input| input.time);
            self.flight = Some(Flight { from: self.camera, to, began_s });
        }
        ui.ctx().request_repaint();
    }

    fn advance_flight(&mut self, ui: &Ui) {
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
fn shown_box(model: &Model, arrangement: &Arrangement, whole: bool) -> (Vec3, Vec3) {
    let size = model.content().map_or([100.0; 3], |content| content.machine.build_space_mm);
    let half = vec3([size[0] * 0.5, size[1] * 0.5, 0.0]);
    let top = Vec3::Z * single(size[2]);
    match Arrangement::bounds(arrangement.placed.iter()) {
        Some((low, high)) if whole => (low.min(-half), high.max(half + top)),
        Some((low, high)) => (low.min(-half), high.max(half)),
        None => (-half, half + top),
    }
}
