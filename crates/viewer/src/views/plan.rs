//! The plan: one layer from above, down to single vectors.
//!
//! ```text
//! ShownLayer ─► Drawing, Shades (made off the window's thread) ─► PlanFrame ─► render
//!                  └─ Near: which mark is under the pointer
//! ```

mod beam;
mod canvas;
mod drawing;
mod handling;
mod measure;
mod near;
mod paint;
mod preparing;
mod quantity;
mod row;
pub(crate) mod words;

use crate::state::actions::Action;
use crate::state::model::Model;
use crate::views::dimensions;
use crate::views::elevation::empty;
use crate::widgets::theme::{CAPTION, Theme};
use crate::work::threads::Threads;
use canvas::{Canvas, RULER};
use eframe::egui_wgpu::{Callback, RenderState, wgpu::DeviceType};
use egui::{Align2, FontId, Pos2, Rect, Stroke, Ui, UiBuilder, pos2, vec2};
use handling::Dragging;
use measure::Measure;
use paint::{Paint, Parts, Scene};
use preparing::{Preparing, Ready};
use quantity::{Legend, Quantity};
use render::plan::ColourScale;
use std::sync::Arc;
use std::time::Duration;

/// Height of the rows above the drawing, points.
const ROW: f32 = 24.0;
/// Segments of one kind that are drawn at most: on a graphics card, in software, and in software
/// while the picture moves.
const MOST: [usize; 3] = [render::plan::BUDGET, 250_000, 30_000];

/// A drawing that is made sooner than this is not drawn pale meanwhile.
const PATIENCE_S: f64 = 0.1;

/// See the module.
pub(crate) struct PlanView {
    /// Whether there is a graphics device, and whether it is a processor in disguise.
    gpu: Option<DeviceType>,
    /// What is shown; `None` until there is something to fit.
    view: Option<render::plan::PlanView>,
    /// Whether the person has moved or zoomed: then nothing else does.
    is_held: bool,
    seen_size: egui::Vec2,
    parts: Parts,
    quantity: Quantity,
    scale: Option<(Quantity, Theme, Arc<ColourScale>)>,
    preparing: Preparing,
    measure: Measure,
    dragging: Dragging,
    /// What the pointer is over, by its move.
    hovered: Option<usize>,
    /// When the mark starts that the menu was opened on.
    menu_time_s: Option<f64>,
    /// Whether the picture moved in the last frame.
    is_moving: bool,
    /// Since when the drawing is behind what is wanted, s of the window.
    behind_since_s: Option<f64>,
    /// Whether it is drawn pale for that.
    is_pale: bool,
    /// What was last drawn on.
    drawn_on: Option<Canvas>,
}

impl PlanView {
    /// A view that draws with this graphics device; without one it says so.
    pub(crate) fn new(gpu: Option<&RenderState>, threads: &Threads) -> Self {
        if let Some(gpu) = gpu {
            paint::install(gpu);
        }
        Self {
            gpu: gpu.map(|gpu| gpu.adapter.get_info().device_type),
            view: None,
            is_held: false,
            seen_size: egui::Vec2::ZERO,
            parts: Parts::default(),
            quantity: Quantity::default(),
            scale: None,
            preparing: Preparing::new(threads),
            measure: Measure::default(),
            dragging: Dragging::default(),
            hovered: None,
            menu_time_s: None,
            is_moving: false,
            behind_since_s: None,
            is_pale: false,
            drawn_on: None,
        }
    }

    /// Whether no drawing is being made.
    pub(crate) fn is_ready(&self) -> bool {
        self.preparing.is_idle()
    }

    /// Shows everything at the next frame.
    pub(crate) fn fit(&mut self) {
        self.view = None;
        self.is_held = false;
    }

    /// Moves to what the model draws attention to.
    pub(crate) fn attend(&mut self, model: &Model) {
        let Some([x, y, _]) = model.attention_mm else { return };
        let before = self.view.unwrap_or_default();
        let centre_nm = [x, y].map(|mm| mm * base::NM_PER_MM);
        let px_per_mm = before.px_per_mm.max(12.0);
        self.view = Some(render::plan::PlanView { centre_nm, px_per_mm }.limited());
        self.is_held = true;
    }

