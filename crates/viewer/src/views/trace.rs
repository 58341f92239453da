//! The trace: laser power and speed against time within the layer.

mod axis;
mod columns;
mod controls;
mod lanes;
mod summing;

use super::View;
use crate::state::actions::Action;
use crate::state::model::Model;
use crate::state::results::ShownLayer;
use crate::widgets::placeholder::placeholder;
use crate::widgets::theme::{CAPTION, GAP};
use crate::work::threads::Threads;
use axis::{Axis, SHORTEST, limited};
use columns::{Columns, Span, Sums};
use egui::{Align2, FontId, Key, PointerButton, Pos2, Rect, Sense, Ui, WidgetInfo, pos2};
use lanes::{Lane, Signal};
use std::sync::Arc;
use summing::{Summed, Summing};

const ROW: f32 = 26.0;
/// Room for the numbers on the left and the time below, points.
const NUMBERS: f32 = 76.0;
const TIMES: f32 = 20.0;

/// See the module.
pub(crate) struct TraceView {
    /// The stretch of time shown, s; `None` is all of it.
    window: Option<[f64; 2]>,
    summing: Summing,
    columns: Option<Columns>,
}

impl View for TraceView {
    fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        let whole = ui.max_rect();
        let ink = &model.ink;
        let Some((shown, stale)) = model.shown_layer() else {
            let says = "Laser power and speed against time, and the beam that runs along them.";
            return placeholder(ui, whole, says, ink);
        };
        let (row, rest) = whole.split_top_bottom_at_y(whole.top() + ROW);
        let is_summed = self.columns.as_ref().is_some_and(|columns| match columns.span {
            Span::Columns(_) => true,
            Span::Steps(_) => false,
        });
        controls::controls(ui, row, model, shown, stale, is_summed, actions);
        if shown.timeline.moves().is_empty() {
            return placeholder(ui, rest, "Nothing is exposed in this layer.", ink);
        }
        let area = Rect::from_min_max(
            pos2(rest.left() + NUMBERS, rest.top() + 4.0),
            pos2(rest.right() - 12.0, rest.bottom() - TIMES),
        );
        if area.width() < 20.0 || area.height() < 20.0 {
            return;
        }
        let total_s = shown.timeline.total_s().max(SHORTEST);
        if self.summing.layer() != Some(shown.index) {
            self.window = None; // another layer: all of it
        }
        let summed = self.summing.get(shown);
        let axis = Axis { area, span: limited(self.window.unwrap_or([0.0, total_s]), total_s) };
        let axis = self.pointer(ui, axis, total_s, model, stale, actions);
        axis::draw(ui.painter(), &axis, ink);
        let sums = match summed {
            Summed::Done(sums) => sums,
            Summed::Running => return placeholder(ui, area, "Summing up the layer …", ink),
            Summed::Failed => {
                let says = "Summing up this layer failed; show another one.";
                return placeholder(ui, area, says, ink);
            }
        };
        self.draw(ui, &axis, rest, model, shown, &sums);
    }

    /// The common command leaves the stretch of time as it is; a double click shows all of it.
    fn fit(&mut self) {}

    /// A place has no time.
    fn go_to_attention(&mut self, _model: &Model) {}

    /// A drag shows times, and changes nothing that could be put back.
    fn cancel_drag(&mut self) -> bool {
        false
    }

    fn leave_mode(&mut self) -> bool {
        false
    }

    fn on_screen(&self, _at_mm: [f64; 3]) -> Option<Pos2> {
        None
    }

    fn is_ready(&self) -> bool {
        self.summing.is_idle()
    }

    fn wants_numbers_when_alone(&self) -> bool {
        false
    }
}

impl TraceView {
    /// A view that sums up large layers on these threads.
    pub(crate) fn new(threads: &Threads) -> Self {
        Self { window: None, summing: Summing::new(threads), columns: None }
    }

