//! The build from the side: silhouettes that can be moved and rotated, a curve along Z, and the
//! cursor that says which layer is shown.

#![expect(clippy::cast_possible_truncation, reason = "f64 mm become f32 points of the screen")]

mod curve;
mod handling;
mod scale;
mod silhouettes;
mod state;

use super::{View, attention, dimensions};
use crate::state::actions::Action;
use crate::state::model::Model;
use crate::widgets::placeholder::placeholder;
use crate::widgets::theme::{CAPTION, Ink};
use crate::widgets::ticks::nice_step;
use crate::widgets::words::Words;
use curve::Curve;
use egui::{Align2, FontId, Painter, Pos2, Rect, Role, Stroke, Ui, WidgetInfo, pos2, vec2};
use scale::Scale;
pub(crate) use state::ElevationView;
use state::{Dragging, ViewSide};

/// Height of the row of choices, points.
const CHOICES: f32 = 24.0;
/// Room for the ruler on the left, points.
const RULER: f32 = 44.0;

/// The part of a view within the labels at its edges.
fn drawn_in(rest: Rect) -> Rect {
    Rect::from_min_max(rest.min + vec2(8.0, 18.0), rest.max - vec2(10.0, 10.0))
}

impl View for ElevationView {
    fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        let whole = ui.max_rect();
        let Some(content) = model.content() else {
            let says = "What is built, seen from the side, with curves along the height.";
            return placeholder(ui, whole, says, &model.ink);
        };
        let (top, rest) = whole.split_top_bottom_at_y(whole.top() + CHOICES);
        self.choices(ui, top);
        let [width, depth, height] = content.machine.build_space_mm;
        let across = match self.side {
            ViewSide::Front => width,
            ViewSide::Right => depth,
        };
        let built = f64::from(model.layer_count()) * model.layer_thickness_mm();
        let shown = if self.close && built > 0.0 { (built * 1.08).min(height) } else { height };
        let scale = scale_for(rest, shown, across);

        let painter = ui.painter().with_clip_rect(rest);
        let space = Rect::from_x_y_ranges(
            scale.x(-across / 2.0)..=scale.x(across / 2.0),
            scale.y(shown)..=scale.y(0.0),
        );
        painter.rect_stroke(space, 0.0, Stroke::new(1.0, model.ink.soft), egui::StrokeKind::Inside);
        ruler(&painter, &scale, shown, &model.ink);
        self.drawn = Some(scale);
        let shapes = silhouettes::of(self.side, &scale, model);
        self.handle(ui, &scale, rest, &shapes, model, actions);
        silhouettes::draw(&painter, &scale, &shapes, model);
        curve::draw(self.curve, &painter, &scale, model);
        if model.layer_count() > 0 {
            curve::layer_line(self.curve, &painter, &scale, rest, model);
        }
        self.draw_knob(&painter, &scale, model);
        if let Some(at) = model.attention_mm {
            let [across, _] = self.side.axes();
            attention::draw(&painter, scale.at([at[across], at[2]]), &model.ink);
        }
        if let Some(around) = model.nearby() {
            let [across, _] = self.side.axes();
            let mut words = Words::default();
            dimensions::draw(&painter, model, around, &mut words, |at| {
                Some(scale.at([at[across], at[2]]))
            });
            // Its lower corners have the axis and the name of the layer.
            words.write_count(&painter, &model.ink, painter.clip_rect().top() + 40.0);
        }
    }

    /// Shows the whole build space.
    fn fit(&mut self) {
        self.close = false;
    }

    /// The app shows the layer of the place, which is all that can be seen of it from the side.
    fn go_to_attention(&mut self, _model: &Model) {}

    fn cancel_drag(&mut self) -> bool {
        std::mem::take(&mut self.dragging) != Dragging::Nothing
    }

    fn leave_mode(&mut self) -> bool {
        false
    }

    fn on_screen(&self, at_mm: [f64; 3]) -> Option<Pos2> {
        let [across, _] = self.side.axes();
        Some(self.drawn?.at([at_mm[across], at_mm[2]]))
    }

    fn is_ready(&self) -> bool {
        true
    }

    fn wants_numbers_when_alone(&self) -> bool {
        true
    }
}

/// The scale at which a height and a width, mm, fit beside the curve.
fn scale_for(rest: Rect, shown_mm: f64, across_mm: f64) -> Scale {
    let (drawing, curve) = drawn_in(rest).split_left_right_at_fraction(0.66);
    let area = Rect::from_min_max(pos2(drawing.left() + RULER, drawing.top()), drawing.max);
    let mm = (area.height() / shown_mm as f32).min(area.width() / across_mm as f32);
    let area =
        Rect::from_min_max(pos2(area.left(), area.bottom() - shown_mm as f32 * mm), area.max);
    let curve = Rect::from_min_max(
        pos2(curve.left() + 12.0, area.top()),
        pos2(curve.right(), area.bottom()),
    );
    Scale { area, curve, mm, middle: area.center().x }
}

impl ElevationView {
    fn choices(&mut self, ui: &mut Ui, row: Rect) {
        let row = row.shrink2(vec2(8.0, 0.0));
        ui.scope_builder(egui::UiBuilder::new().max_rect(row), |ui| {
            ui.horizontal_centered(|ui| {
                let is_narrow = row.width() < 300.0;
                if is_narrow {
                    ui.spacing_mut().item_spacing.x = 4.0;
                }
                for (side, word) in [(ViewSide::Front, "Front"), (ViewSide::Right, "Side")] {
                    ui.selectable_value(&mut self.side, side, word);
                }
                if !is_narrow {
                    ui.separator();
                }
                let word = match (self.close, is_narrow) {
                    (true, false) => "Whole space",
                    (true, true) => "All",
                    (false, false) => "Build only",
                    (false, true) => "Build",
                };
                if ui.button(word).clicked() {
                    self.close = !self.close;
                }
                let width = (ui.available_width() - 2.0).clamp(48.0, 127.0); // beside narrow rows, less
                let combo = egui::ComboBox::from_id_salt("curve along Z")
                    .selected_text(self.curve.word())
                    .width(width)
                    .truncate()
                    .show_ui(ui, |ui| {
                        for curve in Curve::ALL {
                            ui.selectable_value(&mut self.curve, curve, curve.word());
                        }
                    });
                combo
                    .response
                    .widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, "Curve along Z"));
            });
        });
    }
}

/// Millimetres along Z.
fn ruler(painter: &Painter, scale: &Scale, height: f64, ink: &Ink) {
    let least = 34.0 / f64::from(scale.mm);
    let step = nice_step(least);
    let x = scale.area.left() - 8.0;
    let mut z = 0.0;
    while z <= height + 1e-9 {
        let y = scale.y(z);
        painter.line_segment([pos2(x - 5.0, y), pos2(x, y)], Stroke::new(1.0, ink.soft));
        let font = FontId::proportional(CAPTION);
        painter.text(pos2(x - 8.0, y), Align2::RIGHT_CENTER, format!("{z}"), font, ink.soft);
        z += step;
    }
}
