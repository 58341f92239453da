//! The trace: laser power and speed against time within the layer, at commanded speeds.

mod columns;

use crate::state::actions::Action;
use crate::state::commands::Command;
use crate::state::model::Model;
use crate::state::results::ShownLayer;
use crate::views::elevation::{empty, nice_step};
use crate::views::plan::words;
use crate::widgets::icons::{self, Icon};
use crate::widgets::theme::{BODY, CAPTION, GAP, Ink};
use crate::work::latest::Latest;
use crate::work::threads::{Priority, Threads};
use columns::{Columns, Span, Sums};
use egui::{
    Align2, Color32, FontId, Key, Mesh, Painter, PointerButton, Pos2, Rect, RichText, Role, Sense,
    Shape, Stroke, Ui, UiBuilder, WidgetInfo, pos2, vec2,
};
use std::sync::Arc;

/// Seconds of the beam in a second of the person, with their words.
const PACES: [(f64, &str); 6] = [
    (1.0, "as it runs"),
    (0.1, "10 × slower"),
    (0.01, "100 × slower"),
    (0.001, "1,000 × slower"),
    (0.0001, "10,000 × slower"),
    (10.0, "10 × faster"),
];
const ROW: f32 = 26.0;
/// Room for the numbers on the left and the time below, points.
const NUMBERS: f32 = 76.0;
const TIMES: f32 = 20.0;
/// Shortest stretch that can be shown, s.
const SHORTEST: f64 = 1e-7;
/// A layer of up to so many moves is summed within a frame.
const AT_ONCE: usize = 400_000;

/// See the module.
pub(crate) struct TraceView {
    /// The stretch of time shown, s; `None` is all of it.
    window: Option<[f64; 2]>,
    sums: Option<(Arc<ShownLayer>, Arc<Sums>)>,
    latest: Latest<(Arc<ShownLayer>, Sums)>,
    /// The layer whose sums were last asked for.
    asked: Option<Arc<ShownLayer>>,
    columns: Option<Columns>,
}

impl TraceView {
    /// A view that sums up large layers on these threads.
    pub(crate) fn new(threads: &Threads) -> Self {
        let latest = Latest::new(threads, "Summing up the layer", Priority::Normal);
        Self { window: None, sums: None, latest, asked: None, columns: None }
    }

    /// Whether nothing is being summed up.
    pub(crate) fn is_ready(&self) -> bool {
        !self.latest.is_busy()
    }