    /// The lanes, and the cursor or that they are out of date.
    fn draw(
        &mut self,
        ui: &Ui,
        axis: &Axis,
        rest: Rect,
        model: &Model,
        shown: &ShownLayer,
        sums: &Arc<Sums>,
    ) {
        let ink = &model.ink;
        let stale = model.shown_layer().is_none_or(|(_, stale)| stale);
        let strength = if stale { 0.3 } else { 1.0 };
        let (upper, lower) = axis.area.split_top_bottom_at_fraction(0.54);
        let areas = [upper.with_max_y(upper.bottom() - GAP), lower.with_min_y(lower.top() + GAP)];
        let columns = self.columns_for(shown, sums, axis, ui.pixels_per_point());
        for (area, signal) in areas.into_iter().zip(Signal::ALL) {
            let lane = Lane { signal, painter: ui.painter(), area, axis, ink, strength };
            lane.draw(columns, rest);
        }
        if stale {
            let font = FontId::proportional(CAPTION + 1.0);
            let at = pos2(axis.area.right() - 4.0, axis.area.top());
            let says = "Out of date: being computed anew …";
            ui.painter().text(at, Align2::RIGHT_TOP, says, font, ink.ink);
        } else {
            axis::cursor(ui.painter(), axis, model.cursor.time_s, ink);
        }
    }

    /// One column for each pixel, kept until something changes.
    fn columns_for(
        &mut self,
        shown: &ShownLayer,
        sums: &Arc<Sums>,
        axis: &Axis,
        px: f32,
    ) -> &Columns {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "pixels")]
        let count = (axis.area.width() * px).round().max(1.0) as usize;
        let kept = self.columns.take().filter(|columns| columns.is_of(sums, axis.span, count));
        let columns = kept.unwrap_or_else(|| Columns::new(&shown.timeline, sums, axis.span, count));
        self.columns.insert(columns)
    }

    /// Moves the cursor with a drag, zooms with the wheel, pans with the secondary button.
    fn pointer(
        &mut self,
        ui: &mut Ui,
        mut axis: Axis,
        total_s: f64,
        model: &Model,
        stale: bool,
        actions: &mut Vec<Action>,
    ) -> Axis {
        let response = ui.interact(axis.area, ui.scope_id().with("time"), Sense::click_and_drag());
        let time_s = model.cursor.time_s;
        response
            .widget_info(|| WidgetInfo::slider(true, time_s, "Beam time in the layer, seconds"));
        if let Some(at) = response.hover_pos() {
            let (scroll, pinch) =
                ui.input(|input| (input.smooth_scroll_delta(), input.zoom_delta()));
            let factor = f64::from(pinch) * (f64::from(scroll.y) / 220.0).exp();
            if (factor - 1.0).abs() > 1e-6 {
                let held = axis.time(at.x);
                let [a, b] = axis.span;
                axis.span = [held - (held - a) / factor, held + (b - held) / factor];
            }
            axis.shift(-scroll.x);
        }
        let is_pan = response.dragged_by(PointerButton::Secondary)
            || response.dragged_by(PointerButton::Middle);
        if is_pan {
            axis.shift(-response.drag_delta().x);
        } else if let Some(at) = response.interact_pointer_pos()
            && !stale
            && (response.dragged_by(PointerButton::Primary) || response.clicked())
        {
            actions.push(Action::ShowTime(axis.time(at.x).clamp(0.0, total_s)));
        }
        if response.double_clicked() {
            axis.span = [0.0, total_s];
        }
        if response.has_focus() {
            step_by_keys(ui, &axis, time_s, actions);
        }
        axis.span = limited(axis.span, total_s);
        let is_all = axis.span[0] <= 0.0 && axis.span[1] >= total_s;
        self.window = (!is_all).then_some(axis.span);
        // while the beam runs, keep it in sight
        if model.cursor.playing && !is_all && !(axis.span[0]..=axis.span[1]).contains(&time_s) {
            let width = axis.span[1] - axis.span[0];
            axis.span = limited([time_s - 0.1 * width, time_s + 0.9 * width], total_s);
            self.window = Some(axis.span);
        }
        axis
    }
}

/// Page keys move the cursor by a tenth of what is shown.
fn step_by_keys(ui: &Ui, axis: &Axis, time_s: f64, actions: &mut Vec<Action>) {
    let tenth = (axis.span[1] - axis.span[0]) / 10.0;
    for (key, by) in [(Key::PageUp, tenth), (Key::PageDown, -tenth)] {
        if ui.input(|input| input.key_pressed(key)) {
            actions.push(Action::ShowTime(time_s + by));
        }
    }
}
