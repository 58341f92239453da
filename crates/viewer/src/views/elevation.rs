//! The build from the side: silhouettes, a curve along Z, and the cursor that chooses the layer.

#![expect(clippy::cast_possible_truncation, reason = "f64 mm become f32 points of the screen")]

use crate::actions::{Action, Selecting};
use crate::model::{Model, PlacementRef};
use crate::results::LayerSums;
use crate::theme::{CAPTION, Ink};
use egui::{
    Align2, Color32, FontId, Mesh, Painter, Pos2, Rect, Response, Role, Sense, Shape, Stroke, Ui,
    WidgetInfo, pos2, vec2,
};

/// From where the build is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
enum From {
    /// X to the right.
    #[default]
    Front,
    /// Y to the right, seen from the +X side.
    Right,
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

    fn z(&self, y: f32) -> f64 {
        f64::from((self.area.bottom() - y) / self.mm)
    }
}

impl ElevationView {
    /// Shows the build, then the whole build space, by turns.
    pub(crate) fn fit(&mut self) {
        self.close = false;
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
        let pale = model.results.build.as_ref().is_some_and(|b| b.revision != model.revision());
        self.silhouettes(&painter, &scale, model, if pale { 0.45 } else { 1.0 });
        self.draw_curve(&painter, &scale, model);
        self.cursor(ui, &scale, rest, model, actions);
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
                let combo = egui::ComboBox::from_id_salt("curve along Z")
                    .selected_text(words.map_or("", |(_, word)| word))
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

    /// Each placement as its extent in every layer; as its box until the layers are known.
    fn silhouettes(&self, painter: &Painter, scale: &Scale, model: &Model, strength: f32) {
        let Some(built) = &model.results.build else { return };
        let thickness = model.layer_thickness_mm();
        let survey = &model.results.survey;
        let axis = usize::from(self.from == From::Right);
        let rows = built.build.placements().zip(&built.build.header.placements).enumerate();
        for (row, ((part, copy), placement)) in rows {
            let chosen = model.selection.contains(&PlacementRef { part, copy });
            let ink = if chosen { model.ink.accent } else { model.ink.ink };
            let line = Stroke::new(if chosen { 1.5 } else { 1.0 }, ink.gamma_multiply(strength));
            let fill = if chosen { model.ink.accent_tint } else { model.ink.fused };
            let fill = fill.gamma_multiply(0.75 * strength);
            let extents = survey.extents.get(row).map(Vec::as_slice).unwrap_or_default();
            if extents.is_empty() {
                if let Some([low, high]) = placement.bounds_mm {
                    let rect = Rect::from_min_max(
                        pos2(scale.x(low[axis]), scale.y(high[2])),
                        pos2(scale.x(high[axis]), scale.y(low[2])),
                    );
                    painter.rect(rect, 0.0, fill, line, egui::StrokeKind::Inside);
                }
                continue;
            }
            let at = |extent: &crate::results::Extent, up: f64| {
                let y = scale.y((f64::from(extent.layer) + up) * thickness);
                let [low, high] = if axis == 0 { extent.x_mm } else { extent.y_mm };
                [pos2(scale.x(f64::from(low)), y), pos2(scale.x(f64::from(high)), y)]
            };
            outline(painter, extents, at, fill, line);
        }
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

    /// The line that chooses the layer; it can be dragged, in the whole view.
    fn cursor(
        &self,
        ui: &mut Ui,
        scale: &Scale,
        rest: Rect,
        model: &Model,
        actions: &mut Vec<Action>,
    ) {
        let response = ui.interact(rest, ui.scope_id().with("layer"), Sense::click_and_drag());
        let count = model.layer_count();
        let (layer, ink) = (model.cursor.layer, &model.ink);
        response.widget_info(|| {
            WidgetInfo::slider(true, f64::from(layer), format!("Layer, of {count}"))
        });
        if count == 0 {
            return;
        }
        let thickness = model.layer_thickness_mm();
        let layer_at = |y: f32| {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "saturates"
            )]
            let layer = (scale.z(y) / thickness).floor().max(0.0) as u32;
            layer.min(count - 1)
        };
        if let Some(at) = response.interact_pointer_pos()
            && (response.dragged() || response.clicked())
        {
            actions.push(Action::ShowLayer(layer_at(at.y)));
        }
        if response.double_clicked()
            && let Some(at) = response.interact_pointer_pos()
        {
            self.pick(at, scale, model, actions);
        }
        wheel(ui, &response, layer, actions);
        let y = scale.y((f64::from(layer) + 0.5) * thickness);
        let line = Stroke::new(1.25, ink.accent);
        ui.painter()
            .line_segment([pos2(scale.area.left() - 6.0, y), pos2(rest.right() - 4.0, y)], line);
        let sums = model.results.survey.layers.get(layer as usize);
        let value = sums.map_or(String::new(), |sums| format!(" · {:.1}", self.curve.of(sums)));
        let text = format!("layer {layer} · {:.2} mm{value}", (f64::from(layer) + 0.5) * thickness);
        let below = y - 18.0 < rest.top();
        let (align, dy) =
            if below { (Align2::RIGHT_TOP, 3.0) } else { (Align2::RIGHT_BOTTOM, -3.0) };
        let font = FontId::proportional(CAPTION + 1.0);
        let galley = ui.painter().layout_no_wrap(text, font, ink.accent);
        let place = align.anchor_size(pos2(rest.right() - 8.0, y + dy), galley.size());
        ui.painter().rect_filled(place.expand(2.0), 2.0, ink.sheet);
        ui.painter().galley(place.min, galley, ink.accent);
    }