    /// Draws into the rest of `ui`.
    pub(crate) fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        let whole = ui.max_rect();
        let ink = &model.ink;
        let Some((shown, stale)) = model.shown_layer() else {
            let says = "Laser power and speed against time, and the beam that runs along them.";
            return empty(ui, whole, says, ink);
        };
        let (row, rest) = whole.split_top_bottom_at_y(whole.top() + ROW);
        let is_summed = self.columns.as_ref().is_some_and(|c| matches!(c.span, Span::Columns(_)));
        controls(ui, row, model, shown, stale, is_summed, actions);
        if shown.timeline.moves().is_empty() {
            return empty(ui, rest, "Nothing is exposed in this layer.", ink);
        }
        let area = Rect::from_min_max(
            pos2(rest.left() + NUMBERS, rest.top() + 4.0),
            pos2(rest.right() - 12.0, rest.bottom() - TIMES),
        );
        if area.width() < 20.0 || area.height() < 20.0 {
            return;
        }
        let total_s = shown.timeline.total_s().max(SHORTEST);
        let changed = self.sums.as_ref().is_none_or(|(of, _)| of.index != shown.index);
        if changed {
            self.window = None; // another layer: all of it
        }
        let sums = self.sums(shown);
        let axis = Axis { area, span: limited(self.window.unwrap_or([0.0, total_s]), total_s) };
        let axis = self.pointer(ui, axis, total_s, model, stale, actions);
        let strength = if stale { 0.3 } else { 1.0 };
        times(ui.painter(), &axis, ink);
        let (upper, lower) = area.split_top_bottom_at_fraction(0.54);
        let lanes = [upper.with_max_y(upper.bottom() - GAP), lower.with_min_y(lower.top() + GAP)];
        let Some(sums) = sums else {
            let says = if self.latest.is_busy() {
                "Summing up the layer …"
            } else {
                "Summing up the layer failed; show another one."
            };
            return empty(ui, area, says, ink);
        };
        let columns = self.columns_for(shown, &sums, &axis, ui.pixels_per_point());
        for (lane, which) in lanes.into_iter().zip([0, 1]) {
            draw_lane(ui.painter(), lane, which, columns, &axis, rest, ink, strength);
        }
        if stale {
            let font = FontId::proportional(CAPTION + 1.0);
            let at = pos2(area.right() - 4.0, area.top());
            ui.painter().text(at, Align2::RIGHT_TOP, "Pale: being computed anew …", font, ink.ink);
        } else {
            cursor(ui.painter(), &axis, model.cursor.time_s, ink);
        }
    }

    /// The layer's sums; large ones are made in the background.
    fn sums(&mut self, shown: &Arc<ShownLayer>) -> Option<Arc<Sums>> {
        let is_it = |of: &Arc<ShownLayer>| Arc::ptr_eq(of, shown);
        while let Some(answer) = self.latest.take() {
            if let Ok((of, sums)) = answer {
                self.sums = Some((of, Arc::new(sums)));
            }
        }
        if let Some((_, sums)) = self.sums.as_ref().filter(|(of, _)| is_it(of)) {
            return Some(Arc::clone(sums));
        }
        if shown.timeline.moves().len() <= AT_ONCE {
            let sums = Arc::new(Sums::new(&shown.timeline));
            self.sums = Some((Arc::clone(shown), Arc::clone(&sums)));
            return Some(sums);
        }
        if !self.asked.as_ref().is_some_and(is_it) {
            self.asked = Some(Arc::clone(shown));
            let layer = Arc::clone(shown);
            self.latest.ask(move |_| {
                let sums = Sums::new(&layer.timeline);
                Some((layer, sums))
            });
        }
        None
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

/// Where times lie on the screen.
#[derive(Clone, Copy)]
struct Axis {
    area: Rect,
    /// First and last time shown, s.
    span: [f64; 2],
}

impl Axis {
    fn x(&self, time_s: f64) -> f32 {
        let share = (time_s - self.span[0]) / (self.span[1] - self.span[0]);
        #[expect(clippy::cast_possible_truncation, reason = "points of the screen")]
        let share = share.clamp(-10.0, 10.0) as f32;
        self.area.left() + share * self.area.width()
    }

    fn time(&self, x: f32) -> f64 {
        let share = f64::from((x - self.area.left()) / self.area.width());
        self.span[0] + share * (self.span[1] - self.span[0])
    }

    fn shift(&mut self, points: f32) {
        let by = f64::from(points / self.area.width()) * (self.span[1] - self.span[0]);
        self.span = self.span.map(|time| time + by);
    }
}

/// A stretch of time that lies within the layer.
fn limited([a, b]: [f64; 2], total_s: f64) -> [f64; 2] {
    let width = (b - a).clamp(SHORTEST.min(total_s), total_s);
    let start = (a + (b - a - width) / 2.0).clamp(0.0, total_s - width);
    [start, start + width]
}

/// Buttons, pace, and what the beam does at the cursor.
fn controls(
    ui: &mut Ui,
    row: Rect,
    model: &Model,
    shown: &ShownLayer,
    stale: bool,
    is_summed: bool,
    actions: &mut Vec<Action>,
) {
    let ink = &model.ink;
    let inside = UiBuilder::new().max_rect(row.shrink2(vec2(8.0, 0.0)));
    ui.scope_builder(inside, |ui| {
        ui.horizontal_centered(|ui| {
            let can = !stale && shown.timeline.total_s() > 0.0;
            let playing = model.cursor.playing;
            let (icon, name) =
                if playing { (Icon::Halt, "Halt the beam") } else { (Icon::Play, "Run the beam") };
            let command = |icon, name: &str, command, ui: &mut Ui, actions: &mut Vec<Action>| {
                if icons::button(ui, icon, name, can, ink).clicked() && can {
                    actions.push(Action::Command(command));
                }
            };
            command(Icon::Previous, "Previous mark", Command::PreviousMark, ui, actions);
            command(icon, name, Command::Play, ui, actions);
            command(Icon::Next, "Next mark", Command::NextMark, ui, actions);
            pace(ui, model, actions);
            let text = RichText::new(now(model, shown, stale)).size(BODY).color(ink.ink);
            ui.add(egui::Label::new(text).truncate());
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                let caption = |text: &str| RichText::new(text).size(CAPTION).color(ink.soft);
                ui.add(egui::Label::new(caption("at commanded speeds"))).on_hover_text(
                    "Every move is taken to run at the speed that is asked for. How the mirrors \
                     speed up, settle and lag is not in it yet: a real scan head needs longer.",
                );
                if is_summed && ui.available_width() > 150.0 {
                    ui.label(caption("line: mean, band: range")).on_hover_text(
                        "There are more moves than pixels: each column shows the mean over its \
                         time, and between which values it goes. Zoom in with the wheel to see \
                         every move.",
                    );
                }
            });
        });
    });
}

