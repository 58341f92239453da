//! The build from the side: silhouettes that can be moved and turned, a curve along Z, and the
//! cursor that chooses the layer.

#![expect(clippy::cast_possible_truncation, reason = "f64 mm become f32 points of the screen")]

mod handling;
mod silhouettes;

use super::dimensions;
use crate::state::actions::Action;
use crate::state::model::Model;
use crate::state::results::LayerSums;
use crate::widgets::theme::{CAPTION, Ink};
use egui::{Align2, FontId, Painter, Pos2, Rect, Role, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};
use handling::Dragging;

/// From where the build is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
enum From {
    /// X to the right.
    #[default]
    Front,
    /// Y to the right, seen from the +X side.
    Right,
}

impl From {
    /// The axis that runs to the right, and the one that is looked along.
    fn axes(self) -> [usize; 2] {
        match self {
            Self::Front => [0, 1],
            Self::Right => [1, 0],
        }
    }
}

/// What the curve shows.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
enum Curve {
    #[default]
    Area,
    Length,
    Time,
}

impl Curve {
    const WORDS: [(Self, &str); 3] = [
        (Self::Area, "fused area, mm²"),
        (Self::Length, "mark length, m"),
        (Self::Time, "beam time, s"),
    ];

    fn unit(self) -> &'static str {
        match self {
            Self::Area => "mm²",
            Self::Length => "m",
            Self::Time => "s",
        }
    }

    fn of(self, sums: &LayerSums) -> f64 {
        match self {
            Self::Area => sums.area_mm2,
            Self::Length => sums.mark_mm / 1000.0,
            Self::Time => sums.time_s,
        }
    }
}

/// See the module.
#[derive(Default)]
pub(crate) struct ElevationView {
    from: From,
    curve: Curve,
    /// Whether the build alone is shown, rather than the whole build space.
    close: bool,
    dragging: Dragging,
    /// How it was last drawn.
    drawn: Option<Scale>,
}

/// Height of the row of choices, points.
const CHOICES: f32 = 24.0;
/// Room for the ruler on the left, points.
const RULER: f32 = 44.0;

/// What labels at the edges leave of a view.
fn drawn_in(rest: Rect) -> Rect {
    Rect::from_min_max(rest.min + vec2(8.0, 18.0), rest.max - vec2(10.0, 10.0))
}

/// Where mm lie on the screen.
#[derive(Clone, Copy)]
struct Scale {
    area: Rect,
    curve: Rect,
    mm: f32,
    middle: f32,
}

impl Scale {
    fn y(&self, z_mm: f64) -> f32 {
        self.area.bottom() - z_mm as f32 * self.mm
    }

    fn x(&self, across_mm: f64) -> f32 {
        self.middle + across_mm as f32 * self.mm
    }

    /// Where a place across and above the platform, mm, is on the screen.
    fn at(&self, [across, z]: [f64; 2]) -> Pos2 {
        pos2(self.x(across), self.y(z))
    }

    fn z(&self, y: f32) -> f64 {
        f64::from((self.area.bottom() - y) / self.mm)
    }

    /// Across and above the platform, mm.
    fn mm_at(&self, at: Pos2) -> [f64; 2] {
        [f64::from((at.x - self.middle) / self.mm), self.z(at.y)]
    }
}

impl ElevationView {
    /// Shows the build, then the whole build space, by turns.
    pub(crate) fn fit(&mut self) {
        self.close = false;
    }

    /// Where a point of the build space is on the screen.
    pub(crate) fn on_screen(&self, at_mm: [f64; 3]) -> Option<Pos2> {
        let [across, _] = self.from.axes();
        Some(self.drawn?.at([at_mm[across], at_mm[2]]))
    }

    /// Draws into the rest of `ui`.
    pub(crate) fn show(&mut self, ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
        let whole = ui.max_rect();
        let Some(content) = model.content() else {
            let says = "What is built, seen from the side, with curves along the height.";
            return empty(ui, whole, says, &model.ink);
        };
        let (top, rest) = whole.split_top_bottom_at_y(whole.top() + CHOICES);
        self.choices(ui, top);
        let [width, depth, height] = content.machine.build_space_mm;
        let across = if self.from == From::Front { width } else { depth };
        let built = f64::from(model.layer_count()) * model.layer_thickness_mm();
        let shown = if self.close && built > 0.0 { (built * 1.08).min(height) } else { height };
        let (drawing, curve) = drawn_in(rest).split_left_right_at_fraction(0.66);
        let area = Rect::from_min_max(pos2(drawing.left() + RULER, drawing.top()), drawing.max);
        let mm = (area.height() / shown as f32).min(area.width() / across as f32);
        let area =
            Rect::from_min_max(pos2(area.left(), area.bottom() - shown as f32 * mm), area.max);
        let curve = Rect::from_min_max(
            pos2(curve.left() + 12.0, area.top()),
            pos2(curve.right(), area.bottom()),
        );
        let scale = Scale { area, curve, mm, middle: area.center().x };

        let painter = ui.painter().with_clip_rect(rest);
        let space = Rect::from_x_y_ranges(
            scale.x(-across / 2.0)..=scale.x(across / 2.0),
            scale.y(shown)..=scale.y(0.0),
        );
        painter.rect_stroke(space, 0.0, Stroke::new(1.0, model.ink.soft), egui::StrokeKind::Inside);
        ruler(&painter, &scale, shown, &model.ink);
        self.drawn = Some(scale);
        let shapes = silhouettes::of(self.from, &scale, model);
        self.handle(ui, &scale, rest, &shapes, model, actions);
        silhouettes::draw(&painter, &scale, &shapes, model);
        self.draw_curve(&painter, &scale, model);
        if model.layer_count() > 0 {
            self.layer_line(&painter, &scale, rest, model);
        }
        self.draw_knob(&painter, &scale, model);
        if let Some(around) = model.nearby() {
            let [across, _] = self.from.axes();
            dimensions::draw(&painter, model, around, |at| Some(scale.at([at[across], at[2]])));
        }
    }

