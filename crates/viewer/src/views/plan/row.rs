//! The rows above the plan: which elements are drawn, each with a sample of its line, and what colour shows.

use super::elements::{self, Elements, LineStyle};
use super::quantity::{Legend, Quantity};
use crate::state::actions::Action;
use crate::state::commands::Command;
use crate::widgets::format::number;
use crate::widgets::icons::{self, Icon};
use crate::widgets::theme::{CAPTION, Ink};
use egui::{
    Align2, Color32, FontId, Painter, Rect, Response, RichText, Role, Sense, Stroke, Ui,
    WidgetInfo, pos2, vec2,
};
use render::plan::{ColourScale, Dash};

/// An element: its name, what it is, its switch, and how it is drawn.
type Entry = (&'static str, &'static str, fn(&mut Elements) -> &mut bool, Sample);

#[derive(Clone, Copy)]
enum Sample {
    Tint,
    Line(LineStyle, fn(&Ink) -> Color32),
}

const ENTRIES: [Entry; 7] = [
    ("Section", "What is to be fused, and its boundary", |e| &mut e.section, Sample::Tint),
    (
        "Contours",
        "Exposures along the boundary",
        |e| &mut e.contours,
        Sample::Line(elements::CONTOUR, |ink| ink.ink),
    ),
    (
        "Hatch",
        "Parallel exposures that fill",
        |e| &mut e.hatch,
        Sample::Line(elements::HATCH, |ink| ink.soft),
    ),
    (
        "Centrelines",
        "Single exposures along walls too thin for contours",
        |e| &mut e.centrelines,
        Sample::Line(elements::CENTRELINE, |ink| ink.ink),
    ),
    (
        "Jumps",
        "Ways from one path to the next, laser off",
        |e| &mut e.jumps,
        Sample::Line(elements::JUMP, |ink| ink.soft),
    ),
    (
        "Run-ins",
        "Stretches at constant speed before and after a path, laser off",
        |e| &mut e.runs,
        Sample::Line(elements::RUN, |ink| ink.faint),
    ),
    (
        "Neighbours",
        "Boundaries of the layers below (dashed) and above (dotted)",
        |e| &mut e.neighbours,
        Sample::Line(elements::BELOW, |ink| ink.faint),
    ),
];

/// Which elements are drawn; changes `elements`.
pub(super) fn elements_row(ui: &mut Ui, elements: &mut Elements, ink: &Ink) {
    ui.spacing_mut().item_spacing.x = 0.0;
    for (name, says, of, sample) in ENTRIES {
        let on = of(elements);
        if toggle(ui, name, *on, sample, ink).on_hover_text(says).clicked() {
            *on = !*on;
        }
    }
}

/// Whether the outline of the melt is drawn; changes `on`.
pub(super) fn outline_switch(ui: &mut Ui, on: &mut bool, ink: &Ink) {
    let sample = Sample::Line(elements::MELT, |ink| ink.ink);
    let says = "Where the powder melts as deep as one layer, as far as the dose tells, and how far \
                that lies from the section";
    if toggle(ui, "Predicted outline", *on, sample, ink).on_hover_text(says).clicked() {
        *on = !*on;
    }
}

/// A word with a sample of its line; struck out while it is not drawn.
fn toggle(ui: &mut Ui, name: &str, on: bool, sample: Sample, ink: &Ink) -> Response {
    let font = FontId::proportional(CAPTION + 0.5);
    let colour = if on { ink.ink } else { ink.soft };
    let galley = ui.painter().layout_no_wrap(name.to_owned(), font, colour);
    let size = vec2(galley.size().x + 29.0, 20.0);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, on, name));
    let painter = ui.painter();
    if response.hovered() || response.has_focus() {
        let ring = Stroke::new(1.0, ink.faint);
        painter.rect(rect, 2.0, ink.well, ring, egui::StrokeKind::Inside);
    }
    let strength = if on { 1.0 } else { 0.25 };
    let line = Rect::from_min_max(
        pos2(rect.left() + 3.0, rect.top()),
        pos2(rect.left() + 18.0, rect.bottom()),
    );
    match sample {
        Sample::Tint => {
            let box_ = Rect::from_center_size(line.center(), vec2(14.0, 9.0));
            let edge = Stroke::new(0.75, ink.soft.gamma_multiply(strength));
            let fill = ink.fused.gamma_multiply(strength);
            painter.rect(box_, 0.0, fill, edge, egui::StrokeKind::Inside);
        }
        Sample::Line((width, dash), colour) => {
            let stroke = Stroke::new(width, colour(ink).gamma_multiply(strength));
            dashed(painter, line, dash, stroke);
        }
    }
    let text = pos2(rect.left() + 23.0, rect.center().y - galley.size().y / 2.0);
    let struck = rect.with_min_x(text.x).with_max_x(text.x + galley.size().x);
    painter.galley(text, galley, colour);
    if !on {
        painter.hline(struck.x_range(), rect.center().y + 1.0, Stroke::new(1.0, ink.soft));
    }
    response
}