    /// Where a point of the layer is on the screen.
    pub(crate) fn on_screen(&self, at_mm: [f64; 2]) -> Option<Pos2> {
        Some(self.drawn_on?.at(at_mm.map(|mm| mm * base::NM_PER_MM)))
    }

    /// Starts the measuring tool, or puts it away.
    pub(crate) fn measure(&mut self) {
        self.measure.toggle();
    }

    /// Draws into the rest of `ui`.
    pub(crate) fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        let whole = ui.max_rect();
        let ink = &model.ink;
        if self.gpu.is_none() {
            return empty(ui, whole, "There is no graphics device to draw the plan with.", ink);
        }
        let Some(content) = model.content() else {
            let says = "The layer at the cursor, seen from above: contours, hatch, centrelines.";
            return empty(ui, whole, says, ink);
        };
        let build_space_mm = content.machine.build_space_mm;
        let newest = model.shown_layer();
        let ways = self.parts.jumps || self.parts.runs;
        let ready = newest.and_then(|(shown, _)| self.preparing.get(shown, self.quantity, ways));
        let is_stale = newest.is_none_or(|(_, stale)| stale);
        let is_drawn = |ready: &Ready| {
            newest.is_some_and(|(shown, _)| ready.is_of(shown, self.quantity, ways))
        };
        let is_behind = is_stale || !ready.as_ref().is_some_and(is_drawn);
        self.is_pale = self.note_behind(ui, is_behind) || is_stale;
        let bottom = self.rows(ui, whole, ready.as_ref(), model, actions);

        let drawing = whole.with_min_y(bottom);
        let inside = Rect::from_min_max(drawing.min + vec2(RULER, RULER), drawing.max);
        if inside.width() < 8.0 || inside.height() < 8.0 {
            return;
        }
        let mut canvas = self.canvas(ui, inside, model, build_space_mm);
        let pointer = self.handle(ui, &mut canvas, model, ready.as_ref(), actions);

