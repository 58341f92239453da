//! How a search for an arrangement comes along: the height of the best so far against time.

use crate::state::actions::Action;
use crate::state::model::Model;
use crate::state::results::NestingStep;
use crate::widgets::format::duration;
use crate::widgets::theme::CAPTION;
use egui::{Align2, FontId, Painter, Pos2, Rect, RichText, Sense, Shape, Stroke, Ui, pos2, vec2};
use std::time::Duration;

const HEIGHT: f32 = 84.0;

/// The curve, what the best arrangement is like, and, while the search goes on, the button that ends it.
pub(super) fn show(ui: &mut Ui, model: &Model, actions: &mut Vec<Action>) {
    let steps = &model.results.nesting_steps;
    let Some(last) = steps.last() else { return };
    let since_s = model.results.nesting_since.map(|since| since.elapsed().as_secs_f64());
    let until_s = since_s.unwrap_or(last.at_s).max(last.at_s);
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::hover());
    let says = figures(last);
    let info = says.clone();
    response.widget_info(move || {
        egui::WidgetInfo::labeled(egui::Role::Image, true, format!("Height against time: {info}"))
    });
    draw(&ui.painter().with_clip_rect(rect.expand(2.0)), rect, steps, until_s, model);
    ui.label(RichText::new(says).size(CAPTION).color(model.ink.soft));
    if since_s.is_some() {
        ui.ctx().request_repaint_after(Duration::from_millis(500));
        let hint = "Ends the search. The best arrangement so far stays, made exact.";
        if ui.button("Stop, keep this one").on_hover_text(hint).clicked() {
            actions.push(Action::StopNesting);
        }
    }
}

fn figures(step: &NestingStep) -> String {
    format!(
        "{:.1} mm high, parts fill {:.1} %, {} of {} parts placed",
        step.height_mm,
        100.0 * step.density,
        step.placed,
        step.copies
    )
}

#[expect(clippy::cast_possible_truncation, reason = "points of the screen")]
fn draw(painter: &Painter, rect: Rect, steps: &[NestingStep], until_s: f64, model: &Model) {
    let ink = &model.ink;
    let font = FontId::proportional(CAPTION);
    let area = Rect::from_min_max(rect.min + vec2(4.0, 18.0), rect.max - vec2(8.0, 18.0));
    let heights = || steps.iter().map(|step| step.height_mm);
    let (low, high) = (heights().fold(f64::INFINITY, f64::min), heights().fold(0.0, f64::max));
    let span = (high - low).max(1e-3 * high).max(1e-9);
    let end_s = until_s.max(1e-3);
    let at = |time_s: f64, height_mm: f64| -> Pos2 {
        let x = area.left() + (time_s / end_s) as f32 * area.width();
        pos2(x, area.bottom() - ((height_mm - low) / span) as f32 * area.height())
    };
    let axis = Stroke::new(1.0, ink.faint);
    painter.line_segment(
        [area.left_bottom() + vec2(0.0, 4.0), area.right_bottom() + vec2(0.0, 4.0)],
        axis,
    );
    let mut line: Vec<Pos2> = Vec::with_capacity(2 * steps.len() + 1);
    for step in steps {
        if let Some(before) = line.last().copied() {
            line.push(pos2(at(step.at_s, low).x, before.y)); // it stays as high until the next is found
        }
        line.push(at(step.at_s, step.height_mm));
    }
    if let Some(last) = steps.last() {
        line.push(at(end_s, last.height_mm));
    }
    painter.add(Shape::line(line, Stroke::new(1.5, ink.ink)));
    for step in steps {
        painter.circle_filled(at(step.at_s, step.height_mm), 2.0, ink.ink);
    }
    let first = steps.first().map_or(high, |step| step.height_mm);
    let text =
        |at: Pos2, align, says: String| painter.text(at, align, says, font.clone(), ink.soft);
    text(rect.left_top(), Align2::LEFT_TOP, format!("height, from {first:.1} mm"));
    text(rect.left_bottom(), Align2::LEFT_BOTTOM, "0 s".to_owned());
    text(rect.right_bottom(), Align2::RIGHT_BOTTOM, duration(end_s));
}