/// A level line through a rectangle, with a dash.
fn dashed(painter: &Painter, rect: Rect, dash: Dash, stroke: Stroke) {
    let y = rect.center().y;
    if dash == Dash::SOLID {
        painter.hline(rect.x_range(), y, stroke);
        return;
    }
    let mut x = rect.left();
    for (index, length) in dash.0.iter().cycle().take(24).enumerate() {
        let end = (x + length).min(rect.right());
        if index % 2 == 0 && end > x {
            painter.hline(x..=end, y, stroke);
        }
        x += length;
    }
}

/// What colour shows, its legend, and the buttons on the right.
pub(super) fn colour_row(
    ui: &mut Ui,
    quantity: &mut Quantity,
    legend: &Legend,
    scale: &ColourScale,
    measuring: bool,
    ink: &Ink,
    actions: &mut Vec<Action>,
) {
    let caption = |text: &str| RichText::new(text.to_owned()).size(CAPTION).color(ink.soft);
    let label = ui.label(caption("Colour shows"));
    let combo = egui::ComboBox::from_id_salt("colour shows")
        .selected_text(quantity.word())
        .width(118.0)
        .show_ui(ui, |ui| {
            for value in Quantity::ALL {
                ui.selectable_value(quantity, value, value.word());
            }
        });
    combo.response.labelled_by(label.id).on_hover_text("The one quantity that colour stands for");
    let right = 56.0;
    match legend {
        Legend::None => {}
        Legend::Range([low, high]) => {
            ui.label(caption(&number(*low)));
            let width = (ui.available_width() - right - 90.0).clamp(24.0, 160.0);
            let (rect, response) = ui.allocate_exact_size(vec2(width, 10.0), Sense::hover());
            let says = format!(
                "Legend: {} from {} to {} {}",
                quantity.word(),
                number(*low),
                number(*high),
                quantity.unit()
            );
            response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &says));
            gradient(ui.painter(), rect, scale, low < high, ink);
            response.on_hover_text(says);
            ui.label(caption(&format!("{} {}", number(*high), quantity.unit())));
        }
        Legend::Names(names) => names_legend(ui, names, scale, right, ink),
    }
    ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
        let button = |ui: &mut Ui, icon, name: &str| icons::button(ui, icon, name, true, ink);
        if button(ui, Icon::Fit, "Fit the plan").clicked() {
            actions.push(Action::FitPlan);
        }
        let name = if measuring { "Stop measuring" } else { "Measure" };
        let measure = button(ui, Icon::Measure, name);
        if measuring {
            let frame = Stroke::new(1.5, ink.accent);
            ui.painter().rect_stroke(measure.rect, 2.0, frame, egui::StrokeKind::Inside);
        }
        if measure.clicked() {
            actions.push(Action::Command(Command::Measure));
        }
    });
}

/// Names with their colours, as many as there is room for.
fn names_legend(
    ui: &mut Ui,
    names: &[(usize, String)],
    scale: &ColourScale,
    right: f32,
    ink: &Ink,
) {
    for (index, (place, name)) in names.iter().enumerate() {
        let font = FontId::proportional(CAPTION);
        let galley = ui.painter().layout_no_wrap(name.clone(), font.clone(), ink.ink);
        let hidden = names.len() - index;
        if galley.size().x + 22.0 > ui.available_width() - right - 30.0 {
            let rest: Vec<&str> = names[index..].iter().map(|(_, name)| name.as_str()).collect();
            let more = RichText::new(format!("+ {hidden}")).size(CAPTION).color(ink.soft);
            ui.label(more).on_hover_text(rest.join("\n"));
            return;
        }
        let size = vec2(galley.size().x + 16.0, 20.0);
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        let says = format!("Legend: {name}");
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &says));
        let [r, g, b, _] = scale.colours[place % 256];
        let swatch = Rect::from_center_size(rect.left_center() + vec2(6.0, 0.0), vec2(10.0, 10.0));
        ui.painter().rect_filled(swatch, 0.0, Color32::from_rgb(r, g, b));
        ui.painter().text(
            pos2(swatch.right() + 4.0, rect.center().y),
            Align2::LEFT_CENTER,
            name,
            font,
            ink.ink,
        );
    }
}

/// The scale from its lowest to its highest colour; one colour where all values are the same.
fn gradient(painter: &Painter, rect: Rect, scale: &ColourScale, ranges: bool, ink: &Ink) {
    const STRIPS: usize = 48;
    let width = rect.width() / STRIPS as f32;
    for strip in 0..STRIPS {
        let place = if ranges { (strip as f64 + 0.5) / STRIPS as f64 } else { 0.5 };
        let [r, g, b, _] = scale.at(place);
        let left = rect.left() + strip as f32 * width;
        let part = Rect::from_min_max(pos2(left, rect.top()), pos2(left + width, rect.bottom()));
        painter.rect_filled(part, 0.0, Color32::from_rgb(r, g, b));
    }
    painter.rect_stroke(rect, 0.0, Stroke::new(0.75, ink.soft), egui::StrokeKind::Outside);
}