    fn choices(&mut self, ui: &mut Ui, row: Rect) {
        let row = row.shrink2(vec2(8.0, 0.0));
        ui.scope_builder(egui::UiBuilder::new().max_rect(row), |ui| {
            ui.horizontal_centered(|ui| {
                for (from, word) in [(From::Front, "Front"), (From::Right, "Side")] {
                    ui.selectable_value(&mut self.from, from, word);
                }
                ui.separator();
                let word = if self.close { "Whole space" } else { "Build only" };
                if ui.button(word).clicked() {
                    self.close = !self.close;
                }
                let words = Curve::WORDS.iter().find(|(curve, _)| *curve == self.curve);
                let width = (ui.available_width() - 2.0).clamp(48.0, 127.0); // beside narrow rows, less
                let combo = egui::ComboBox::from_id_salt("curve along Z")
                    .selected_text(words.map_or("", |(_, word)| word))
                    .width(width)
                    .truncate()
                    .show_ui(ui, |ui| {
                        for (curve, word) in Curve::WORDS {
                            ui.selectable_value(&mut self.curve, curve, word);
                        }
                    });
                combo
                    .response
                    .widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, "Curve along Z"));
            });
        });
    }

    fn draw_curve(&self, painter: &Painter, scale: &Scale, model: &Model) {
        let layers = &model.results.survey.layers;
        let ink = &model.ink;
        let rect = scale.curve;
        painter.line_segment([rect.left_bottom(), rect.left_top()], Stroke::new(1.0, ink.soft));
        let most = layers.iter().map(|sums| self.curve.of(sums)).fold(0.0, f64::max);
        if most <= 0.0 {
            return;
        }
        let stale = model.results.survey.revision != Some(model.revision());
        let colour = if stale { ink.faint } else { ink.ink };
        let thickness = model.layer_thickness_mm();
        let x = |value: f64| rect.left() + (value / most) as f32 * (rect.width() - 6.0);
        // One point for each row of the screen: the greatest of its layers, so that peaks stay.
        let mut points: Vec<Pos2> = Vec::new();
        for (index, sums) in layers.iter().enumerate() {
            let y = scale.y((index as f64 + 0.5) * thickness);
            let x = x(self.curve.of(sums));
            match points.last_mut() {
                Some(last) if (last.y - y).abs() < 0.75 => last.x = last.x.max(x),
                _ => points.push(pos2(x, y)),
            }
        }
        painter.add(Shape::line(points, Stroke::new(1.25, colour)));
        let font = FontId::proportional(CAPTION);
        let text = format!("{most:.0}");
        painter.text(rect.right_top(), Align2::RIGHT_BOTTOM, text, font.clone(), ink.soft);
        painter.text(rect.left_top(), Align2::CENTER_BOTTOM, "0", font, ink.soft);
    }

    /// The line at the layer shown, with what the curve says there.
    fn layer_line(&self, painter: &Painter, scale: &Scale, rest: Rect, model: &Model) {
        let (layer, ink) = (model.cursor.layer, &model.ink);
        let thickness = model.layer_thickness_mm();
        let y = scale.y((f64::from(layer) + 0.5) * thickness);
        let line = Stroke::new(1.25, ink.accent);
        let from = pos2(scale.area.left() - 6.0, y);
        painter.line_segment([from, pos2(rest.right() - 4.0, y)], line);
        let sums = model.results.survey.layers.get(layer as usize);
        let value = sums.map_or(String::new(), |sums| {
            format!(" · {:.1} {}", self.curve.of(sums), self.curve.unit())
        });
        let text = format!("layer {layer} · {:.2} mm{value}", (f64::from(layer) + 0.5) * thickness);
        let below = y - 18.0 < rest.top();
        let (align, dy) =
            if below { (Align2::RIGHT_TOP, 3.0) } else { (Align2::RIGHT_BOTTOM, -3.0) };
        let font = FontId::proportional(CAPTION + 1.0);
        let galley = painter.layout_no_wrap(text, font, ink.accent);
        let place = align.anchor_size(pos2(rest.right() - 8.0, y + dy), galley.size());
        painter.rect_filled(place.expand(2.0), 2.0, ink.sheet);
        painter.galley(place.min, galley, ink.accent);
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

/// The smallest of 1, 2, 5 × a power of ten that is not below `least`.
pub(crate) fn nice_step(least: f64) -> f64 {
    let power = 10.0_f64.powf(least.max(1e-9).log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|factor| factor * power);
    steps.into_iter().find(|step| *step >= least).unwrap_or(steps[3])
}

/// A sentence in the middle of an empty view.
pub(crate) fn empty(ui: &Ui, rect: Rect, says: &str, ink: &Ink) {
    let font = FontId::proportional(crate::widgets::theme::BODY);
    let width = (rect.width() - 40.0).max(80.0);
    let galley = ui.painter().layout(says.to_owned(), font, ink.soft, width);
    ui.painter().galley(rect.center() - galley.size() / 2.0, galley, ink.soft);
}

#[cfg(test)]
mod tests {
    use super::nice_step;

    #[test]
    fn steps_of_a_ruler_are_round() {
        let steps = [0.03, 0.05, 0.7, 1.0, 11.0, 34.0].map(nice_step);
        let expected = [0.05, 0.05, 1.0, 1.0, 20.0, 50.0];
        for (step, expected) in steps.into_iter().zip(expected) {
            assert!((step - expected).abs() < 1e-9, "{step} {expected}");
        }
    }
}
