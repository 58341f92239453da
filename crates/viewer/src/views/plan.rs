//! The plan: one layer from above, down to single vectors.
//!
//! ```text
//! ShownLayer ─► Drawing, Shades (made off the window's thread) ─► PlanFrame ─► render
//!                  └─ MarkGrid: which mark is under the pointer
//! ```

mod beam;
mod canvas;
mod dose;
mod drawing;
mod elements;
mod handling;
mod mark_grid;
mod measure;
mod overlay;
mod paint;
mod part_colours;
mod picking;
mod preparing;
mod quantity;
mod row;
mod state;
mod with_dose;
mod words;

use super::{View, dimensions};
use crate::state::actions::Action;
use crate::state::model::Model;
use crate::widgets::placeholder::placeholder;
use crate::widgets::theme::Theme;
use crate::widgets::words::Words;
use canvas::{Canvas, RULER};
use eframe::egui_wgpu::{Callback, wgpu::DeviceType};
use egui::{Pos2, Rect, Stroke, Ui, UiBuilder, pos2, vec2};
use paint::{Paint, Scene};
use preparing::Ready;
use quantity::{Legend, Quantity};
use render::plan::ColourScale;
use state::Dragging;
pub(crate) use state::PlanView;
use std::sync::Arc;
use std::time::Duration;

/// Height of the rows above the drawing, points.
const ROW: f32 = 24.0;
/// Segments of one kind that are drawn at most: on a graphics card, in software, and in software
/// while the picture moves.
const MOST: [usize; 3] = [render::plan::BUDGET, 250_000, 30_000];

/// A drawing that is made sooner than this is not drawn as out of date meanwhile.
const PATIENCE_S: f64 = 0.1;

impl View for PlanView {
    fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        let whole = ui.max_rect();
        let ink = &model.ink;
        if self.gpu.is_none() {
            let says = "There is no graphics device to draw the plan with.";
            return placeholder(ui, whole, says, ink);
        }
        let Some(content) = model.content() else {
            let says = "The layer at the cursor, seen from above: contours, hatch, centrelines.";
            return placeholder(ui, whole, says, ink);
        };
        let build_space_mm = content.machine.build_space_mm;
        let (ready, is_behind) = self.ready(ui, model);
        let bottom = self.rows(ui, whole, ready.as_ref(), model, actions);

        let drawing = whole.with_min_y(bottom);
        let inside = Rect::from_min_max(drawing.min + vec2(RULER, RULER), drawing.max);
        if inside.width() < 8.0 || inside.height() < 8.0 {
            return;
        }
        let mut canvas = self.canvas(ui, inside, model, build_space_mm);
        let pointer = self.handle(ui, &mut canvas, model, ready.as_ref(), actions);
        self.want_dose(ui, &canvas, model);

        self.drawn_on = Some(canvas);
        let painter = ui.painter().with_clip_rect(inside);
        canvas::grid(&painter, &canvas, build_space_mm, ink);
        if let Some(ready) = &ready {
            self.draw(ui, &canvas, model, ready, is_behind);
        }
        self.measure.draw(&painter, &canvas, ink);
        overlay::attention(&painter, &canvas, model);
        if let Some(around) = model.nearby() {
            let at = |[x, y, _]: [f64; 3]| canvas.at([x, y].map(|mm| mm * base::NM_PER_MM));
            let mut words = Words::default();
            dimensions::draw(&painter, model, around, &mut words, |mm| Some(at(mm)));
            words.write_count(&painter, &model.ink, painter.clip_rect().bottom() - 22.0);
        }
        canvas::rulers(ui.painter(), drawing, &canvas, pointer, ink);
        self.say_state(ui, inside, model, ready.as_ref(), self.is_out_of_date);
        self.say_dose(ui, inside, &canvas, pointer, model);
    }

    fn fit(&mut self) {
        self.view = None;
        self.is_held = false;
    }

    fn go_to_attention(&mut self, model: &Model) {
        let Some([x, y, _]) = model.attention_mm else { return };
        let before = self.view.unwrap_or_default();
        let centre_nm = [x, y].map(|mm| mm * base::NM_PER_MM);
        let px_per_mm = before.px_per_mm.max(12.0);
        self.view = Some(render::plan::PlanView { centre_nm, px_per_mm }.limited());
        self.is_held = true;
    }

    fn cancel_drag(&mut self) -> bool {
        match std::mem::take(&mut self.dragging) {
            Dragging::Nothing => false,
            Dragging::Measure => {
                self.measure.ends = None;
                true
            }
            Dragging::Pan | Dragging::Move(_) => true,
        }
    }

    fn leave_mode(&mut self) -> bool {
        self.measure.leave()
    }

    fn on_screen(&self, [x, y, _]: [f64; 3]) -> Option<Pos2> {
        Some(self.drawn_on?.at([x, y].map(|mm| mm * base::NM_PER_MM)))
    }

    fn is_ready(&self) -> bool {
        self.preparing.is_idle() && self.dose.is_idle()
    }

    fn wants_numbers_when_alone(&self) -> bool {
        true
    }
}