fn pace(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let now = model.cursor.pace;
    let near = |pace: f64| (pace / now - 1.0).abs() < 1e-6;
    let words = PACES.iter().find(|(pace, _)| near(*pace)).map_or("", |(_, words)| words);
    let combo =
        egui::ComboBox::from_id_salt("pace").selected_text(words).width(112.0).show_ui(ui, |ui| {
            for (pace, words) in PACES {
                if ui.selectable_label(near(pace), words).clicked() {
                    actions.push(Action::Play { on: model.cursor.playing, pace });
                }
            }
        });
    combo.response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, "Pace of the beam"));
}

/// What the beam does at the cursor, in words.
fn now(model: &Model, shown: &ShownLayer, stale: bool) -> String {
    let total = words::time(shown.timeline.total_s());
    let time_s = model.cursor.time_s;
    let beam = shown.timeline.at(time_s).filter(|_| !stale);
    let Some(beam) = beam else { return format!("layer of {total}") };
    let kind = match beam.kind {
        scan_path::MoveKind::Jump => "jump",
        scan_path::MoveKind::RunIn => "run-in",
        scan_path::MoveKind::Mark => "mark",
        scan_path::MoveKind::RunOut => "run-out",
    };
    let time = words::time(time_s);
    format!("{time} of {total} · {kind} · {} W · {} mm/s", beam.power_w, beam.speed_mm_s)
}

/// The time axis with its ticks.
fn times(painter: &Painter, axis: &Axis, ink: &Ink) {
    let [from, to] = axis.span;
    let step = nice_step((to - from) * 90.0 / f64::from(axis.area.width()));
    let (unit, factor) = match step {
        s if s >= 0.1 => ("s", 1.0),
        s if s >= 1e-4 => ("ms", 1e3),
        _ => ("µs", 1e6),
    };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 3")]
    let decimals = (-(step * factor * 1.000_001).log10().floor()).clamp(0.0, 3.0) as usize;
    let base = axis.area.bottom();
    painter.hline(axis.area.x_range(), base, Stroke::new(1.0, ink.soft));
    let font = FontId::proportional(CAPTION);
    let first = (from / step).ceil();
    for tick in (0..200).map(|k| first + f64::from(k)).take_while(|tick| tick * step <= to) {
        let x = axis.x(tick * step);
        painter.vline(x, axis.area.y_range(), Stroke::new(1.0, ink.grid));
        painter.vline(x, base..=base + 4.0, Stroke::new(1.0, ink.soft));
        let text = format!("{:.decimals$}", tick * step * factor);
        let last = x > axis.area.right() - 46.0;
        if !last {
            painter.text(pos2(x, base + 5.0), Align2::CENTER_TOP, text, font.clone(), ink.soft);
        }
    }
    let corner = pos2(axis.area.right(), base + 5.0);
    painter.text(corner, Align2::RIGHT_TOP, format!("time, {unit}"), font, ink.soft);
}