    /// Chooses the placement under the pointer.
    fn pick(&self, at: Pos2, scale: &Scale, model: &Model, actions: &mut Vec<Action>) {
        let Some(built) = &model.results.build else { return };
        let axis = usize::from(self.from == From::Right);
        let (across, z) = (f64::from((at.x - scale.middle) / scale.mm), scale.z(at.y));
        let rows = built.build.placements().zip(&built.build.header.placements);
        let hit = rows.filter_map(|((part, copy), row)| {
            let [low, high] = row.bounds_mm?;
            let inside =
                (low[axis]..=high[axis]).contains(&across) && (low[2]..=high[2]).contains(&z);
            inside.then_some(PlacementRef { part, copy })
        });
        let hit: Vec<PlacementRef> = hit.take(1).collect();
        actions.push(Action::Select(Selecting::Only, hit));
    }
}

/// The wheel steps through the layers.
fn wheel(ui: &Ui, response: &Response, layer: u32, actions: &mut Vec<Action>) {
    if !response.hovered() {
        return;
    }
    let turned = ui.input(|input| input.smooth_scroll_delta().y);
    if turned.abs() > 0.5 {
        let step = (turned.abs() / 8.0).ceil().min(20.0);
        #[expect(clippy::cast_sign_loss, reason = "1 to 20")]
        let step = step as u32;
        let layer = if turned > 0.0 { layer + step } else { layer.saturating_sub(step) };
        actions.push(Action::ShowLayer(layer));
    }
}

/// A shape given by its extent in every layer: bands for the fill, a line around them. Layers that
/// fall on the same row of the screen are drawn once.
fn outline(
    painter: &Painter,
    extents: &[crate::results::Extent],
    at: impl Fn(&crate::results::Extent, f64) -> [Pos2; 2],
    fill: Color32,
    line: Stroke,
) {
    let mut mesh = Mesh::default();
    let (mut left, mut right): (Vec<Pos2>, Vec<Pos2>) = (Vec::new(), Vec::new());
    let close = |left: &mut Vec<Pos2>, right: &mut Vec<Pos2>| {
        right.reverse();
        left.append(right);
        if left.len() > 2 {
            painter.add(Shape::closed_line(std::mem::take(left), line));
        }
        left.clear();
    };
    let mut last: Option<(u32, f32)> = None;
    for extent in extents {
        let ([a, b], [c, d]) = (at(extent, 0.0), at(extent, 1.0));
        let gap = last.is_some_and(|(layer, _)| layer + 1 != extent.layer);
        if gap {
            close(&mut left, &mut right);
        }
        if !gap && last.is_some_and(|(_, y)| (y - c.y).abs() < 0.75) {
            last = last.map(|(_, y)| (extent.layer, y));
            continue;
        }
        let from = if gap || last.is_none() { a.y } else { last.map_or(a.y, |(_, y)| y) };
        mesh.add_colored_rect(Rect::from_min_max(pos2(a.x, c.y), pos2(b.x, from)), fill);
        left.extend([pos2(a.x, from), c]);
        right.extend([pos2(b.x, from), d]);
        last = Some((extent.layer, c.y));
    }
    painter.add(Shape::mesh(mesh));
    close(&mut left, &mut right);
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
    let font = FontId::proportional(crate::theme::BODY);
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