        self.drawn_on = Some(canvas);
        let painter = ui.painter().with_clip_rect(inside);
        canvas::grid(&painter, &canvas, build_space_mm, ink);
        if let Some(ready) = &ready {
            self.draw(ui, &canvas, model, ready, is_behind);
        }
        self.measure.draw(&painter, &canvas, ink);
        attention(&painter, &canvas, model);
        if let Some(around) = model.nearby() {
            let at = |[x, y, _]: [f64; 3]| canvas.at([x, y].map(|mm| mm * base::NM_PER_MM));
            dimensions::draw(&painter, model, around, |mm| Some(at(mm)));
        }
        canvas::rulers(ui.painter(), drawing, &canvas, pointer, ink);
        self.say_state(ui, inside, model, ready.as_ref(), self.is_pale);
        readout(ui, inside, &canvas, pointer, model);
    }

    /// Whether the drawing has been behind for so long that it has to be said. Most are made within a
    /// frame or two, and would only flicker.
    fn note_behind(&mut self, ui: &Ui, is_behind: bool) -> bool {
        let now_s = ui.input(|input| input.time);
        if !is_behind {
            self.behind_since_s = None;
            return false;
        }
        let waited_s = now_s - *self.behind_since_s.get_or_insert(now_s);
        if waited_s < PATIENCE_S {
            ui.ctx().request_repaint_after(Duration::from_secs_f64(PATIENCE_S - waited_s));
        }
        waited_s >= PATIENCE_S
    }

    /// The rows above the drawing; returns where they end.
    fn rows(
        &mut self,
        ui: &mut Ui,
        whole: Rect,
        ready: Option<&Ready>,
        model: &Model,
        actions: &mut Vec<Action>,
    ) -> f32 {
        let ink = &model.ink;
        let first = whole.shrink2(vec2(6.0, 0.0)).with_max_y(whole.top() + ROW);
        let used = ui.scope_builder(UiBuilder::new().max_rect(first), |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            ui.horizontal_wrapped(|ui| row::parts_row(ui, &mut self.parts, ink));
        });
        let top = used.response.rect.bottom().max(whole.top() + 20.0);
        let second =
            Rect::from_min_max(pos2(whole.left() + 8.0, top), pos2(whole.right() - 8.0, top + ROW));
        let scale = self.colour_scale(ink.theme);
        let nothing = Legend::None;
        let legend = ready.filter(|ready| ready.shades.quantity == self.quantity);
        let legend = legend.map_or(&nothing, |ready| &ready.shades.legend);
        ui.scope_builder(UiBuilder::new().max_rect(second), |ui| {
            ui.horizontal_centered(|ui| {
                ui.spacing_mut().item_spacing.x = 6.0;
                let (quantity, on) = (&mut self.quantity, self.measure.on);
                row::colour_row(ui, quantity, legend, &scale, on, ink, actions);
            });
        });
        second.bottom()
    }

    fn colour_scale(&mut self, theme: Theme) -> Arc<ColourScale> {
        match &self.scale {
            Some((quantity, of, scale)) if *quantity == self.quantity && *of == theme => {
                Arc::clone(scale)
            }
            _ => {
                let scale = Arc::new(self.quantity.scale(theme));
                self.scale = Some((self.quantity, theme, Arc::clone(&scale)));
                scale
            }
        }
    }

    /// What is seen: fitted until the person moves or zooms.
    fn canvas(&mut self, ui: &Ui, inside: Rect, model: &Model, space_mm: [f64; 3]) -> Canvas {
        let resized = self.seen_size != inside.size();
        self.seen_size = inside.size();
        if self.view.is_none() || (resized && !self.is_held) {
            let probe = Canvas::new(ui, inside, render::plan::PlanView::default());
            let (low, high) = extent_nm(model, space_mm);
            let margin_px = 14.0 * probe.px_per_point();
            let view = render::plan::PlanView::fit(low, high, probe.size_px(), margin_px);
            // a first guess is made again when the build is there
            let is_final = model.results.build.is_some();
            self.view = is_final.then_some(view);
            return Canvas::new(ui, inside, view);
        }
        Canvas::new(ui, inside, self.view.unwrap_or_default())
    }

    fn draw(&mut self, ui: &Ui, canvas: &Canvas, model: &Model, ready: &Ready, stale: bool) {
        let shown = &ready.drawing.shown;
        let time_s = model.cursor.time_s;
        let is_under_way = !stale && time_s > 0.0 && time_s < shown.timeline.total_s();
        let step = is_under_way.then(|| shown.timeline.index_at(time_s)).flatten();
        let beside = [shown.index.checked_sub(1), shown.index.checked_add(1)];
        let ghosts = beside.map(|index| {
            let layer = index.and_then(|index| model.results.neighbour(index));
            layer.filter(|_| self.parts.ghosts).map(|layer| self.preparing.ghost(layer))
        });
        let scale = self.colour_scale(model.ink.theme);
        let software = self.gpu == Some(DeviceType::Cpu);
        let budget = match (software, self.is_moving) {
            (false, _) => MOST[0],
            (true, false) => MOST[1],
            (true, true) => MOST[2],
        };
        if software && self.is_moving {
            // once more in full when it has come to rest
            ui.ctx().request_repaint_after(Duration::from_millis(120));
        }
        let chosen = self.preparing.chosen(shown, model);
        let parts = self.parts;
        let scene =
            Scene { ready, chosen, ghosts, parts, stale: self.is_pale, step, scale, budget };
        let frame = paint::frame(&scene, canvas, &model.ink);
        ui.painter().add(Callback::new_paint_callback(canvas.rect, Paint(frame)));

        let painter = ui.painter().with_clip_rect(canvas.rect);
        handling::moved_outlines(&painter, canvas, model, shown);
        if !stale && (model.cursor.playing || time_s > 0.0) {
            beam::draw(&painter, canvas, &shown.timeline, time_s, &model.ink);
        }
        if let Some(index) = self.hovered.filter(|_| !stale)
            && let Some(step) = shown.timeline.moves().get(index)
        {
            let nm = |p: base::Point| canvas.at([f64::from(p.x), f64::from(p.y)]);
            let line = Stroke::new(3.0, model.ink.accent.gamma_multiply(0.8));
            painter.line_segment([nm(step.from), nm(shown.timeline.to(index))], line);
        }
    }

    /// Says in words why the drawing is empty or pale.
    fn say_state(
        &self,
        ui: &Ui,
        inside: Rect,
        model: &Model,
        ready: Option<&Ready>,
        is_behind: bool,
    ) {
        let ink = &model.ink;
        let no_parts = model.content().is_none_or(|content| content.job.parts.is_empty());
        let crashed = model.shown_layer().is_some_and(|(s, _)| self.preparing.has_failed(s));
        let Some(ready) = ready else {
            let says = match &model.results.build_error {
                Some(sentence) => sentence.as_str(),
                None if crashed => "Drawing this layer failed; show another one.",
                None if no_parts => "No part yet: drop mesh files on the window.",
                None if model.results.is_loading() => "Reading meshes …",
                None if model.results.build.is_some() && model.layer_count() == 0 => {
                    "No layer yet: no part with a mesh stands above the build platform."
                }
                None => "Computing the layer …",
            };
            return empty(ui, inside, says, ink);
        };
        let shown = &ready.drawing.shown;
        let note = if let Some(sentence) = model.results.build_error.as_ref().filter(|_| is_behind)
        {
            format!("Pale: as it was. {sentence}")
        } else if crashed {
            "Pale: as it was. Drawing the present layer failed; show another one.".to_owned()
        } else if is_behind {
            let layer = model.cursor.layer;
            if shown.index == layer {
                "Pale: being computed anew …".to_owned()
            } else {
                format!("Pale: this is layer {}; layer {layer} is being computed …", shown.index)
            }
        } else if shown.layer.blocks.is_empty() {
            return empty(ui, inside, "Nothing is exposed in this layer.", ink);
        } else {
            return;
        };
        let font = FontId::proportional(CAPTION + 1.0);
        let galley = ui.painter().layout(note, font, ink.ink, inside.width() - 24.0);
        let place = Align2::CENTER_TOP
            .anchor_size(pos2(inside.center().x, inside.top() + 8.0), galley.size());
        ui.painter().rect_filled(place.expand2(vec2(6.0, 3.0)), 2.0, ink.desk);
        ui.painter().galley(place.min, galley, ink.ink);
    }
}