/// Power (0) or speed (1) in its lane: steps where there is room for them, else what each pixel
/// column spans, with its mean.
#[expect(clippy::too_many_arguments, reason = "a lane, what is in it, and how to draw it")]
fn draw_lane(
    painter: &Painter,
    lane: Rect,
    which: usize,
    columns: &Columns,
    axis: &Axis,
    rest: Rect,
    ink: &Ink,
    strength: f32,
) {
    let name = ["power, W", "speed, mm/s"][which];
    let most = columns.most[which].max(1e-9);
    let y = |value: f32| lane.bottom() - value / most * (lane.height() - 3.0);
    let font = FontId::proportional(CAPTION);
    let right = axis.area.left() - 7.0;
    let painter = painter.with_clip_rect(rest);
    let name_at = pos2(rest.left() + 8.0, lane.top() - 1.0);
    painter.text(name_at, Align2::LEFT_TOP, name, font.clone(), ink.soft);
    if lane.height() > 26.0 {
        let top = pos2(right, lane.top() + 12.0);
        painter.text(top, Align2::RIGHT_TOP, number(most), font.clone(), ink.soft);
        painter.text(pos2(right, lane.bottom() + 2.0), Align2::RIGHT_BOTTOM, "0", font, ink.soft);
    }
    painter.hline(axis.area.x_range(), lane.bottom(), Stroke::new(1.0, ink.faint));
    painter.hline(axis.area.x_range(), y(most), Stroke::new(1.0, ink.grid));
    let painter = painter.with_clip_rect(axis.area.expand2(vec2(1.0, 2.0)));
    let colour = ink.ink.gamma_multiply(strength);
    match &columns.span {
        Span::Steps(steps) => {
            let mut points: Vec<Pos2> = Vec::with_capacity(2 * steps.len());
            for step in steps {
                let height = y(step.values[which]);
                points.extend([pos2(axis.x(step.from_s), height), pos2(axis.x(step.to_s), height)]);
            }
            painter.add(Shape::line(points, Stroke::new(1.4, colour)));
        }
        Span::Columns(columns) => {
            let tint = ink.soft.gamma_multiply(0.3 * strength);
            let width = axis.area.width() / columns.len() as f32;
            let mut band = Mesh::default();
            let mut mean = Vec::with_capacity(columns.len());
            for (index, column) in columns.iter().enumerate() {
                let left = axis.area.left() + index as f32 * width;
                let [low, high] = column.range[which];
                let rect =
                    Rect::from_min_max(pos2(left, y(high)), pos2(left + width, y(low) + 1.0));
                band.add_colored_rect(rect, tint);
                mean.push(pos2(left + width / 2.0, y(column.mean[which])));
            }
            painter.add(Shape::mesh(band));
            painter.add(Shape::line(mean, Stroke::new(1.25, colour)));
        }
    }
}

fn number(value: f32) -> String {
    if value >= 100.0 {
        format!("{value:.0}")
    } else {
        format!("{}", (value * 10.0).round() / 10.0)
    }
}

fn cursor(painter: &Painter, axis: &Axis, time_s: f64, ink: &Ink) {
    let x = axis.x(time_s);
    if x < axis.area.left() - 1.0 || x > axis.area.right() + 1.0 {
        return;
    }
    let line = Stroke::new(1.25, ink.accent);
    painter.vline(x, axis.area.top() - 2.0..=axis.area.bottom() + 4.0, line);
    let top = axis.area.top() - 3.0;
    let grip: Vec<Pos2> = vec![pos2(x - 5.0, top), pos2(x + 5.0, top), pos2(x, top + 7.0)];
    painter.add(Shape::convex_polygon(grip, ink.accent, Stroke::new(0.0, Color32::TRANSPARENT)));
}

#[cfg(test)]
mod tests {
    use super::limited;

    #[test]
    fn a_stretch_of_time_stays_within_the_layer() {
        for (wanted, given) in
            [([-5.0, 50.0], [0.0, 10.0]), ([8.0, 12.0], [6.0, 10.0]), ([2.0, 3.0], [2.0, 3.0])]
        {
            let found = limited(wanted, 10.0);
            let off = (found[0] - given[0]).abs() + (found[1] - given[1]).abs();
            assert!(off < 1e-12, "{found:?}, not {given:?}");
        }
        let [a, b] = limited([4.0, 4.0], 10.0);
        assert!((b - a - 1e-7).abs() < 1e-12);
    }
}