impl PlanView {
    /// The newest layer that is ready to be drawn, and whether it is behind what is wanted.
    fn ready(&mut self, ui: &Ui, model: &Model) -> (Option<Ready>, bool) {
        let newest = model.shown_layer();
        let ways = self.elements.jumps || self.elements.runs;
        let ready = newest.and_then(|(shown, _)| self.preparing.get(shown, self.quantity, ways));
        let is_stale = newest.is_none_or(|(_, stale)| stale);
        let is_it = |ready: &Ready| {
            newest.is_some_and(|(shown, _)| ready.is_of(shown, self.quantity, ways))
        };
        let lacks_dose = self.dose.collect(newest.map(|(shown, _)| shown));
        let is_behind = is_stale
            || !ready.as_ref().is_some_and(is_it)
            || (lacks_dose && self.quantity == Quantity::Dose);
        self.is_out_of_date = self.note_behind(ui, is_behind) || is_stale;
        (ready, is_behind)
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
            ui.horizontal_wrapped(|ui| row::elements_row(ui, &mut self.elements, ink));
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
        if self.quantity != Quantity::Dose {
            return second.bottom();
        }
        self.dose_row(ui, second, &scale, model)
    }

    fn colour_scale(&mut self, theme: Theme) -> Arc<ColourScale> {
        match &self.scale {
            Some((quantity, of, scale)) if *quantity == self.quantity && *of == theme => {
                Arc::clone(scale)
            }
            Some(_) | None => {
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

    fn draw(&mut self, ui: &Ui, canvas: &Canvas, model: &Model, ready: &Ready, is_behind: bool) {
        let shown = &ready.drawing.shown;
        let time_s = model.cursor.time_s;
        let is_under_way = !is_behind && time_s > 0.0 && time_s < shown.timeline.total_s();
        let step = is_under_way.then(|| shown.timeline.index_at(time_s)).flatten();
        let beside = [shown.index.checked_sub(1), shown.index.checked_add(1)];
        let neighbours = beside.map(|index| {
            let layer = index.and_then(|index| model.results.neighbour(index));
            layer.filter(|_| self.elements.neighbours).map(|layer| self.preparing.neighbour(layer))
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
        let dose = self.draw_dose(ui, canvas, &scale, model);
        let selected = self.preparing.selected(shown, model);
        let (elements, stale) = (self.elements, self.is_out_of_date);
        let scene =
            Scene { ready, selected, neighbours, elements, dose, stale, step, scale, budget };
        let frame = paint::frame(&scene, canvas, &model.ink);
        ui.painter().add(Callback::new_paint_callback(canvas.rect, Paint(frame)));

        let painter = ui.painter().with_clip_rect(canvas.rect);
        overlay::moved_boundaries(&painter, canvas, model, shown);
        if !is_behind && (model.cursor.playing || time_s > 0.0) {
            beam::draw(&painter, canvas, &shown.timeline, time_s, &model.ink);
        }
        if let Some(index) = self.hovered.filter(|_| !is_behind)
            && let Some(step) = shown.timeline.moves().get(index)
        {
            let nm = |p: base::Point| canvas.at([f64::from(p.x), f64::from(p.y)]);
            let line = Stroke::new(3.0, model.ink.accent.gamma_multiply(0.8));
            painter.line_segment([nm(step.from), nm(shown.timeline.to(index))], line);
        }
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