/// The rectangle that holds all placements of the build, or the build space without one, nm.
fn extent_nm(model: &Model, space_mm: [f64; 3]) -> ([f64; 2], [f64; 2]) {
    let rows = model.results.build.iter().flat_map(|built| &built.build.header.placements);
    let boxes = rows.filter_map(|row| row.bounds_mm);
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for [from, to] in boxes {
        for axis in 0..2 {
            low[axis] = low[axis].min(from[axis] * base::NM_PER_MM);
            high[axis] = high[axis].max(to[axis] * base::NM_PER_MM);
        }
    }
    if low[0] < high[0] && low[1] < high[1] {
        return (low, high);
    }
    let half = [space_mm[0], space_mm[1]].map(|size| size / 2.0 * base::NM_PER_MM);
    (half.map(|c| -c), half)
}

/// The place that a finding points to.
fn attention(painter: &egui::Painter, canvas: &Canvas, model: &Model) {
    let Some([x, y, _]) = model.attention_mm else { return };
    let at = canvas.at([x, y].map(|mm| mm * base::NM_PER_MM));
    let line = Stroke::new(1.5, model.ink.accent);
    painter.circle_stroke(at, 12.0, line);
    for way in [vec2(1.0, 0.0), vec2(-1.0, 0.0), vec2(0.0, 1.0), vec2(0.0, -1.0)] {
        painter.line_segment([at + way * 8.0, at + way * 18.0], line);
    }
}

/// Where the pointer is, in the lower right corner.
fn readout(ui: &Ui, inside: Rect, canvas: &Canvas, at: Option<Pos2>, model: &Model) {
    let Some(at) = at.filter(|at| inside.contains(*at)) else { return };
    let [x, y] = canvas.nm(at).map(|nm| nm / base::NM_PER_MM);
    let text = format!("x {x:.3}   y {y:.3} mm").replace('-', "−");
    let font = FontId::proportional(CAPTION);
    let galley = ui.painter().layout_no_wrap(text, font, model.ink.soft);
    let corner = inside.right_bottom() - vec2(8.0, 6.0);
    let place = Align2::RIGHT_BOTTOM.anchor_size(corner, galley.size());
    ui.painter().rect_filled(place.expand2(vec2(4.0, 2.0)), 2.0, model.ink.sheet);
    ui.painter().galley(place.min, galley, model.ink.soft);
}
